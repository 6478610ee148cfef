"""How long a job and each of its sections were worked on, by the times of its events."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from voicetech.events import Event, JobClosed, JobReopened, Paused, Resumed, StepEntered
from voicetech.summary.records import SectionTime


@dataclass(frozen=True, slots=True)
class Times:
    """When a job began and was worked on last, and for how many seconds it and each section were worked on."""

    first_at_s: float | None
    last_at_s: float | None
    worked_s: int
    sections: tuple[SectionTime, ...]


@dataclass(slots=True)
class _Clock:
    first_s: float | None = None
    last_s: float | None = None
    worked_s: float = 0.0
    running: bool = True
    section: str | None = None
    seconds: dict[str, float] = field(default_factory=dict)
    visits: dict[str, int] = field(default_factory=dict)

    def take(self, event: Event) -> None:
        at_s = getattr(event, "at_s", None)
        if at_s is not None:
            self._pass(at_s, counts=self.running and not isinstance(event, JobReopened))
        match event:
            case StepEntered(section=section):
                self._enter(section)
            case Paused() | JobClosed():
                self.running = False
            case Resumed() | JobReopened():
                self.running = True
            case _:
                pass

    def _pass(self, at_s: float, counts: bool) -> None:
        if self.first_s is None:
            self.first_s = at_s
        # A clock that was set back gives no time, and none is taken away for it.
        elif self.last_s is not None and counts and at_s > self.last_s:
            self.worked_s += at_s - self.last_s
            if self.section is not None:
                self.seconds[self.section] = self.seconds.get(self.section, 0.0) + at_s - self.last_s
        self.last_s = at_s

    def _enter(self, section: str) -> None:
        if section != self.section:
            self.visits[section] = self.visits.get(section, 0) + 1
            self.section = section


def times_of(events: Iterable[Event]) -> Times:
    """Return the times of a job.

    The time until an answer belongs to the section whose step was asked. What passes while the job is paused, on a
    call, or between two starts of the program belongs to nothing.
    """
    clock = _Clock()
    last_at_s: float | None = None
    for event in events:
        clock.take(event)
        at_s = getattr(event, "at_s", None)
        if at_s is not None:
            last_at_s = at_s if last_at_s is None else max(at_s, last_at_s)
    sections = tuple(
        SectionTime(section, visits, round(clock.seconds.get(section, 0.0))) for section, visits in clock.visits.items()
    )
    return Times(clock.first_s, last_at_s, round(clock.worked_s), sections)
