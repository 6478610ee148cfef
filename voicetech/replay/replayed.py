"""What came of going through a job again, as plain records that can be sent, counted and printed."""

from dataclasses import dataclass
from enum import StrEnum

from voicetech.replaying import Difference


class Missing(StrEnum):
    """Why a job could not be gone through."""

    PROCEDURE = "its procedure is neither kept with it nor shipped"
    OPENING = "its record does not begin with its opening"


class Now(StrEnum):
    """What today's ear makes of a recording, beside what was heard then."""

    SAME = "the same"
    SAME_MEANING = "other words, the same meaning"
    OTHER = "otherwise"


@dataclass(frozen=True, slots=True)
class Reheard:
    """One recording heard again: the words and what became of them, then and now.

    `right_then` and `right_now` are there where the record knows what was said: whether what was taken was that.
    `heard_s` is how long the recogniser took, `length_s` how long the sound is.
    """

    number: int
    asked: str
    then: str
    then_outcome: str
    now: str
    now_outcome: str
    compared: Now
    right_then: str | None
    right_now: str | None
    length_s: float
    heard_s: float


@dataclass(frozen=True, slots=True)
class Replayed:
    """A job gone through again.

    `damaged` names the events that cannot be read, were changed, or do not come out of the record as they went in;
    `differences` are the turns that today's program decides or words otherwise. `reheard` is None where that was not
    asked for, and `without_sound` counts spoken answers whose sound is not kept or cannot be read. `other_text` says
    that the procedure could only be had in another text than the job followed.
    """

    job: str
    source: str
    events: int
    turns: int
    damaged: tuple[str, ...]
    differences: tuple[Difference, ...]
    reheard: tuple[Reheard, ...] | None = None
    without_sound: int = 0
    other_text: bool = False
    missing: Missing | None = None

    @property
    def exact(self) -> bool:
        """Return whether the record is whole, and today's program decides and says the same throughout."""
        return not self.damaged and not self.differences and self.missing is None
