"""A reading beside its limits, as shares of a line that a page, a sheet of paper or a terminal can draw."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from voicetech.events import ReadingTaken
from voicetech.language.meaning import State
from voicetech.procedure import Procedure, SafetyRole

_MARGIN: Final = Decimal("0.6")
"""How much is shown beyond the limits, as a share of what lies between them."""


@dataclass(frozen=True, slots=True)
class Band:
    """What to draw, in the unit's base: an open limit is None, a value of None is over range."""

    low: Decimal | None
    high: Decimal | None
    value: Decimal | None


@dataclass(frozen=True, slots=True)
class Placed:
    """Where the limits and the reading stand on the line, 0 at its left end and 1 at its right.

    A limit that is None is open on that side. `value` is None where the reading lies beyond what is shown; `beyond` is
    then -1 for the left end and 1 for the right, else 0. `value` is None with `beyond` 0 where nothing was read yet.
    """

    low: float | None
    high: float | None
    value: float | None
    beyond: int


def band_of(low: Decimal | None, high: Decimal | None, value: Decimal | None) -> Band | None:
    """Return what to draw, or None where there are no limits a picture could show."""
    ends = [end for end in (low, high) if end is not None]
    if not ends or min(ends) < 0 or max(ends) == 0:
        return None
    if low is not None and high is not None and low >= high:
        return None
    return Band(low, high, value)


def band_of_reading(procedure: Procedure, taken: ReadingTaken) -> Band | None:
    """Return what to draw of a reading as it was judged: its leads taken off, an open circuit over range."""
    if taken.state not in (None, State.OPEN):
        return None
    value = taken.value
    judged_whole = procedure.step(taken.section, taken.step).role is SafetyRole.NULL_LEADS
    if value is not None and taken.lead_ohm is not None and not judged_whole:
        value = max(value - taken.lead_ohm, Decimal(0))
    return band_of(taken.low, taken.high, value)


def placed(band: Band, *, read: bool = True) -> Placed:
    """Return where limits and reading stand; without `read` only the limits are placed."""
    start, stop = _axis(band)

    def share(value: Decimal) -> float:
        return round(float((value - start) / (stop - start)), 4)

    low = None if band.low is None else share(band.low)
    high = None if band.high is None else share(band.high)
    if not read:
        return Placed(low, high, None, 0)
    if band.value is None or band.value > stop:
        return Placed(low, high, None, 1)
    if band.value < start:
        return Placed(low, high, None, -1)
    return Placed(low, high, share(band.value), 0)


def _axis(band: Band) -> tuple[Decimal, Decimal]:
    if band.high is None:
        return Decimal(0), (band.low or Decimal(1)) * (1 + _MARGIN)
    if band.low is None:
        return Decimal(0), band.high * (1 + _MARGIN)
    beyond = (band.high - band.low) * _MARGIN
    return max(band.low - beyond, Decimal(0)), band.high + beyond
