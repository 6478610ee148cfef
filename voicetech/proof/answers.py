"""Answers to the open step for the walk: each verdict, choice and look, and what supplies judged together show."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Final, cast

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.measuring import verdict_of
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.events import Answer, AnswerKind, AnswerTaken, ReadingTaken, SupplyClassified
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    ChoiceSaid,
    Flag,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Step
from voicetech.proof.compiled import Compiled
from voicetech.session import Cursor, Session
from voicetech.units import Unit

UNIT_WORD: Final = {Unit.VOLT: "volts", Unit.OHM: "ohms", Unit.AMPERE: "amps", Unit.SECOND: "seconds"}
_KNOWN: Final[Mapping[str, str]] = {
    "watts": "2000",
    "volts": "240",
    "volt": "240",
    "measured": "240",
    "fahrenheit": "72",
    "celsius": "22",
    "part": "1085",
    "on": "12",
}
"""What stands on record under the fields that limits are computed from, where it does."""
_CONNECTIONS: Final = ("cord-4", "cord-3")


def answers(compiled: Compiled, session: Session, step: Step) -> Iterator[tuple[str, Session, Meaning]]:
    """Yield every kind of answer to the open step: its words, the session it is tried with, and what it means."""
    match step:
        case Hold(until=until):
            for words in dict.fromkeys((until[:1], until[-1:])):
                yield from ((each, session, WordsSaid(each)) for each in words)
            yield "something else", session, WordsSaid("something else")
        case Instruct():
            pass
        case Inspect():
            yield "looks good", session, AnswerSaid(False)
            yield "it's burnt", session, AnswerSaid(True, "it's burnt")
            yield "burnt, perhaps", session, AnswerSaid(True, "burnt", confirm=True)
            yield "good, perhaps", session, AnswerSaid(False, confirm=True)
            yield "it smells burnt", session, AnswerSaid(True, "a smell", frozenset({Flag.SAFETY_CHECK}))
        case Ask():
            yield from ((words, session, meaning) for words, meaning in _told(step))
        case Measure():
            yield from _measured(compiled, session, step)


def _told(step: Ask) -> Iterator[tuple[str, Meaning]]:
    match step.asking:
        case Asking.CHOICE:
            for choice in step.choices:
                yield choice.hear[0], ChoiceSaid(choice.key)
            yield f"{step.choices[0].hear[0]}, perhaps", ChoiceSaid(step.choices[0].key, confirm=True)
        case Asking.YES_NO:
            yield "yes, perhaps", AnswerSaid(True, confirm=True)
            yield "no, perhaps", AnswerSaid(False, confirm=True)
        case Asking.SERIAL | Asking.NOTE:
            yield "a b one two", WordsSaid("ab12")
        case _:
            yield "two forty", ReadingSaid(Decimal(240), step.unit)
            yield "two forty, perhaps", ReadingSaid(Decimal(240), step.unit, confirm=True, rivals=(Decimal(204),))
            yield "two forty of another unit", ReadingSaid(Decimal(240), Unit.HERTZ)


def _measured(compiled: Compiled, session: Session, step: Measure) -> Iterator[tuple[str, Session, Meaning]]:
    unit = UNIT_WORD.get(step.unit, step.unit.name.lower())
    for words, known, meaning in _verdicts(compiled, session, step):
        yield words, replace(session, record=(*known, *session.record)) if known else session, meaning
    for state in State if step.unit is Unit.OHM else (State.OPEN,):
        yield state.value, session, StateSaid(state)
    sure = Decimal(0)
    yield f"{sure} {unit}, perhaps", session, ReadingSaid(sure, step.unit, confirm=True, rivals=(sure + 1,))
    yield f"{sure} of another unit", session, ReadingSaid(sure, step.unit, flags=frozenset({Flag.UNIT_MISMATCH}))
    yield f"over {sure} {unit}", session, ReadingSaid(sure, step.unit, flags=frozenset({Flag.BOUND_ABOVE}))
    yield "it goes up and down", session, RangeSaid(Decimal(1), Decimal(300), step.unit)
    yield f"{sure}, mistyped", session, Unclear(candidates=(ReadingSaid(sure, step.unit),), offer=True)
    if len(step.pairs) > 1:
        for each in (Decimal(0), Decimal(120)):
            part = ReadingSaid(each, step.unit)
            yield f"all {each} {unit}", session, SeveralSaid((part,), step.unit, all_pairs=True)
            yield f"{each}, then {each} {unit}", session, SeveralSaid((part, part), step.unit)
        last = step.pairs[-1]
        label = last.label.replace("-", " to ")
        yield f"{label} {sure} {unit}", session, ReadingSaid(sure, step.unit, label=label)


_Verdict = tuple[str, tuple[AnswerTaken, ...], Meaning]


def _verdicts(compiled: Compiled, session: Session, step: Measure) -> tuple[_Verdict, ...]:
    """Return a reading for each verdict the step can give, with what has to be on record for it."""
    key = (session.at, session.lead_ohm, len(session.readings_of(session.at)) if session.at else 0)
    found = compiled.memory.get(key)
    if found is None:
        found = compiled.memory[key] = tuple(_found_verdicts(compiled, session, step))
    return cast(tuple[_Verdict, ...], found)


def _found_verdicts(compiled: Compiled, session: Session, step: Measure) -> Iterator[_Verdict]:
    unit = UNIT_WORD.get(step.unit, step.unit.name.lower())
    seen: set[str] = set()
    for known in _known_fields(session, step):
        told = replace(session, record=(*known, *session.record))
        for value in _values(told, step):
            word = verdict_of(_draft(compiled, told), step, _answer(step, value)).word.value
            if word in seen:
                continue
            seen.add(word)
            if value is None:
                yield "over range", known, StateSaid(State.OPEN)
            else:
                yield f"{value.normalize():f} {unit}", known, ReadingSaid(value, step.unit)


def _known_fields(session: Session, step: Measure) -> Iterator[tuple[AnswerTaken, ...]]:
    """Yield nothing on record of what the step's limits are computed from, and then all of it."""
    yield ()
    fields = {key: field for key, field in step.limits.fields.items() if key in _KNOWN or key == "connection"}
    for connection in _CONNECTIONS if "connection" in fields else _CONNECTIONS[:1]:
        if fields:
            told = {field: _KNOWN.get(key, connection) for key, field in fields.items()}
            yield tuple(
                AnswerTaken(0, "", "", field, value, unverified=False, at_s=session.opened_at_s)
                for field, value in told.items()
            )


