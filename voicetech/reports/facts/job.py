"""Everything a job report says, as one frozen record: no layout, no clock, no files.

The facts are read from the record alone; the procedure only lends its words. Nothing that was withdrawn is left out,
and nothing that was not measured is filled in.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.dialogue.answering import LATER
from voicetech.events import (
    AnswerTaken,
    CausesExcluded,
    CauseShown,
    Channel,
    Event,
    InputReceived,
    JobClosed,
    JobOpened,
    JobReopened,
    NoteTaken,
    PairReadDead,
    PairReadLive,
    ReadingTaken,
    Refused,
    TesterProved,
)
from voicetech.procedure import Phase, Procedure
from voicetech.reports.facts.causes import CauseFact, ExcludedFact, causes_of, excluded_of
from voicetech.reports.facts.dangers import DangerFact, dangers_of
from voicetech.reports.facts.made_safe import PowerFact, ProofFact, power_of, proofs_of
from voicetech.reports.facts.naming import Names, names_for
from voicetech.reports.facts.part_book import PartBook
from voicetech.reports.facts.parts import PartFact, parts_of
from voicetech.reports.facts.results import (
    AnswerFact,
    DoneFact,
    HandOverFact,
    InspectionFact,
    ReadingFact,
    Result,
    SkippedFact,
    SupplyFact,
    answers_of,
    done_of,
    hand_overs_of,
    inspections_of,
    readings_of,
    results_of,
    skipped_of,
    supplies_of,
    without_repeats,
)
from voicetech.reports.wording import headed, plain_name

STATEMENT: Final = "voicetech advises; it records what the technician measured; it does not declare a circuit safe."

_OUTCOMES: Final[dict[str, str]] = {
    "repaired": "Repaired",
    "left safe": "Not repaired; left safe by the technician",
    "handed over": "Work stopped and handed over",
    "not found": "No fault found by these tests",
    "abandoned": "Abandoned before the end",
}


@dataclass(frozen=True, slots=True)
class NoteFact:
    """A note in the technician's words."""

    text: str
    unverified: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class RefusalFact:
    """Something the program would not do, and how often it was asked."""

    reason: str
    times: int


@dataclass(frozen=True, slots=True)
class ReopenedFact:
    """The job was taken up again."""

    channel: Channel
    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class JobFacts:
    """One job as a report tells it; times in seconds since the epoch, None where the record has none.

    `remaining` are the complaint's faults that were neither found nor ruled out, `not_reached` the parts no test
    came to. `left_out` says which events could not be read. `procedure_changed` is true where the procedure whose
    words are used is not the text the job followed, None where no procedure was at hand. `closed_as` is the outcome
    as it is stored. `readings` are those no proof of dead tells already, `every_reading` all of them. `part_book`
    names the part book used; `without_names` where names and free words were left out beforehand.
    """

    job: str
    procedure: str
    revision: int | None
    digest: str
    procedure_changed: bool | None
    appliance: str
    complaint: str
    outcome: str | None
    closed_as: str | None
    opened_at_s: float | None
    last_at_s: float | None
    channels: tuple[Channel, ...]
    reopened: tuple[ReopenedFact, ...]
    answers: tuple[AnswerFact, ...]
    proofs: tuple[ProofFact, ...]
    power: tuple[PowerFact, ...]
    readings: tuple[ReadingFact, ...]
    supplies: tuple[SupplyFact, ...]
    inspections: tuple[InspectionFact, ...]
    done: tuple[DoneFact, ...]
    skipped: tuple[SkippedFact, ...]
    not_reached: tuple[str, ...]
    causes: tuple[CauseFact, ...]
    excluded: tuple[ExcludedFact, ...]
    remaining: tuple[str, ...]
    hand_overs: tuple[HandOverFact, ...]
    dangers: tuple[DangerFact, ...]
    notes: tuple[NoteFact, ...]
    refusals: tuple[RefusalFact, ...]
    left_out: tuple[str, ...]
    every_reading: tuple[ReadingFact, ...]
    parts: tuple[PartFact, ...]
    part_book: str = ""
    without_names: bool = False

    def answer(self, field: str) -> AnswerFact | None:
        """Return the last answer under this field that stands, or None."""
        standing = (a for a in reversed(self.answers) if a.field == field and a.withdrawn is None)
        return next(standing, None)

    def given(self, field: str) -> str:
        """Return what was answered as it is stored; empty where nothing was, or only that it is not known yet."""
        answer = self.answer(field)
        return "" if answer is None or answer.given == LATER else answer.given

    @property
    def sources(self) -> tuple[str, ...]:
        """Return where the limits come from, once each, in the order of the readings."""
        return tuple(dict.fromkeys(reading.source for reading in self.readings if reading.source))

    @property
    def found(self) -> tuple[CauseFact, ...]:
        """Return the faults that are proved and still stand."""
        return tuple(c for c in self.causes if c.proved and not c.ruled_out and c.withdrawn is None)

    @property
    def suspected(self) -> tuple[CauseFact, ...]:
        """Return the faults that a result points to without proving them."""
        return tuple(c for c in self.causes if not c.proved and not c.ruled_out and c.withdrawn is None)

    @property
    def dropped(self) -> tuple[CauseFact, ...]:
        """Return the faults that were shown and are withdrawn or ruled out."""
        return tuple(c for c in self.causes if c.ruled_out or c.withdrawn is not None)


