"""A job's events, and what a reviewer says of them, folded to its summary."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    DangerRecounted,
    DeadProved,
    Event,
    HandedOver,
    InputReceived,
    JobClosed,
    JobOpened,
    NoteTaken,
    PartInspected,
    ReadingTaken,
    Replied,
    SectionEnded,
)
from voicetech.language.spelled import characters
from voicetech.marks import Commented, Mark, Misheard, standing
from voicetech.session import OVERHEARD
from voicetech.summary.prompts import prompts_of
from voicetech.summary.records import Fault, FaultState, JobSummary, Line, ProcedureWords, Who
from voicetech.summary.times import times_of

UNKNOWN = "not known yet"
"""What stands in the record where a model or serial number was put off."""


@dataclass(frozen=True, slots=True)
class Readable:
    """What can be read of a job: its events with their numbers, and its marks.

    `stored` is how many events there are, readable or not; `unreadable` how many events and marks could not be read.
    """

    events: tuple[Event, ...]
    numbers: tuple[int, ...]
    stored: int
    marks: tuple[Mark, ...] = ()
    unreadable: int = 0


def summary_of(job: str, readable: Readable, words: ProcedureWords | None = None) -> JobSummary:
    """Return what a job adds up to, in the procedure's words where they are at hand."""
    opened = next((event for event in readable.events if isinstance(event, JobOpened)), None)
    closed = next((event for event in reversed(readable.events) if isinstance(event, JobClosed)), None)
    results = _results(readable.events)
    answers = {taken.field: taken.value for taken in results if isinstance(taken, AnswerTaken)}
    complaint = answers.get("complaint")
    times = times_of(readable.events)
    faults = _faults(results, words)
    summary = JobSummary(
        job=job,
        procedure=None if opened is None else opened.procedure,
        revision=None if opened is None else opened.revision,
        digest=None if opened is None else opened.digest,
        appliance=None if words is None else words.appliance,
        model=_spelled(answers.get("model")),
        serial=_spelled(answers.get("serial")),
        complaint=complaint,
        complaint_says="" if words is None or complaint is None else words.complaints.get(complaint, ""),
        opened_at_s=times.first_at_s if opened is None else opened.at_s,
        last_at_s=times.last_at_s,
        worked_s=times.worked_s,
        outcome=None if closed is None else closed.outcome,
        events=readable.stored,
        unreadable=readable.unreadable,
        proofs_of_dead=sum(isinstance(event, DeadProved) for event in readable.events),
        tests=None if words is None else _tests(results, words),
        faults=faults,
        parts=tuple(_parts(results, faults, words)),
        sections=times.sections,
        prompts=prompts_of(zip(readable.numbers, readable.events, strict=True), readable.marks),
        lines=(),
    )
    return _with_lines(summary, readable)


_Result = AnswerTaken | ReadingTaken | PartInspected | SectionEnded | CauseShown | CausesExcluded | HandedOver


def _results(events: Sequence[Event]) -> tuple[_Result, ...]:
    """Return the results that still count, in order."""
    results: list[_Result] = []
    for event in events:
        match event:
            case AnswerWithdrawn(seq=first):
                results = [result for result in results if result.seq < first]
            case AnswerTaken() | ReadingTaken() | PartInspected() | SectionEnded() | CauseShown() | CausesExcluded():
                results.append(event)
            case HandedOver():
                results.append(event)
            case _:
                pass
    return tuple(results)


def _spelled(value: str | None) -> str | None:
    """Return a spelled model or serial number as it is written, None where it was put off."""
    if value is None or value == UNKNOWN:
        return None
    return characters(value) or value


def _tests(results: Sequence[_Result], words: ProcedureWords) -> int:
    """Return how many tests were made; a reading repeated because it was out of limits is the same test."""
    return sum(
        result.section in words.testing
        for result in results
        if isinstance(result, PartInspected) or (isinstance(result, ReadingTaken) and result.attempt == 1)
    )


def _faults(results: Sequence[_Result], words: ProcedureWords | None) -> tuple[Fault, ...]:
    states: dict[str, FaultState] = {}
    repaired = False
    for result in results:
        match result:
            case CauseShown(cause=cause, proved=proved):
                before = states.get(cause)
                still = before is FaultState.PROVED or proved
                states[cause] = FaultState.PROVED if still else FaultState.SUSPECTED
                repaired = repaired and not proved
            case CausesExcluded(causes=causes):
                for cause in causes:
                    if states.get(cause) is FaultState.PROVED and repaired:
                        states[cause] = FaultState.MENDED
                    elif cause in states and states[cause] is not FaultState.MENDED:
                        states[cause] = FaultState.RULED_OUT
            case SectionEnded(section=section, how="done") if words is not None and section in words.repairing:
                repaired = True
            case _:
                pass
    says = {} if words is None else words.causes
    return tuple(Fault(cause, says.get(cause, ""), state) for cause, state in states.items())


def _parts(results: Sequence[_Result], faults: Sequence[Fault], words: ProcedureWords | None) -> Iterator[str]:
    """Yield the parts a found fault needs and those that were seen to be at fault, each once."""
    needed = [
        part for fault in faults if fault.state.found and words is not None for part in words.parts.get(fault.cause, ())
    ]
    seen = [result.part for result in results if isinstance(result, PartInspected) and result.fault]
    yield from dict.fromkeys([*needed, *seen])


@dataclass(slots=True)
class _Lines:
    """The lines of a job, each text once for each who said it."""

    lines: dict[tuple[Who, str], Line] = field(default_factory=dict)

    def add(self, who: Who, event: int, at_s: float | None, text: str | None) -> None:
        if text and text.strip():
            self.lines.setdefault((who, text), Line(who, event, at_s, text))


def _with_lines(summary: JobSummary, readable: Readable) -> JobSummary:
    lines = _Lines()
    said = dict(zip(readable.numbers, readable.events, strict=True))
    at_s: float | None = None
    for number, event in said.items():
        at_s = getattr(event, "at_s", at_s)
        match event:
            case InputReceived(outcome=outcome, text=text, free_text=free_text) if outcome not in OVERHEARD:
                # What people nearby said to each other is nobody's business.
                lines.add(Who.TECHNICIAN, number, at_s, text)
                lines.add(Who.TECHNICIAN, number, at_s, free_text)
            case NoteTaken(text=text):
                lines.add(Who.TECHNICIAN, number, at_s, text)
            case DangerRecounted(words=words):
                lines.add(Who.TECHNICIAN, number, at_s, words)
            case HandedOver(reason=reason):
                lines.add(Who.RECORD, number, at_s, reason)
            case Replied(show=show):
                for text in show:
                    lines.add(Who.PROGRAM, number, at_s, text)
            case _:
                pass
    for _, mark in standing(readable.marks):
        match mark:
            case Misheard(seq=seq, said=words, at_s=made_at_s):
                lines.add(Who.REVIEWER, seq, made_at_s, words)
            case Commented(seq=of, text=text, at_s=made_at_s):
                lines.add(Who.REVIEWER, of or 0, made_at_s, text)
            case _:
                pass
    for text in _known(summary):
        lines.add(Who.RECORD, 0, None, text)
    return replace(summary, lines=tuple(lines.lines.values()))


def _known(summary: JobSummary) -> Iterator[str]:
    yield summary.job
    for value in (summary.appliance, summary.model, summary.serial, summary.complaint, summary.complaint_says):
        yield value or ""
    for fault in summary.faults:
        if fault.state is not FaultState.RULED_OUT:
            yield f"{fault.cause} {fault.says}".strip()
    yield from summary.parts
    yield summary.outcome or ""
