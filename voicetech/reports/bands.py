"""A reading beside its limits, drawn as a small picture that needs no colour and no text.

The grey band is what lies within the limits, the upright strokes are the limits, the diamond is the reading; an arrow
at an end is a reading beyond what is shown. The figures stand in words beside it.
"""

from typing import Final

from markupsafe import Markup

from voicetech.showing.bands import Band, Placed, band_of, placed

__all__ = ["HEIGHT", "WIDTH", "Band", "band_of", "drawn"]

WIDTH: Final = 110
HEIGHT: Final = 14
_LEFT: Final = 12.0
_RIGHT: Final = WIDTH - 12.0
_TOP: Final = 2.0
_MIDDLE: Final = 7.0
_FOOT: Final = 12.0


def drawn(band: Band, described: str) -> Markup:
    """Return the picture as SVG; `described` is what it says to somebody who cannot see it."""
    stands = placed(band)
    left = _LEFT if stands.low is None else _x(stands.low)
    right = _RIGHT if stands.high is None else _x(stands.high)
    shapes = [
        f'<rect x="{left}" y="{_TOP}" width="{right - left:.1f}" height="{_FOOT - _TOP}" fill="#d4d4d4"/>',
        f'<line x1="{_LEFT}" y1="{_MIDDLE}" x2="{_RIGHT}" y2="{_MIDDLE}" stroke="#666"/>',
        *(_end(place) for end, place in ((band.low, left), (band.high, right)) if end is not None),
        _mark(stands),
    ]
    return Markup(  # the shapes are made of numbers alone  # noqa: S704
        f'<svg xmlns="http://www.w3.org/2000/svg" class="band" role="img" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}"><title>{{}}</title>' + "".join(shapes) + "</svg>"
    ).format(described)


def _x(share: float) -> float:
    return round(_LEFT + share * (_RIGHT - _LEFT), 1)


def _end(place: float) -> str:
    return f'<line class="limit" x1="{place}" y1="0" x2="{place}" y2="{HEIGHT}" stroke="#000" stroke-width="1.4"/>'


def _mark(stands: Placed) -> str:
    """Return a diamond at the value, or an arrow at the edge where it lies beyond what is shown."""
    if stands.value is None and stands.beyond > 0:
        return _shape(((WIDTH - 1, _MIDDLE), (WIDTH - 10, _MIDDLE - 6), (WIDTH - 10, _MIDDLE + 6)))
    if stands.value is None:
        return _shape(((1, _MIDDLE), (10, _MIDDLE - 6), (10, _MIDDLE + 6)))
    x = _x(stands.value)
    return _shape(((x, _MIDDLE - 6), (x + 4, _MIDDLE), (x, _MIDDLE + 6), (x - 4, _MIDDLE)))


def _shape(corners: tuple[tuple[float, float], ...]) -> str:
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in corners)}" fill="#000" stroke="#fff"/>'
