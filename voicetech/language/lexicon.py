"""The vocabulary of the trade as one frozen record, built from plain mappings.

The words themselves are in `grammars/*.yaml`; this module gives them their shape and refuses what it cannot
read. It opens no file.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

from voicetech.language.automaton import compile_words
from voicetech.language.meaning import Command, DangerKind
from voicetech.language.phrases import Choice, Phrase, Repeat, Word, WordAutomaton
from voicetech.language.templates import TemplateError, one_of, phrase_from, words_phrase
from voicetech.units import Unit

Words = tuple[str, ...]
_FRACTION_DIGITS = 6
TYPED_NUMBER = "#"
"""What stands for any typed number where only its being a number matters."""


class LexiconError(ValueError):
    """A vocabulary that cannot be used; the message names the file, the entry and what to do."""


@dataclass(frozen=True, slots=True)
class Sayings:
    """Phrases of one meaning: the tree of what may be said, and every sentence that is understood."""

    spoken: Phrase | None
    understood: WordAutomaton


@dataclass(frozen=True, slots=True)
class NumberWord:
    """What one word means in a number.

    `role` is digit, teen, tens, hundred, thousand, large, point, comma, minus, double, triple, fraction or scale.
    `spoken` words are in the recogniser's grammar; `sounds_like` marks everyday words that only sound like it;
    `radio` marks procedure words, whose speaker spells numbers digit by digit.
    """

    role: str
    value: Decimal
    spoken: bool = False
    sounds_like: bool = False
    radio: bool = False


@dataclass(frozen=True, slots=True)
class UnitWord:
    """A unit and the power of ten its word carries ("millivolts": V and a thousandth)."""

    unit: Unit
    scale: Decimal
    spoken: bool
    sounds_like: bool = False


@dataclass(frozen=True, slots=True)
class DangerWords:
    """Danger phrases of each kind, what softens them, and what only looks like them.

    `anywhere` phrases are looked for at every word, `whole` ones are the whole utterance. `alone` are the words that
    are a danger phrase by themselves.
    """

    anywhere: Mapping[DangerKind, WordAutomaton]
    whole: Mapping[DangerKind, WordAutomaton]
    spoken: Phrase
    harmless: WordAutomaton
    alarms: WordAutomaton
    doubtful: WordAutomaton
    softeners: Mapping[str, frozenset[str]]
    alone: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A question to the program, by the word it starts with and a word it has besides (empty: any)."""

    command: Command
    starts: frozenset[str]
    has: frozenset[str]


