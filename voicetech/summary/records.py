"""A job's summary, and the procedure's words it may borrow, as frozen records.

Times (`at_s`) are seconds since the epoch, UTC.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from voicetech.procedure import Phase, Procedure


class FaultState(StrEnum):
    """What the record says of a fault that some result pointed to."""

    PROVED = "proved"
    MENDED = "mended"
    """It was proved, a repair followed, and the job then looked for more."""
    SUSPECTED = "suspected"
    RULED_OUT = "ruled out"

    @property
    def found(self) -> bool:
        """Return whether this fault was there, as far as the record tells."""
        return self in (FaultState.PROVED, FaultState.MENDED)


class Who(StrEnum):
    """Whose words a line holds."""

    TECHNICIAN = "technician"
    PROGRAM = "program"
    REVIEWER = "reviewer"
    RECORD = "record"
    """What is known of the job besides what was said: model, complaint, faults, parts."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault some result pointed to, in the procedure's words where they are at hand."""

    cause: str
    says: str
    state: FaultState


@dataclass(frozen=True, slots=True)
class SectionTime:
    """How long a section of the procedure was worked on, in whole seconds, over all visits to it."""

    section: str
    visits: int
    seconds: int


@dataclass(frozen=True, slots=True)
class PromptCount:
    """What became of a prompt each time it was asked in this job.

    `first` counts those answered by the first thing that was said to them, read back and let stand or confirmed.
    `repeated` is how often the technician asked for it once more, `again` how often the program asked once more,
    `which` how often two answers sounded alike, `corrected` and `denied` how often what was read back was replaced or
    got a no, `misheard` how often a reviewer heard something else.
    """

    section: str
    step: str
    asked: int = 0
    answered: int = 0
    first: int = 0
    repeated: int = 0
    again: int = 0
    which: int = 0
    corrected: int = 0
    denied: int = 0
    misheard: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """Words that were said or written in a job; `event` is the number of the event they stand in, 0 for none."""

    who: Who
    event: int
    at_s: float | None
    text: str


@dataclass(frozen=True, slots=True)
class JobSummary:
    """One job; None where the record does not say.

    `worked_s` leaves out pauses and the time the program was not running. `tests` are the readings and looks of the
    testing phase, None where the procedure's words are not at hand. `unreadable` counts events and marks.
    """

    job: str
    procedure: str | None
    revision: int | None
    digest: str | None
    appliance: str | None
    model: str | None
    serial: str | None
    complaint: str | None
    complaint_says: str
    opened_at_s: float | None
    last_at_s: float | None
    worked_s: int
    outcome: str | None
    events: int
    unreadable: int
    proofs_of_dead: int
    tests: int | None
    faults: tuple[Fault, ...]
    parts: tuple[str, ...]
    sections: tuple[SectionTime, ...]
    prompts: tuple[PromptCount, ...]
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class ProcedureWords:
    """What a summary borrows of a procedure: how it calls things, and which sections test and repair."""

    appliance: str
    complaints: Mapping[str, str]
    causes: Mapping[str, str]
    parts: Mapping[str, tuple[str, ...]]
    testing: frozenset[str]
    repairing: frozenset[str]


def words_of(procedure: Procedure) -> ProcedureWords:
    """Return what a summary borrows of this procedure."""
    return ProcedureWords(
        appliance=procedure.appliance,
        complaints={key: complaint.say for key, complaint in procedure.complaints.items()},
        causes={key: cause.say for key, cause in procedure.causes.items()},
        parts={key: tuple(part for part in cause.parts if part != NO_PART) for key, cause in procedure.causes.items()},
        # A section with a role makes safe, gives power or nulls leads: it tests nothing of the appliance.
        testing=frozenset(s.id for s in procedure.sections if s.phase is Phase.TEST and s.role is None),
        repairing=frozenset(s.id for s in procedure.sections if s.phase is Phase.REPAIR),
    )


NO_PART = "none"
"""What a procedure writes where a fault needs no part."""
