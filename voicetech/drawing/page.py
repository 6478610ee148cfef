"""One sheet of a drawing as SVG: as large as what A4 and Letter paper both leave within a half-inch margin.

A unit is 1/96 inch, so that a sheet that is shown in its own size has letters of at least 8 points.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Final

from voicetech.drawing.letters import FONTS, Line
from voicetech.drawing.words import OUTRANKED
from voicetech.procedure import Procedure
from voicetech.showing.ink import THIN, Sheet, number

UNITS_PER_MM: Final = 96 / 25.4
SHORT_MM: Final = 182
LONG_MM: Final = 250
SHORT: Final = SHORT_MM * UNITS_PER_MM
LONG: Final = LONG_MM * UNITS_PER_MM
TEXT: Final = 12.0
"""9 points."""
SMALL: Final = 10.7
"""8 points; nothing is smaller."""
TEXT_LINE: Final = 15.0
SMALL_LINE: Final = 13.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """One finished sheet: a name for its file, its title, and the drawing as SVG; `lying` is wider than it is high."""

    name: str
    title: str
    svg: str
    lying: bool = False


@dataclass(slots=True)
class Page(Sheet):
    """What is drawn so far of one sheet."""

    lying: bool = False
    least_high: float = 0.0
    said: list[str] = field(default_factory=list)

    @property
    def width(self) -> float:
        """Return how wide it is."""
        return LONG if self.lying else SHORT

    @property
    def height(self) -> float:
        """Return how high it is."""
        return max(SHORT if self.lying else LONG, self.least_high)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = TEXT,
        *,
        heavy: bool = False,
        anchor: str = "start",
        fill: str = "",
    ) -> None:
        """Write a text with its base line at y; `anchor` says what of it stands at x (start, middle, end)."""
        weight = ' font-weight="bold"' if heavy else ""
        place = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self.marks.append(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{weight}{place} '
            f'fill="{fill or "currentColor"}" stroke="none">{escape(text)}</text>'
        )

    def line_of_words(self, x: float, y: float, line: Line, size: float = TEXT) -> None:
        """Write a line of words, some of them heavy, from x on."""
        spans: list[tuple[bool, str]] = []
        for word in line:
            if spans and spans[-1][0] == word.heavy:
                spans[-1] = word.heavy, f"{spans[-1][1]} {word.text}"
            else:
                spans.append((word.heavy, word.text))
        inner = " ".join(
            f'<tspan font-weight="bold">{escape(text)}</tspan>' if heavy else escape(text) for heavy, text in spans
        )
        self.marks.append(
            f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" fill="currentColor" stroke="none">'
            f"{inner}</text>"
        )

    def path(self, path: str, width: float = THIN, *, filled: bool = False, more: str = "") -> None:
        """Draw a path, filled or not."""
        fill = ' fill="currentColor"' if filled else ""
        self.marks.append(f'<path d="{path}" stroke-width="{number(width)}"{fill}{more}/>')

    def begin(self, kind: str, name: str) -> None:
        """Begin a group that stands for something of the procedure: what kind of thing, and its name."""
        self.marks.append(f'<g data-{kind}="{escape(name)}">')

    def end(self) -> None:
        """End the group that was begun last."""
        self.marks.append("</g>")

    def head(self, title: str, right: str, lines: Sequence[Line]) -> None:
        """Write what stands on top of the sheet: a title, what stands opposite, and lines below."""
        self.text(0, 18, title, 18, heavy=True)
        self.text(self.width - 1, 18, right, TEXT, anchor="end")
        self.path(f"M0 26H{number(self.width)}", 2)
        for place, line in enumerate(lines):
            self.line_of_words(0, 26 + SMALL_LINE * (place + 1), line, SMALL)

    def foot(self, procedure: Procedure) -> None:
        """Write what stands at the foot of every sheet: what outranks it, and which procedure it is of."""
        y = self.height - 4
        self.text(0, y, OUTRANKED, SMALL, heavy=True)
        of = f"{procedure.title}, revision {procedure.revision}"
        self.text(self.width - 1, y, of, SMALL, anchor="end")

    def finished(self, name: str, title: str) -> Drawn:
        """Return the sheet, with what was said of it in words."""
        wide, high = (LONG_MM, SHORT_MM) if self.lying else (SHORT_MM, LONG_MM)
        svg = (
            f'<svg class="sheet" xmlns="http://www.w3.org/2000/svg" role="img" width="{wide}mm" height="{high}mm" '
            f'viewBox="0 0 {number(self.width)} {number(self.height)}" fill="none" stroke="currentColor" color="black" '
            f'stroke-linecap="round" stroke-linejoin="round" font-family="{FONTS}" font-size="{number(TEXT)}">'
            f"<title>{escape(title)}</title><desc>{escape(' '.join(self.said))}</desc>{''.join(self.marks)}</svg>"
        )
        return Drawn(name, title, svg, self.lying)


def arrow_down(page: Page, x: float, y: float) -> None:
    """Draw the tip of an arrow that ends at this point from above."""
    page.path(f"M{number(x)} {number(y)}l-4 -7h8z", 1, filled=True)
