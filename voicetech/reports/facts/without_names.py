"""A job without what may name a person or place or tell which unit it was.

What was said freely is taken out of the record's events before anything is made of them, so that no sentence of a
report can still carry it: notes, reasons, findings in somebody's own words, accounts of danger, the serial number, who
was told. Choices of the procedure, yes and no, figures and the model stay.
"""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from typing import Final

from voicetech.dialogue.answering import LATER
from voicetech.events import (
    Answer,
    AnswerKind,
    AnswerProposed,
    AnswerTaken,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    Event,
    InputReceived,
    NoteTaken,
    PartInspected,
    Remarked,
    Replied,
    RivalsOffered,
    StepDone,
    StepSkipped,
)
from voicetech.journal.store import ReadableEvents
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Procedure
from voicetech.reports.facts.naming import Names
from voicetech.reports.facts.plate import written
from voicetech.reports.text import LEFT_OUT
from voicetech.reports.wording import is_nothing

_NAMING: Final = frozenset({"serial", "told"})
"""Fields that name the unit or a person, whatever is answered."""
_LEFT_OUT_WHOLE: Final = (Replied, Remarked)
"""What the program says repeats what was said to it."""
_PROGRAMS_REASONS: Final = frozenset({"cannot reach it", "not fitted"})
"""Reasons for a skip in the program's own words."""


def without_names(events: Sequence[Event], procedure: Procedure | None) -> tuple[Event, ...]:
    """Return the events with names and free words left out; without its procedure more is taken for free words."""
    names = Names(procedure, {})
    return tuple(_without(event, names) for event in events if not isinstance(event, _LEFT_OUT_WHOLE))


def readable_without_names(readable: ReadableEvents, procedure: Procedure | None) -> ReadableEvents:
    """Return the same of what can be read of a job; the events keep their numbers."""
    numbers = dict(zip(map(id, readable.events), readable.numbers, strict=True))
    kept = tuple(event for event in readable.events if not isinstance(event, _LEFT_OUT_WHOLE))
    events = without_names(kept, procedure)
    return ReadableEvents(events, readable.left_out, tuple(numbers[id(event)] for event in kept))


def _without(event: Event, names: Names) -> Event:
    match event:
        case InputReceived():
            return replace(event, alternatives=(), text=LEFT_OUT, free_text=None)
        case AnswerProposed(answers=answers, others=others):
            return replace(event, answers=tuple(map(_unsaid, answers)), others=tuple(map(_unsaid, others)))
        case RivalsOffered(first=first, second=second):
            return replace(event, first=_unsaid(first), second=_unsaid(second))
        case AnswerTaken() if not _stays(event, names):
            return replace(event, value=LEFT_OUT)
        case PartInspected():
            return replace(event, words="something wrong" if event.fault else "nothing wrong")
        case StepDone():
            return replace(event, words=LEFT_OUT)
        case StepSkipped() if event.reason not in _PROGRAMS_REASONS:
            return replace(event, reason=LEFT_OUT)
        case NoteTaken():
            return replace(event, text=LEFT_OUT)
        case DangerDoubted() | DangerStopped() | DangerRecounted():
            return replace(event, words=LEFT_OUT)
        case _:
            return event


def _unsaid(answer: Answer) -> Answer:
    if answer.text is None or answer.kind is AnswerKind.CHOICE:
        return answer
    return replace(answer, text=LEFT_OUT)


def _stays(answer: AnswerTaken, names: Names) -> bool:
    """Return whether an answer is none of somebody's own words: a choice, yes or no, a figure asked for, the model."""
    if answer.field in _NAMING:
        return False
    if answer.value in ("yes", "no", LATER):
        return True
    step = names.step(answer.section, answer.step)
    if not isinstance(step, Ask):
        # A figure that a measuring step keeps under a field is no words either.
        return step is not None and _is_figure(answer.value)
    if step.asking is Asking.SERIAL:
        return answer.field == "model" and any(sign.isdigit() for sign in written(answer.value) or "")
    if step.asking is Asking.NOTE:
        return is_nothing(answer.value)
    if step.unit is not None:
        return _is_figure(answer.value)
    choices = {choice.key for choice in step.choices}
    if answer.field == "complaint" and names.procedure is not None:
        choices |= set(names.procedure.complaints)
    return answer.value in choices


def _is_figure(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except InvalidOperation:
        return False
