"""What a meter showed: open, closed, a beep, a short, nothing at all, or a reading."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from voicetech.language.circumstances import (
    against,
    circumstance_length,
    of_another_part,
    without_circumstance,
    without_place,
)
from voicetech.language.clean import Token, words_of
from voicetech.language.items import ItemKind, items_of, label_at
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import (
    Asking,
    Flag,
    Meaning,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    Unclear,
)
from voicetech.language.phrasing import bare_words, leading_fillers, longest, starting, without_leads
from voicetech.language.readings import ASKED_UNIT, read_items
from voicetech.units import Unit

_LONGEST_NAME = 4
_CIRCUITS = frozenset({Asking.RESISTANCE, Asking.CONTINUITY, Asking.ANY})


def read_result(tokens: tuple[Token, ...], words: Words, question: Question, lexicon: Lexicon) -> Meaning | None:
    """Return the result that all of the tokens say, Unclear where it may not be used, None where it is none."""
    result = _result(tokens, words, question, lexicon)
    put_up = isinstance(result, (ReadingSaid, StateSaid)) or (isinstance(result, Unclear) and bool(result.candidates))
    if put_up and of_another_part(words, question, lexicon):
        return Unclear("That is another part or place. What does the one I asked for show?")
    if isinstance(result, StateSaid) and len(question.labels) > 1 and len(_of_one(words)) < len(words):
        return SeveralSaid((result,), ASKED_UNIT.get(question.asking), result.flags, confirm=True, all_pairs=True)
    if isinstance(result, (ReadingSaid, StateSaid)):
        told = words[len(without_circumstance(words, lexicon)) :]
        return replace(result, confirm=result.confirm or against(told, question.wording, lexicon))
    return result


def _of_one(words: Words) -> Words:
    """Return the words without what says that they are of every pair ("both open", "OL on both terminals")."""
    rest = (
        words[1:]
        if words[:1] in (("both",), ("all",)) and words[1:2] not in (("ways",), ("ends",), ("the",))
        else words
    )
    at = next((at for at in range(len(rest) - 1) if rest[at : at + 2] in (("on", "both"), ("on", "all"))), len(rest))
    return rest[:at]


def _result(tokens: tuple[Token, ...], words: Words, question: Question, lexicon: Lexicon) -> Meaning | None:
    bare = bare_words(words, lexicon)
    shown = without_circumstance(words, lexicon)
    plain = without_leads(shown if len(shown) < len(words) else without_circumstance(bare, lexicon), lexicon)
    unstored = _nothing_to_store(words, bare, plain, question, lexicon)
    if unstored is not None:
        return unstored
    state = _state(tokens, words, bare, plain, question, lexicon)
    if state is not None:
        return state
    if words[:2] == ("and", "a"):
        return Unclear("What does the meter show?", flags=frozenset({Flag.PARTIAL}))
    decade = _decade(tokens, question, lexicon)
    return decade or read_items(items_of(tokens, question.asking, lexicon), question)


def _nothing_to_store(words: Words, bare: Words, plain: Words, question: Question, lexicon: Lexicon) -> Meaning | None:
    variants = (tuple(words), bare, plain)
    unit = ASKED_UNIT.get(question.asking)
    zero = ReadingSaid(Decimal(0), unit, flags=frozenset({Flag.STATED_NONE}), confirm=True)
    if any(lexicon.unsettled.accepts(v) for v in variants):
        return Unclear("Let it settle. What does it show?", flags=frozenset({Flag.UNSTABLE}))
    if any(lexicon.no_number.accepts(v) for v in variants):
        return Unclear("What number does the meter show?", flags=frozenset({Flag.APPROX}))
    if any(lexicon.cues.none_of_it.accepts(v) for v in variants):
        if unit in (Unit.VOLT, Unit.AMPERE):
            return zero
        return Unclear("What does the meter show?", flags=frozenset({Flag.STATED_NONE}))
    nothing = lexicon.states["open.continuity_only"].understood
    dead = lexicon.states["open.no_voltage"].understood
    unmeasured = any(nothing.accepts(v) or dead.accepts(v) for v in variants)
    if question.asking is not Asking.CONTINUITY and unmeasured:
        return Unclear("What does the meter show?", (zero,), frozenset({Flag.STATED_NONE}))
    return None


def _state(
    tokens: tuple[Token, ...], words: Words, bare: Words, plain: Words, question: Question, lexicon: Lexicon
) -> Meaning | None:
    placed = without_leads(without_place(bare, lexicon), lexicon)
    of_one = without_leads(_of_one(words), lexicon)
    found = (
        _plain_state(tuple(dict.fromkeys((tuple(words), bare, placed, of_one))), question, lexicon)
        or _labelled_state(tokens, question, lexicon)
        or _plain_state((plain, *_without_part(plain, lexicon)), question, lexicon)
    )
    if found is None or question.asking in _CIRCUITS or isinstance(found, Unclear):
        return found
    if question.asking in ASKED_UNIT and isinstance(found, StateSaid) and found.state is State.OPEN:
        return Unclear("Over range? What does the meter show?", (found,), frozenset({Flag.OVERRANGE}))
    return Unclear("What does the meter show?", (found,))


def _without_part(words: Words, lexicon: Lexicon) -> Iterator[Words]:
    """Yield what follows the part at the beginning ("latch switch open"): one that conducts, as a door does not."""
    for at in range(1, min(_LONGEST_NAME, len(words))):
        named = words[:at]
        known = lexicon.places | lexicon.conducting | lexicon.ordinals | lexicon.circumstances.words
        if named[-1] in lexicon.conducting and known.issuperset(named):
            yield words[at:]


def _plain_state(variants: Sequence[Words], question: Question, lexicon: Lexicon) -> Meaning | None:
    states = lexicon.states

    def said(name: str) -> bool:
        return name in states and any(states[name].understood.accepts(v) for v in variants)

    for state in State:
        if said(f"{state}.asked"):
            return Unclear(f"{state.capitalize()}, you mean?", (StateSaid(state),), offer=True)
        if said(f"{state}.doubtful"):
            return StateSaid(state, confirm=True)
        if said(f"{state}.grounded"):
            label = next((w for v in variants for w in reversed(v) if w in lexicon.points), None)
            return StateSaid(state, label)
        if said(str(state)):
            return StateSaid(state)
    if question.asking is Asking.CONTINUITY and said("open.continuity_only"):
        return StateSaid(State.OPEN)
    return None


def _labelled_state(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> Meaning | None:
    """Return "L1 to L2 open" or "open to ground" with its terminals."""
    for at in range(len(tokens)):
        label, end = label_at(tokens, at, lexicon)
        behind = words_of(tokens[end:])
        if label is None or (at > 0 and behind and not circumstance_length(behind, 0, lexicon)):
            continue
        rest_words = words_of(tokens[:at]) if at else without_circumstance(behind, lexicon)
        if at > 0 and rest_words[-1:] == ("to",):
            rest_words = rest_words[:-1]
        if not rest_words:
            continue
        variants = (rest_words, bare_words(rest_words, lexicon), without_leads(rest_words, lexicon))
        found = _plain_state(variants, question, lexicon)
        if isinstance(found, StateSaid):
            first, _, last = label.rpartition("-")
            part = found.state is State.SHORT and first in lexicon.findings.parts
            return replace(found, label=last if part else label)
    return None


def _decade(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> Meaning | None:
    """Return "in the one twenties" as a range from its first to its last number."""
    items = items_of(tokens, question.asking, lexicon)
    decades = [item for item in items if item.kind is ItemKind.DECADE]
    if len(decades) != 1:
        return None
    at = items.index(decades[0])
    tens = Decimal(lexicon.cues.decades[decades[0].text])
    heads = [i for i in items[:at] if i.kind is ItemKind.ATOM]
    others = [i for i in items if i.kind in (ItemKind.UNKNOWN, ItemKind.TIME, ItemKind.NOT_MEASURED)]
    others = [i for i in others if i.text not in ("low", "high", "mid", "upper", "lower")]
    if others or len(heads) > 1 or any(h.atom is None or h.atom.letter != "D" for h in heads):
        return None
    low = (heads[0].atom.value * 100 if heads and heads[0].atom is not None else Decimal(0)) + tens
    unit = next((i.unit.unit for i in items if i.unit is not None), ASKED_UNIT.get(question.asking))
    return RangeSaid(low, low + 9, unit, frozenset({Flag.RANGE, Flag.APPROX}))


def read_agreed(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> ReadingSaid | StateSaid | None:
    """Return the result behind a leading yes ("yeah, two forty"), or None."""
    words = words_of(tokens)
    fillers = leading_fillers(words, lexicon)
    length = starting(words[fillers:], lexicon.cues.agreeing)
    rest = tokens[_token_after(tokens, fillers + length) :]
    if not length or not rest:
        return None
    result = read_result(rest, words_of(rest), question, lexicon)
    if isinstance(result, (ReadingSaid, StateSaid)):
        return replace(result, flags=result.flags | {Flag.ACK})
    return None


def read_with_a_beep(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> ReadingSaid | None:
    """Return the reading said beside a beep ("it beeps, point three ohms"), or None: the number is the result."""
    if question.asking not in _CIRCUITS:
        return None
    words = words_of(tokens)
    beep = longest(lexicon.states[str(State.BEEP)].understood, words, leading_fillers(words, lexicon))
    if beep is None:
        return None
    rest = tokens[_token_after(tokens, beep + (words[beep : beep + 1] == ("and",))) :]
    said = read_result(rest, words_of(rest), question, lexicon) if rest else None
    return replace(said, flags=said.flags | {Flag.BEEP}) if isinstance(said, ReadingSaid) else None


def _token_after(tokens: tuple[Token, ...], words: int) -> int:
    """Return the place behind so many words and the marks that follow them."""
    at = 0
    while at < len(tokens) and (words or not words_of(tokens[at : at + 1])):
        words -= len(words_of(tokens[at : at + 1]))
        at += 1
    return at
