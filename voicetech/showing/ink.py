"""Lines, signs and words of a drawing as SVG: with classes for a page to style, and readable without any."""

from dataclasses import dataclass, field
from html import escape
from typing import Final

TEXT: Final = 15
"""Height of the letters: 12.5 pixels where a drawing of 360 units is shown 300 pixels wide."""
WIDTH: Final = 360
THIN: Final = 1.5
HEAVY: Final = 4
LETTER: Final = 0.54 * TEXT
"""How wide a letter is taken to be; most are narrower."""


def text_width(text: str) -> float:
    """Return how wide a text is at most, near enough to leave it room."""
    return len(text) * LETTER


def number(value: float) -> str:
    """Return a coordinate, in tenths, without a zero that says nothing."""
    return f"{value:.1f}".removesuffix(".0")


@dataclass(slots=True)
class Sheet:
    """What is drawn so far, and how far down it reaches."""

    marks: list[str] = field(default_factory=list)

    def line(self, classes: str, path: str, width: float = THIN, *, part: str = "", more: str = "") -> None:
        """Draw a path."""
        of_part = f' data-part="{escape(part)}"' if part else ""
        self.marks.append(f'<path class="{classes}"{of_part} d="{path}" stroke-width="{number(width)}"{more}/>')

    def disc(self, classes: str, x: float, y: float, radius: float, width: float = THIN, *, filled: bool) -> None:
        """Draw a circle, filled or not."""
        fill = ' fill="currentColor"' if filled else ""
        at = f'cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
        self.marks.append(f'<circle class="{classes}" {at} stroke-width="{number(width)}"{fill}/>')

    def box(self, classes: str, x: float, y: float, width: float, height: float, line: float = THIN) -> None:
        """Draw a rectangle by its upper left corner."""
        at = f'x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}" rx="3"'
        self.marks.append(f'<rect class="{classes}" {at} stroke-width="{number(line)}"/>')

    def words(self, classes: str, x: float, y: float, text: str, *, heavy: bool = False) -> None:
        """Write a text, its middle at x and its base line at y."""
        weight = ' font-weight="bold"' if heavy else ""
        at = f'x="{number(x)}" y="{number(y)}"'
        self.marks.append(
            f'<text class="{classes}" {at} text-anchor="middle" fill="currentColor" stroke="none"{weight}>'
            f"{escape(text)}</text>"
        )

    def svg(self, title: str, says: str, width: float, height: float) -> str:
        """Return the drawing, with the same said in words."""
        return (
            f'<svg class="sketch" xmlns="http://www.w3.org/2000/svg" role="img" '
            f'viewBox="0 0 {number(width)} {number(height)}" fill="none" stroke="currentColor" '
            f'stroke-linecap="round" stroke-linejoin="round" font-family="sans-serif" font-size="{TEXT}">'
            f"<title>{escape(title)}</title><desc>{escape(says)}</desc>{''.join(self.marks)}</svg>"
        )


METER_RADIUS: Final = 18.0
LEADS_DOWN: Final = 20.0
"""How far below the middle of the meter the words for its leads stand."""
_RED: Final = ' stroke="#c00000"'
_ROUND: Final = 8.0


def across(sheet: Sheet, sign: str, red: tuple[float, float], black: tuple[float, float], y: float) -> None:
    """Draw a meter at this height with its leads up to two points, each named beneath."""
    middle = (red[0] + black[0]) / 2
    for name, (x, top), colour in (("red", red, _RED), ("black", black, "")):
        inward = 1 if x < middle else -1
        edge = middle - inward * METER_RADIUS
        path = f"M{number(x)} {number(top)}V{number(y - _ROUND)}q0 {_ROUND:.0f} {inward * _ROUND:.0f} {_ROUND:.0f}"
        sheet.line(f"{name}-lead", f"{path}H{number(edge)}", 2.5, more=colour)
        # The tip of the probe.
        sheet.line(f"{name}-lead", f"M{number(x)} {number(top)}v10", 5, more=colour)
        sheet.words(f"{name}-lead", x, y + LEADS_DOWN, name)
    meter(sheet, sign, middle, y)


def meter(sheet: Sheet, sign: str, x: float, y: float) -> None:
    """Draw a meter by itself."""
    sheet.disc("meter", x, y, METER_RADIUS, 2, filled=False)
    sheet.words("meter", x, y + TEXT * 0.36, sign, heavy=True)
