"""How moments are written in a report: by the clock of one place, the day named only where it is another."""

from dataclasses import dataclass
from datetime import datetime, tzinfo


@dataclass(frozen=True, slots=True)
class Clock:
    """Writes moments (seconds since the epoch) by `zone`, or by this computer where it is None.

    `day_of_s` is a moment on the day that need not be named.
    """

    zone: tzinfo | None
    day_of_s: float | None

    def moment(self, at_s: float) -> str:
        """Return the day, the time of day and the zone: "2026-11-25 09:41 UTC"."""
        moment = self._at(at_s)
        return f"{moment:%Y-%m-%d %H:%M} {moment.tzname() or ''}".rstrip()

    def time(self, at_s: float) -> str:
        """Return the time of day, with the day where it is another."""
        moment = self._at(at_s)
        same_day = self.day_of_s is not None and self._at(self.day_of_s).date() == moment.date()
        return f"{moment:%H:%M}" if same_day else f"{moment:%Y-%m-%d %H:%M}"

    def _at(self, at_s: float) -> datetime:
        return datetime.fromtimestamp(at_s, self.zone).astimezone(self.zone)
