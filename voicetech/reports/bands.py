"""A reading beside its limits, drawn as a small picture that needs no colour and no text.

The grey band is what lies within the limits, the upright strokes are the limits, the diamond is the reading; an arrow
at an end is a reading beyond what is shown. The figures stand in words beside it.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from markupsafe import Markup

WIDTH: Final = 110
HEIGHT: Final = 14
_LEFT: Final = 12.0
_RIGHT: Final = WIDTH - 12.0
_TOP: Final = 2.0
_MIDDLE: Final = 7.0
_FOOT: Final = 12.0
_MARGIN: Final = Decimal("0.6")
"""How much is shown beyond the limits, as a share of what lies between them."""


@dataclass(frozen=True, slots=True)
class Band:
    """What to draw, in the unit's base: an open limit is None, a value of None is over range."""

    low: Decimal | None
    high: Decimal | None
    value: Decimal | None


def band_of(low: Decimal | None, high: Decimal | None, value: Decimal | None) -> Band | None:
    """Return what to draw, or None where there are no limits a picture could show."""
    ends = [end for end in (low, high) if end is not None]
    if not ends or min(ends) < 0 or max(ends) == 0:
        return None
    if low is not None and high is not None and low >= high:
        return None
    return Band(low, high, value)


def drawn(band: Band, described: str) -> Markup:
    """Return the picture as SVG; `described` is what it says to somebody who cannot see it."""
    left = _LEFT if band.low is None else _place(band, band.low)
    right = _RIGHT if band.high is None else _place(band, band.high)
    shapes = [
        f'<rect x="{left}" y="{_TOP}" width="{right - left:.1f}" height="{_FOOT - _TOP}" fill="#d4d4d4"/>',
        f'<line x1="{_LEFT}" y1="{_MIDDLE}" x2="{_RIGHT}" y2="{_MIDDLE}" stroke="#666"/>',
        *(_end(place) for end, place in ((band.low, left), (band.high, right)) if end is not None),
        _mark(band),
    ]
    return Markup(  # the shapes are made of numbers alone  # noqa: S704
        f'<svg xmlns="http://www.w3.org/2000/svg" class="band" role="img" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}"><title>{{}}</title>' + "".join(shapes) + "</svg>"
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


def _end(place: float) -> str:
    return f'<line class="limit" x1="{place}" y1="0" x2="{place}" y2="{HEIGHT}" stroke="#000" stroke-width="1.4"/>'


def _mark(band: Band) -> str:
    """Return a diamond at the value, or an arrow at the edge where it lies beyond what is shown."""
    start, stop = _axis(band)
    if band.value is None or band.value > stop:
        return _shape(((WIDTH - 1, _MIDDLE), (WIDTH - 10, _MIDDLE - 6), (WIDTH - 10, _MIDDLE + 6)))
    if band.value < start:
        return _shape(((1, _MIDDLE), (10, _MIDDLE - 6), (10, _MIDDLE + 6)))
    x = _place(band, band.value)
    return _shape(((x, _MIDDLE - 6), (x + 4, _MIDDLE), (x, _MIDDLE + 6), (x - 4, _MIDDLE)))


def _shape(corners: tuple[tuple[float, float], ...]) -> str:
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="#000" stroke="#fff"/>'
