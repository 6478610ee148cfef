"""A reading beside its limits, drawn as a small inline picture that needs no colour."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from markupsafe import Markup

from voicetech.reports.wording import limit_figure
from voicetech.units import Unit

_WIDTH: Final = 150
_HEIGHT: Final = 30
_LEFT: Final = 12.0
_RIGHT: Final = _WIDTH - 12.0
_TOP: Final = 5.0
_MIDDLE: Final = 11.0
_FOOT: Final = 17.0
_MARGIN: Final = Decimal("0.6")
"""How much is shown beyond the limits, as a share of what lies between them."""


@dataclass(frozen=True, slots=True)
class Band:
    """What to draw, in the unit's base: an open limit is None, a value of None is over range."""

    low: Decimal | None
    high: Decimal | None
    value: Decimal | None
    unit: Unit | None


def band_of(low: Decimal | None, high: Decimal | None, value: Decimal | None, unit: Unit | None) -> Band | None:
    """Return what to draw, or None where there are no limits a picture could show."""
    ends = [end for end in (low, high) if end is not None]
    if not ends or min(ends) < 0 or max(ends) == 0:
        return None
    if low is not None and high is not None and low >= high:
        return None
    return Band(low, high, value, unit)


def drawn(band: Band, described: str) -> Markup:
    """Return the picture as inline SVG; `described` is what it says to somebody who cannot see it."""
    left = _LEFT if band.low is None else _place(band, band.low)
    right = _RIGHT if band.high is None else _place(band, band.high)
    shapes = [
        f'<rect x="{left}" y="{_TOP}" width="{right - left:.1f}" height="{_FOOT - _TOP}" fill="#d4d4d4"/>',
        f'<line x1="{_LEFT}" y1="{_MIDDLE}" x2="{_RIGHT}" y2="{_MIDDLE}" stroke="#666"/>',
        *(_end(end, place, band.unit) for end, place in ((band.low, left), (band.high, right)) if end is not None),
        _mark(band),
    ]
    return Markup(  # the shapes are made of numbers alone  # noqa: S704
        f'<svg class="band" role="img" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" height="{_HEIGHT}">'
        "<title>{}</title>" + "".join(shapes) + "</svg>"
    ).format(described)


def _axis(band: Band) -> tuple[Decimal, Decimal]:
    if band.high is None:
        return Decimal(0), (band.low or Decimal(1)) * (1 + _MARGIN)
    if band.low is None:
        return Decimal(0), band.high * (1 + _MARGIN)
    beyond = (band.high - band.low) * _MARGIN
    return max(band.low - beyond, Decimal(0)), band.high + beyond


def _place(band: Band, value: Decimal) -> float:
    start, stop = _axis(band)
    share = float((value - start) / (stop - start))
    return round(_LEFT + share * (_RIGHT - _LEFT), 1)


def _end(limit: Decimal, place: float, unit: Unit | None) -> str:
    figure, prefix = limit_figure(limit, unit)
    return (
        f'<line x1="{place}" y1="{_TOP - 2}" x2="{place}" y2="{_FOOT + 2}" stroke="#000"/>'
        f'<text x="{place}" y="{_HEIGHT - 2}" text-anchor="middle" font-size="9">{figure}{prefix}</text>'
    )


def _mark(band: Band) -> str:
    """Return a diamond at the value, or an arrow at the edge where it lies beyond what is shown."""
    start, stop = _axis(band)
    if band.value is None or band.value > stop:
        return _shape(((_WIDTH - 1, _MIDDLE), (_WIDTH - 10, _MIDDLE - 6), (_WIDTH - 10, _MIDDLE + 6)))
    if band.value < start:
        return _shape(((1, _MIDDLE), (10, _MIDDLE - 6), (10, _MIDDLE + 6)))
    x = _place(band, band.value)
    return _shape(((x, _MIDDLE - 6), (x + 4, _MIDDLE), (x, _MIDDLE + 6), (x - 4, _MIDDLE)))


def _shape(corners: tuple[tuple[float, float], ...]) -> str:
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="#000" stroke="#fff"/>'