@dataclass(frozen=True, slots=True)
class Lexicon:
    """Everything the text parser and the spoken grammar know about words."""

    numbers: Mapping[Words, NumberWord]
    units: Mapping[str, UnitWord]
    commands: Mapping[Command, WordAutomaton]
    commands_spoken: Phrase
    danger: DangerWords
    states: Mapping[str, Sayings]
    states_spoken: Phrase
    yes: Sayings
    no: Sayings
    doubtful_answers: frozenset[str]
    fillers: Mapping[str, tuple[Words, ...]]
    trailing: Mapping[str, tuple[Words, ...]]
    leads: WordAutomaton
    approximations: Mapping[Words, str]
    unsettled: WordAutomaton
    no_number: WordAutomaton
    repairs: Mapping[str, frozenset[Words]]
    not_measured: frozenset[Words]
    times: frozenset[Words]
    other_units: frozenset[str]
    noise: frozenset[Words]
    legs: Mapping[Words, str]
    points: frozenset[str]
    places: frozenset[str]
    conducting: frozenset[str]
    ordinals: frozenset[str]
    joins: frozenset[Words]
    each: frozenset[Words]
    all_of_them: frozenset[Words]
    circumstances: "Circumstances"
    findings: "Findings"
    contractions: Mapping[str, str]
    cues: "Cues"
    known: frozenset[str]
    """Every word of the vocabulary."""
    letters: frozenset[str] = frozenset()
    """Letters beside a to z, where another language than English is typed."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """Words that tell where, when and with what a result was read, behind it.

    `heads` begin them, `alone` are enough by themselves, none of `open_ends` ends them; words of `only_after` count
    only behind one of theirs. `rivals` are positions and states that exclude each other, `parts` parts and places that
    do, each by the words that name it.
    """

    heads: frozenset[str]
    alone: frozenset[str]
    words: frozenset[str]
    open_ends: frozenset[str]
    before_one: frozenset[str]
    lasting: frozenset[str]
    taken_off: frozenset[str]
    counted: frozenset[str]
    ranges: frozenset[str]
    only_after: Mapping[str, frozenset[str]]
    rivals: tuple[Mapping[str, frozenset[str]], ...]
    parts: tuple[Mapping[str, frozenset[str]], ...]


@dataclass(frozen=True, slots=True)
class Findings:
    """Words of what is seen: parts, what is wrong with them, what is right with them."""

    parts: frozenset[str]
    wrong: WordAutomaton
    right: WordAutomaton
    smells: WordAutomaton
    spoken: Phrase
    """What the recogniser listens for when something is looked at."""
    negations: frozenset[str]
    small: frozenset[str]
    left_out: frozenset[str]
    leading: frozenset[str]
    after_no: frozenset[str]
    contrasts: WordAutomaton


@dataclass(frozen=True, slots=True)
class Cues:
    """Small sets of words that steer how numbers side by side are read."""

    decades: Mapping[str, int]
    moving: frozenset[Words]
    leading: frozenset[str]
    agreeing: frozenset[Words]
    none_of_it: WordAutomaton
    direct: frozenset[Words]
    alternating: frozenset[Words]
    refusing: frozenset[Words]
    notes: frozenset[Words]
    reasons: frozenset[Words]
    holding: frozenset[Words]
    skipping: frozenset[Words]
    clauses: frozenset[str]
    going: frozenset[Words]
    openings: WordAutomaton
    endings: WordAutomaton
    questions: tuple["Asked", ...]
    opposites: tuple[tuple[str, str], ...]
    echoes: tuple["Echo", ...]


@dataclass(frozen=True, slots=True)
class Echo:
    """What a question asks after by a verb ("does it heat"), and how it is answered with one ("it gets hot")."""

    asked: WordAutomaton
    not_asked: frozenset[str]
    """Words of a question that make a yes of it mean something else."""
    yes: WordAutomaton
    no: WordAutomaton


Raw = Mapping[str, object]


def lexicon_from(files: Mapping[str, Raw]) -> Lexicon:
    """Return the lexicon of the vocabularies, keyed by file name without its ending.

    Needs numbers, units, commands, danger, answers, states, speech and findings. Raises LexiconError for a
    missing file or entry, a template that cannot be read, an unknown command, unit or kind, and a phrase that
    means two commands.
    """
    for needed in ("numbers", "units", "commands", "danger", "answers", "states", "speech", "findings"):
        if needed not in files:
            raise LexiconError(f"grammars/{needed}.yaml is missing; it holds part of the vocabulary")
    numbers = _numbers(_Entry("grammars/numbers.yaml", files["numbers"]))
    any_number = Repeat(Choice((Word(TYPED_NUMBER), *map(words_phrase, map(" ".join, numbers)))), 1, 5)
    commands, commands_spoken = _commands(_Entry("grammars/commands.yaml", files["commands"], {"number": any_number}))
    answers = _Entry("grammars/answers.yaml", files["answers"])
    speech = _Entry("grammars/speech.yaml", files["speech"])
    labels = speech.within("labels")
    plain = frozenset(word for raw in files.values() for word in _all_words(raw))
    states, states_spoken = _states(_Entry("grammars/states.yaml", files["states"]))
    found = _Entry("grammars/findings.yaml", files["findings"])
    return Lexicon(
        numbers=numbers,
        units=_units(_Entry("grammars/units.yaml", files["units"])),
        commands=commands,
        commands_spoken=commands_spoken,
        danger=_danger(_Entry("grammars/danger.yaml", files["danger"])),
        states=states,
        states_spoken=states_spoken,
        yes=_sayings(answers.within("yes")),
        no=_sayings(answers.within("no")),
        doubtful_answers=frozenset(answers.within("yes").texts("doubtful") + answers.within("no").texts("doubtful")),
        fillers=_by_first(_split(answers.texts("fillers"))),
        trailing=_by_first(_split(answers.texts("trailing"))),
        leads=answers.understood("leads"),
        approximations={
            words: kind
            for kind in ("about", "under", "over", "below", "above", "unstable")
            for words in _split(
                answers.texts("unstable") if kind == "unstable" else answers.within("approximations").texts(kind)
            )
        },
        unsettled=answers.understood("unsettled"),
        no_number=answers.understood("no_number"),
        repairs={
            key: frozenset(_split(speech.within("repair").texts(key)))
            for key in ("inside", "start", "alone", "explicit")
        },
        not_measured=frozenset(_split(speech.texts("not_measured"))),
        times=frozenset(_split(speech.texts("time"))),
        other_units=frozenset(speech.texts("other_units")),
        noise=frozenset(_split(speech.texts("noise"))),
        legs={tuple(words.split()): str(label) for words, label in labels.within("legs").raw.items()},
        points=frozenset(labels.texts("points")),
        places=frozenset(labels.texts("places") + found.texts("parts")),
        conducting=frozenset(labels.texts("conducting")),
        ordinals=frozenset(labels.texts("ordinals")),
        joins=frozenset(_split(labels.texts("joins"))),
        each=frozenset(_split(labels.texts("each"))),
        all_of_them=frozenset(_split(labels.texts("all"))),
        circumstances=_circumstances(speech.within("circumstances")),
        findings=Findings(
            parts=frozenset(found.texts("parts")),
            wrong=found.understood("wrong"),
            right=found.understood("right"),
            smells=found.understood("smells"),
            spoken=one_of([*found.phrases("say_right"), *found.phrases("say_wrong")]),
            negations=frozenset(found.texts("negations")),
            small=frozenset(found.texts("small")),
            left_out=frozenset(found.texts("left_out")),
            leading=frozenset(found.texts("leading")),
            after_no=frozenset(found.texts("after_no")),
            contrasts=found.understood("contrasts"),
        ),
        contractions={key: str(value) for key, value in speech.within("contractions").raw.items()},
        cues=_cues(speech.within("cues")),
        known=plain,
    )


@dataclass(frozen=True, slots=True)
class _Entry:
    """One mapping of a vocabulary file, with its place for error messages."""

    place: str
    raw: Raw
    names: Mapping[str, Phrase] = field(default_factory=dict)

    def within(self, key: str) -> "_Entry":
        value = self.raw.get(key)
        if not isinstance(value, Mapping):
            raise LexiconError(f"{self.place}: {key!r} must be a mapping; it is {value!r}")
        return _Entry(f"{self.place}: {key}", {str(k): v for k, v in value.items()}, self.names)

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.raw.get(key, ())
        if not isinstance(value, (list, tuple)):
            raise LexiconError(f"{self.place}: {key!r} must be a list of words; it is {value!r}")
        for text in value:
            if not isinstance(text, str):
                raise LexiconError(f"{self.place}: {key}: {text!r} is not text; put it in quotes")
        return tuple(value)

    def phrases(self, key: str) -> tuple[Phrase, ...]:
        try:
            return tuple(phrase_from(text, self.names) for text in self.texts(key))
        except TemplateError as error:
            raise LexiconError(f"{self.place}: {key}: {error}") from error

    def understood(self, *keys: str) -> WordAutomaton:
        phrases = [phrase for key in keys for phrase in self.phrases(key)]
        if not phrases:
            raise LexiconError(f"{self.place}: no phrases under {' or '.join(keys)}")
        return compile_words(one_of(phrases))


def _all_words(value: object) -> Iterable[str]:
    if isinstance(value, str):
        yield from re.findall(r"[^\W\d_]+(?:'[^\W\d_]+)*", value)
    elif isinstance(value, Mapping):
        for key, part in value.items():
            yield from _all_words(key)
            yield from _all_words(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from _all_words(part)


def _cues(entry: _Entry) -> Cues:
    return Cues(
        decades={word: int(str(value)) for word, value in entry.within("decades").raw.items()},
        moving=frozenset(_split(entry.texts("moving"))),
        leading=frozenset(entry.texts("leading")),
        agreeing=frozenset(_split(entry.texts("agreeing"))),
        none_of_it=entry.understood("none_of_it"),
        direct=frozenset(_split(entry.texts("direct"))),
        alternating=frozenset(_split(entry.texts("alternating"))),
        refusing=frozenset(_split(entry.texts("refusing"))),
        notes=frozenset(_split(entry.texts("notes"))),
        reasons=frozenset(_split(entry.texts("reasons"))),
        holding=frozenset(_split(entry.texts("holding"))),
        skipping=frozenset(_split(entry.texts("skipping"))),
        clauses=frozenset(entry.texts("clauses")),
        going=frozenset(_split(entry.texts("going"))),
        openings=entry.understood("openings"),
        endings=entry.understood("endings"),
        questions=_questions(entry),
        opposites=_opposites(entry),
        echoes=_echoes(entry),
    )


def _circumstances(entry: _Entry) -> Circumstances:
    only_after = entry.within("only_after")
    return Circumstances(
        heads=frozenset(entry.texts("heads")),
        alone=frozenset(entry.texts("alone")),
        words=frozenset(entry.texts("words")),
        open_ends=frozenset(entry.texts("open_ends")),
        before_one=frozenset(entry.texts("before_one")),
        lasting=frozenset(entry.texts("lasting")),
        taken_off=frozenset(entry.texts("taken_off")),
        counted=frozenset(entry.texts("counted")),
        ranges=frozenset(entry.texts("ranges")),
        only_after={str(word): frozenset(only_after.texts(str(word))) for word in only_after.raw},
        rivals=_rivals(entry, "rivals"),
        parts=_rivals(entry, "parts"),
    )


def _rivals(entry: _Entry, key: str) -> tuple[Mapping[str, frozenset[str]], ...]:
    listed = entry.raw.get(key)
    if not isinstance(listed, list) or any(not isinstance(each, dict) for each in listed):
        raise LexiconError(f"{entry.place}: {key!r} must be a list of what excludes each other, each with its words")
    rivals = [_Entry(f"{entry.place}: {key}", each) for each in listed]
    return tuple({str(name): frozenset(each.texts(str(name))) for name in each.raw} for each in rivals)


def _command(name: object, place: str) -> Command:
    try:
        return Command(str(name))
    except ValueError:
        known = ", ".join(Command)
        raise LexiconError(f"{place}: unknown command {name!r}; known: {known}") from None


def _questions(entry: _Entry) -> tuple[Asked, ...]:
    listed = entry.raw.get("questions")
    if not isinstance(listed, list):
        raise LexiconError(f"{entry.place}: 'questions' must be a list of what they start with, have and mean")
    found: list[Asked] = []
    for raw in listed:
        one = _Entry(f"{entry.place}: questions", raw)
        found.append(
            Asked(_command(raw.get("means"), one.place), frozenset(one.texts("starts")), frozenset(one.texts("has")))
        )
    return tuple(found)


def _echoes(entry: _Entry) -> tuple[Echo, ...]:
    listed = entry.raw.get("echoes")
    if not isinstance(listed, list) or any(not isinstance(each, dict) for each in listed):
        raise LexiconError(f"{entry.place}: 'echoes' must be a list of what is asked, and of yes and no to it")
    found = [_Entry(f"{entry.place}: echoes", each) for each in listed]
    return tuple(
        Echo(
            one.understood("asked"), frozenset(one.texts("not_asked")), one.understood("says_yes"),
            one.understood("says_no"),
        )
        for one in found
    )  # fmt: skip


def _opposites(entry: _Entry) -> tuple[tuple[str, str], ...]:
    pairs = entry.raw.get("pairs_of_opposites")
    if not isinstance(pairs, list) or any(not isinstance(p, list) or len(p) != 2 for p in pairs):
        raise LexiconError(f"{entry.place}: 'pairs_of_opposites' must be a list of pairs of words")
    return tuple((str(one), str(other)) for one, other in pairs)


def _split(texts: Iterable[str]) -> tuple[Words, ...]:
    return tuple(tuple(text.split()) for text in texts)


def _by_first(phrases: Iterable[Words]) -> dict[str, tuple[Words, ...]]:
    """Index phrases by their first word, the longest first."""
    index: dict[str, list[Words]] = {}
    for words in sorted(set(phrases), key=lambda w: (-len(w), w)):
        index.setdefault(words[0], []).append(words)
    return {first: tuple(group) for first, group in index.items()}


def _sayings(entry: _Entry) -> Sayings:
    spoken = entry.phrases("say")
    return Sayings(one_of(list(spoken)) if spoken else None, entry.understood("say", "read"))


def _numbers(entry: _Entry) -> dict[Words, NumberWord]:
    words: dict[Words, NumberWord] = {}

    def add(role: str, value: Decimal, source: _Entry) -> None:
        for key in ("say", "read", "radio", "sounds"):
            for text in source.texts(key):
                words[tuple(text.split())] = NumberWord(
                    role, value, spoken=key == "say", sounds_like=key == "sounds", radio=key == "radio"
                )

    for role, key in (("digit", "digits"), ("teen", "teens"), ("tens", "tens")):
        group = entry.within(key)
        for value in group.raw:
            add(role, Decimal(value), group.within(value))
    for role, power in (
        ("hundred", "100"), ("thousand", "1000"), ("point", "0"), ("minus", "-1"), ("double", "2"), ("triple", "3")
    ):  # fmt: skip
        add(role, Decimal(power), entry.within(role))
    for scale, power in (("kilo", "1000"), ("mega", "1000000"), ("milli", "0.001"), ("micro", "0.000001")):
        add("scale", Decimal(power), entry.within(scale))
    for text in entry.texts("comma"):
        words[(text,)] = NumberWord("comma", Decimal(0))
    for text in entry.texts("bare_m"):
        words[(text,)] = NumberWord("bare_m", Decimal(0))
    for text, size in entry.within("large").raw.items():
        words[(text,)] = NumberWord("large", _decimal(size, entry.place, text))
    for text, ratio in entry.within("halves").raw.items():
        above, _, below = str(ratio).partition("/")
        share = _decimal(above, entry.place, text) / _decimal(below, entry.place, text)
        exact = len(share.as_tuple().digits) <= _FRACTION_DIGITS
        words[(text,)] = NumberWord("fraction", share if exact else round(share, _FRACTION_DIGITS))
    return words


def _decimal(value: object, place: str, key: str) -> Decimal:
    try:
        return Decimal(str(value))
    except InvalidOperation:
        raise LexiconError(f"{place}: {key}: {value!r} is not a number") from None


def _units(entry: _Entry) -> dict[str, UnitWord]:
    powers = {"minute": "60", "kilo": "1000", "mega": "1000000", "milli": "0.001", "micro": "0.000001"}
    words: dict[str, UnitWord] = {}
    for code in entry.raw:
        try:
            unit = Unit(code)
        except ValueError:
            known = ", ".join(Unit)
            raise LexiconError(f"{entry.place}: unknown unit {code!r}; known: {known}") from None
        group = entry.within(code)
        scales = [(group, Decimal(1))]
        scales += [(group.within(name), Decimal(power)) for name, power in powers.items() if name in group.raw]
        for source, scale in scales:
            for key in ("say", "read", "sounds"):
                for text in source.texts(key):
                    words[text] = UnitWord(unit, scale, spoken=key == "say", sounds_like=key == "sounds")
    return words


def _commands(entry: _Entry) -> tuple[dict[Command, WordAutomaton], Phrase]:
    meanings: dict[Command, WordAutomaton] = {}
    spoken: list[Phrase] = []
    for key in entry.raw:
        group = entry.within(key)
        name = group.raw.get("command", key)
        command = _command(name, entry.place)
        meanings[command] = group.understood("say", "read")
        spoken += group.phrases("say")
    return meanings, one_of(spoken)


def _danger(entry: _Entry) -> DangerWords:
    found: dict[str, dict[DangerKind, WordAutomaton]] = {"anywhere": {}, "whole": {}}
    spoken: list[Phrase] = []
    kinds = entry.within("kinds")
    for key in kinds.raw:
        try:
            kind = DangerKind(key)
        except ValueError:
            known = ", ".join(DangerKind)
            raise LexiconError(f"{entry.place}: unknown danger {key!r}; known: {known}") from None
        group = kinds.within(key)
        for place, by_kind in found.items():
            if place in group.raw:
                part = group.within(place)
                by_kind[kind] = part.understood("say", "read")
                spoken += part.phrases("say")
    softeners = entry.within("softeners")
    return DangerWords(
        anywhere=found["anywhere"],
        whole=found["whole"],
        spoken=one_of(spoken),
        harmless=entry.understood("harmless"),
        alarms=entry.understood("alarms"),
        doubtful=entry.understood("doubtful"),
        softeners={key: frozenset(softeners.texts(key)) for key in softeners.raw},
        alone=tuple(
            sorted({w for phrases in found["anywhere"].values() for w in phrases.words() if phrases.accepts((w,))})
        ),
    )


def _states(entry: _Entry) -> tuple[dict[str, Sayings], Phrase]:
    """Return the sayings of each state ("open", "open.doubtful", "short.grounded" ...) and what may be said."""
    sayings: dict[str, Sayings] = {}
    spoken: list[Phrase] = []
    for state in entry.raw:
        group = entry.within(state)
        sayings[state] = _sayings(group)
        spoken += group.phrases("say")
        for key in group.raw:
            if key not in ("say", "read") and group.raw[key]:
                sayings[f"{state}.{key}"] = Sayings(None, group.understood(key))
    return sayings, one_of(spoken)