def facts_of(
    procedure: Procedure | None,
    events: Sequence[Event],
    left_out: Iterable[str] = (),
    book: PartBook | None = None,
    *,
    job: str = "",
    without_names: bool = False,
) -> JobFacts:
    """Return what these events tell; `procedure` lends its words, `left_out` names events that cannot be read.

    `book` gives the numbers of the parts; without one they are named by function and rating. `job` is the job's name,
    for where the event that tells it is lost. `without_names` says that names and free words were taken out of the
    events before.
    """
    opened = next((event for event in events if isinstance(event, JobOpened)), None)
    every = results_of(events)
    names = names_of(procedure, every)
    results = without_repeats(every)
    times = [at_s for event in events if (at_s := getattr(event, "at_s", None)) is not None]
    answers = answers_of(results, names)
    causes = causes_of(results, names)
    closed_as = _closed_as(events)
    return JobFacts(
        job=job if opened is None else opened.job,
        procedure=_title(procedure, opened),
        revision=None if opened is None else opened.revision,
        digest="" if opened is None else opened.digest,
        procedure_changed=None if procedure is None or opened is None else procedure.digest != opened.digest,
        appliance="" if procedure is None else headed(procedure.appliance),
        complaint=next((a.value for a in reversed(answers) if a.field == "complaint" and not a.withdrawn), ""),
        outcome=None if closed_as is None else _OUTCOMES.get(closed_as, headed(closed_as)),
        closed_as=closed_as,
        opened_at_s=None if opened is None else opened.at_s,
        last_at_s=max(times, default=None),
        channels=_channels(events),
        reopened=tuple(ReopenedFact(e.channel, e.reason, e.at_s) for e in events if isinstance(e, JobReopened)),
        answers=answers,
        proofs=proofs_of(events),
        power=power_of(events),
        readings=readings_of(_without_proofs(results, events), names),
        supplies=supplies_of(results),
        inspections=inspections_of(results, names),
        done=done_of(results, names),
        skipped=skipped_of(results, names),
        not_reached=_not_reached(procedure, events),
        causes=causes,
        excluded=excluded_of(results, names),
        remaining=_remaining(names, results),
        hand_overs=hand_overs_of(results, names),
        dangers=dangers_of(events),
        notes=tuple(NoteFact(e.text, e.unverified, e.at_s) for e in events if isinstance(e, NoteTaken)),
        refusals=_refusals(events),
        left_out=tuple(left_out),
        every_reading=readings_of(results, names),
        parts=parts_of(causes, names, book),
        part_book="" if book is None else book.name,
        without_names=without_names,
    )


def names_of(procedure: Procedure | None, results: Sequence[Result]) -> Names:
    """Return what the names in a record are called, with its standing answers in the procedure's words."""
    standing = [result.taken for result in results if result.withdrawn is None]
    answers = {taken.field: taken.value for taken in standing if isinstance(taken, AnswerTaken)}
    found = tuple(taken.cause for taken in standing if isinstance(taken, CauseShown) and taken.proved)
    return names_for(procedure, answers, found)


def _without_proofs(results: Iterable[Result], events: Sequence[Event]) -> tuple[Result, ...]:
    """Return the results without the readings that the proofs of dead tell already."""
    told = {(e.at_s, e.value) for e in events if isinstance(e, TesterProved | PairReadDead | PairReadLive)}
    return tuple(
        r
        for r in results
        if r.withdrawn or not (isinstance(r.taken, ReadingTaken) and (r.taken.at_s, r.taken.value) in told)
    )


def _title(procedure: Procedure | None, opened: JobOpened | None) -> str:
    if procedure is not None:
        return procedure.title
    return "" if opened is None else headed(plain_name(opened.procedure))


def _closed_as(events: Sequence[Event]) -> str | None:
    closed = next((event for event in reversed(events) if isinstance(event, JobClosed)), None)
    return None if closed is None else closed.outcome


def _channels(events: Sequence[Event]) -> tuple[Channel, ...]:
    used = (e.channel for e in events if isinstance(e, JobOpened | JobReopened | InputReceived))
    return tuple(dict.fromkeys(used))


def _not_reached(procedure: Procedure | None, events: Sequence[Event]) -> tuple[str, ...]:
    if procedure is None:
        return ()
    entered = {getattr(event, "section", "") for event in events}
    tests = [s for s in procedure.sections if s.phase is Phase.TEST and s.role is None]
    reached = {headed(s.part or s.title) for s in tests if s.id in entered}
    parts = (headed(s.part or s.title) for s in tests)
    return tuple(dict.fromkeys(part for part in parts if part not in reached))


def _remaining(names: Names, results: Sequence[Result]) -> tuple[str, ...]:
    procedure = names.procedure
    complaint = None if procedure is None else procedure.complaints.get(names.known.get("complaint", ""))
    if complaint is None:
        return ()
    spoken_of: set[str] = set()
    for result in results:
        if result.withdrawn is not None:
            continue
        match result.taken:
            case CauseShown(cause=cause):
                spoken_of.add(cause)
            case CausesExcluded(causes=causes):
                spoken_of.update(causes)
            case _:
                pass
    left = (cause for cause, weight in complaint.weights.items() if weight > 0 and cause not in spoken_of)
    return tuple(names.cause_words(cause) for cause in left)


def _refusals(events: Sequence[Event]) -> tuple[RefusalFact, ...]:
    counted = Counter(event.reason for event in events if isinstance(event, Refused))
    return tuple(RefusalFact(reason, times) for reason, times in counted.items())
