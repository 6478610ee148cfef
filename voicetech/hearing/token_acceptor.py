"""Which tokens the speech model may write next, so that the text stays a beginning of something sayable.

The acceptor reads written text character by character against the spoken-word automaton, through the table of
written forms. Its states are sets of places (automaton state, place in a tree of forms), numbered as they are
met; a step is worked out once for each state and character, and remembered for each state and token.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from voicetech.hearing.figures import Written, figure_forms
from voicetech.hearing.spellings import Spellings
from voicetech.language.phrases import WordAutomaton

Counts = tuple[int, int, int]
Readings = dict[tuple[str, ...], Counts]
"""Words read so far, with the counts of `Parse`."""
READINGS = 64
"""Ways to read a text that are followed at once; a run of glued letters may have thousands."""
DEAD = -1
START = 0
LONGEST_RUN = 2
"""Letters that one token may spell out without a space: a longer token is a word, not spelling."""
ALPHABET = 20
"""Single letters that may come next where anything may be spelled."""
POINT = "point"
_SEPARATORS = frozenset(" ,.-?!:;…")
_STOPS = frozenset(".,")
"""After a figure these end it only where no figure follows at once: "238.5" is no "238 5"."""
_LETTER_RUNS = re.compile("[A-Za-z]+")
_APOSTROPHES = frozenset("'’‘`")


@dataclass(frozen=True, slots=True)
class End:
    """A written form ends here: the automaton state after it and the words it stands for."""

    state: int
    words: tuple[str, ...]
    written: Written
    misheard: bool
    """True where the form stands for the word at a cost."""


@dataclass(slots=True)
class Node:
    """A place in a tree of written forms."""

    after: "dict[str, Node]" = field(default_factory=dict)
    ends: list[End] = field(default_factory=list)

    def add(self, form: str, end: End) -> None:
        """Add one form below this node."""
        node = self
        for character in form:
            after = node.after.get(character)
            if after is None:
                after = node.after[character] = Node()
            node = after
        if end not in node.ends:
            node.ends.append(end)


@dataclass(frozen=True, slots=True)
class Place:
    """Where reading stands: an automaton state and a node among the forms that may come next there."""

    state: int
    node: Node

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Place) and self.node is other.node and self.state == other.state

    def __hash__(self) -> int:
        return hash((self.state, id(self.node)))


@dataclass(slots=True)
class Forms:
    """The trees at one automaton state: all forms, and those that may be glued to what was just written."""

    full: Node = field(default_factory=Node)
    stopped: Node = field(default_factory=Node)
    """Nothing but space: a full stop or comma was written after a figure."""
    decimals: Node = field(default_factory=Node)
    glued_to: "dict[Written, Node]" = field(default_factory=lambda: {written: Node() for written in Written})


@dataclass(frozen=True, slots=True)
class Parse:
    """Words that a written text may stand for.

    `misheard` counts the words written as mishearings, `glued` the letters written without a space before them,
    `grouped` the figures read in pairs or hundreds.
    """

    words: tuple[str, ...]
    misheard: int
    glued: int
    grouped: int = 0


class TokenAcceptor:
    """The automaton, the table of written forms and the model's tokens, joined and cached."""

    def __init__(self, automaton: WordAutomaton, spellings: Spellings, tokens: Sequence[str]) -> None:
        self._automaton = automaton
        self._spellings = spellings
        self._tokens = tokens
        # Only where letters may come next is what is written in figures worth following: beside a unit the model
        # makes up figures ("13.49" for "thirteen point nine") more often than it hears them.
        self._spelled = frozenset(
            state for state, arcs in enumerate(automaton.arcs) if sum(len(word) == 1 for word in arcs) >= ALPHABET
        )
        self._forms: dict[int, Forms] = {}
        first = frozenset({Place(0, self._at(0).full)})
        self._states: list[frozenset[Place]] = [first]
        self._numbers: dict[frozenset[Place], int] = {first: START}
        self._steps: list[dict[int, int]] = [{}]
        self._characters: list[dict[tuple[str, bool], int]] = [{}]
        self._finals: dict[int, bool] = {}

    def step(self, state: int, token: int) -> int:
        """Return the state after a token, or DEAD."""
        steps = self._steps[state]
        found = steps.get(token)
        if found is None:
            found = steps[token] = self._read(state, self._tokens[token])
        return found

    def final(self, state: int) -> bool:
        """Return whether the text so far is a whole sentence of the grammar."""
        found = self._finals.get(state)
        if found is None:
            found = self._finals[state] = any(
                end.state in self._automaton.finals for place in self._states[state] for end in place.node.ends
            ) or any(
                place.state in self._automaton.finals and self._between_words(place) for place in self._states[state]
            )
        return found

    def parses(self, text: str) -> tuple[Parse, ...]:
        """Return every way to read a whole written text as words of the grammar, figures included."""
        runs: dict[Place, Readings] = {Place(0, self._at(0).full): {(): (0, 0, 0)}}
        words_at = {at for run in _LETTER_RUNS.finditer(text) if self._a_word(run[0]) for at in range(*run.span())}
        for at, character in enumerate(text.lower()):
            if character in _APOSTROPHES:
                continue
            grown: dict[Place, Readings] = {}
            for place, readings in runs.items():
                for after, end in self._next(place, character, spelling=at not in words_at):
                    into = grown.setdefault(after, {})
                    for words, counts in readings.items():
                        if end is None:
                            _fewest(into, words, counts)
                        else:
                            glued = character.isalpha() and len(end.words[-1]) == 1
                            _fewest(into, words + end.words, _counted(counts, end, glued=glued))
            runs = {place: _plainest(readings) for place, readings in grown.items()}
        whole: Readings = {}
        for place, readings in runs.items():
            for words, counts in readings.items():
                if place.state in self._automaton.finals and self._between_words(place) and words:
                    _fewest(whole, words, counts)
                for ending in place.node.ends:
                    if ending.state in self._automaton.finals:
                        _fewest(whole, words + ending.words, _counted(counts, ending, glued=False))
        return tuple(Parse(words, *counts) for words, counts in _plainest(whole).items())

    def _between_words(self, place: Place) -> bool:
        forms = self._at(place.state)
        return place.node is forms.full or place.node is forms.stopped

    def _a_word(self, run: str) -> bool:
        """Return whether letters without a space are a short word. In capitals they may spell: "US" is no "us"."""
        return run.lower() in self._spellings.unspelled and not run.isupper()

    def _read(self, state: int, text: str) -> int:
        spelling = all(len(run) <= LONGEST_RUN and not self._a_word(run) for run in _LETTER_RUNS.findall(text))
        for character in text.lower():
            if character in _APOSTROPHES:
                continue
            known = (character, spelling)
            after = self._characters[state].get(known)
            if after is None:
                after = self._characters[state][known] = self._after(state, character, spelling=spelling)
            if after == DEAD:
                return DEAD
            state = after
        return state

    def _after(self, state: int, character: str, *, spelling: bool) -> int:
        places = frozenset(
            after
            for place in self._states[state]
            if not character.isdigit() or place.state in self._spelled
            for after, _ in self._next(place, character, spelling=spelling)
        )
        if not places:
            return DEAD
        number = self._numbers.get(places)
        if number is None:
            number = self._numbers[places] = len(self._states)
            self._states.append(places)
            self._steps.append({})
            self._characters.append({})
        return number

    def _next(self, place: Place, character: str, *, spelling: bool) -> Iterator[tuple[Place, End | None]]:
        """Yield each place after a character, with the form that ended before it, if one did.

        `spelling` says whether letters may follow each other without a space.
        """
        node = place.node
        if character in _SEPARATORS:
            yield from self._separated(place, character)
            return
        deeper = node.after.get(character)
        if deeper is not None:
            yield Place(place.state, deeper), None
        for end in node.ends:
            if end.written is Written.LETTER and character.isalpha() and not spelling:
                continue
            glued = self._at(end.state).glued_to[end.written].after.get(character)
            if glued is not None:
                yield Place(end.state, glued), end

    def _separated(self, place: Place, character: str) -> Iterator[tuple[Place, End | None]]:
        node, forms = place.node, self._at(place.state)
        if node is forms.full:
            yield place, None
        if node is forms.stopped and character not in _STOPS:
            yield Place(place.state, forms.full), None
        inside = node.after.get(" ")
        if inside is not None:
            yield Place(place.state, inside), None
        for end in node.ends:
            after = self._at(end.state)
            if not end.written.is_figure or character not in _STOPS or end.state in self._spelled:
                yield Place(end.state, after.full), end
                continue
            yield Place(end.state, after.stopped), end
            behind_point = self._automaton.arcs[end.state].get(POINT)
            if character == "." and behind_point is not None:
                pointed = End(behind_point, (*end.words, POINT), end.written, end.misheard)
                yield Place(behind_point, self._at(behind_point).decimals), pointed

    def _at(self, state: int) -> Forms:
        forms = self._forms.get(state)
        if forms is None:
            forms = self._forms[state] = self._grow(state)
        return forms

    def _grow(self, state: int) -> Forms:
        arcs = self._automaton.arcs[state]
        forms = Forms()
        for word, target in arcs.items():
            for form in self._spellings.of(word):
                self._add(forms, form, word, target, misheard=False)
            for form in self._spellings.misheard(word):
                self._add(forms, form, word, target, misheard=True)
        for figure in figure_forms(self._automaton, state):
            if figure.written is Written.HUNDREDS and state in self._spelled:
                continue
            end = End(figure.state, figure.words, figure.written, misheard=False)
            forms.full.add(figure.digits, end)
            if figure.written is Written.DIGIT:
                forms.decimals.add(figure.digits, end)
            for before in figure.written.may_follow:
                forms.glued_to[before].add(figure.digits, end)
        return forms

    def _add(self, forms: Forms, form: str, word: str, target: int, *, misheard: bool) -> None:
        letter = len(word) == len(form) == 1
        end = End(target, (word,), Written.LETTER if letter else Written.WORD, misheard)
        forms.full.add(form, end)
        if word in self._spellings.joined:
            forms.glued_to[Written.WORD].add(form, end)
        if letter or word in self._spellings.joined:
            forms.glued_to[Written.LETTER].add(form, end)
        if letter:
            for figure in (Written.DIGIT, Written.PAIR):
                forms.glued_to[figure].add(form, end)


def _counted(counts: Counts, end: End, *, glued: bool) -> Counts:
    misheard, letters, grouped = counts
    return misheard + end.misheard, letters + glued, grouped + (end.written in (Written.PAIR, Written.HUNDREDS))


def _plainest(readings: Readings) -> Readings:
    """Keep the readings with the fewest mishearings, then the fewest glued letters, groups and words."""
    if len(readings) <= READINGS:
        return readings
    ordered = sorted(readings.items(), key=lambda item: (item[1], len(item[0]), item[0]))
    return dict(ordered[:READINGS])


def _fewest(readings: Readings, words: tuple[str, ...], counts: Counts) -> None:
    readings[words] = min(readings.get(words, counts), counts)
