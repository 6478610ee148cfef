"""Answers to the open step for the walk: each verdict, choice and look, and what supplies judged together show."""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Final, cast

from voicetech.electrical.supply_findings import SupplyKind
from voicetech.events import AnswerTaken, ReadingTaken, SupplyClassified
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
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Step
from voicetech.proof.compiled import Compiled
from voicetech.proof.verdicts import cases, readings
from voicetech.session import Cursor, Session, changed
from voicetech.units import Unit

UNIT_WORD: Final = {Unit.VOLT: "volts", Unit.OHM: "ohms", Unit.AMPERE: "amps", Unit.SECOND: "seconds"}


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
        yield words, changed(session, record=(*known, *session.record)) if known else session, meaning
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
    found = compiled.memory.get(session.at)
    if found is None:
        found = compiled.memory[session.at] = tuple(_found_verdicts(session, step))
    return cast(tuple[_Verdict, ...], found)


def _found_verdicts(session: Session, step: Measure) -> Iterator[_Verdict]:
    unit = UNIT_WORD.get(step.unit, step.unit.name.lower())
    seen: set[str] = set()
    for known in cases(step):
        record = tuple(
            AnswerTaken(0, "", "", field, value, unverified=False, at_s=session.opened_at_s)
            for field, value in known.items()
        )
        for word, value in readings(step, known).items():
            if word in seen:
                continue
            seen.add(word)
            if value is None:
                yield "over range", record, StateSaid(State.OPEN)
            else:
                yield f"{value.normalize():f} {unit}", record, ReadingSaid(value, step.unit)


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
        yield kind, changed(session, record=(*unread, SupplyClassified(0, kind, "", session.last_at_s)))