def _values(session: Session, step: Measure) -> Iterator[Decimal | None]:
    """Yield readings among which every verdict is that the step can have."""
    limits = limits_for(step.limits, session.answers, step.pairs[0].label)
    low, high = limits.low, limits.high
    tenth = Decimal("0.1")
    if low is not None and high is not None:
        yield ((low + high) / 2).quantize(tenth)
    if high is not None:
        yield from (high, (high * Decimal("1.02")).quantize(tenth), (high * 4 + 5).quantize(tenth))
    if low is not None:
        yield from ((low * Decimal("0.98")).quantize(tenth), (low / 4).quantize(tenth))
    yield from (Decimal(0), Decimal(1), Decimal(30), Decimal(120), Decimal(240))
    if step.unit is Unit.OHM:
        yield from (None, Decimal("0.3"), Decimal(500_000), Decimal(5_000_000), Decimal(50_000_000))


def _draft(compiled: Compiled, session: Session) -> Draft:
    return Draft(compiled.procedure, session, session.last_at_s)


def _answer(step: Measure, value: Decimal | None) -> Answer:
    state = State.OPEN if value is None else None
    return Answer(AnswerKind.READING, None, value, step.unit, state)


def together(session: Session, step: Measure, cursor: Cursor) -> Iterator[tuple[str, Session]]:
    """Yield the session as it stands for each thing that pairs judged together can mean, and which that is.

    Only once every pair was read; before, any readings stand for all. The readings themselves are left out, so that
    what they mean is what is on record already: which values mean it is the physics' own matter.
    """
    taken = session.readings_of(cursor)
    if step.judged_as == "each" or any(pair.label not in taken for pair in step.pairs):
        return
    unread = tuple(
        replace(each, value=None) if isinstance(each, ReadingTaken) and each in taken.values() else each
        for each in session.record
    )
    for kind in dict.fromkeys((*step.outcomes, *SupplyKind)):
        yield kind, replace(session, record=(*unread, SupplyClassified(0, kind, "", session.last_at_s)))
