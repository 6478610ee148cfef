"""Signs of the sheets: what a step needs, what kind it is, where a way leads. Each differs in shape, none in colour."""

import math

from voicetech.drawing.letters import width_of
from voicetech.drawing.page import SMALL, Page
from voicetech.drawing.ways import To
from voicetech.drawing.words import NEEDS
from voicetech.procedure import Ask, Hold, Inspect, Measure, Needs
from voicetech.showing.ink import number
from voicetech.showing.sketch import SIGNS
from voicetech.units import Unit


def need_sign(page: Page, x: float, y: float, needs: Needs) -> float:
    """Draw what a step needs, from x on and around y, and return how wide it is.

    DEAD is filled, LIVE has points, POWER ON is round, ANY has no frame.
    """
    text = NEEDS[needs]
    width = width_of(text, SMALL, heavy=True) + 3
    tip = 6.0 if needs is Needs.LIVE else 0.0
    top, left, right = number(y - 8), number(x + tip), number(x + tip + width)
    match needs:
        case Needs.DEAD:
            page.path(f"M{left} {top}H{right}v16H{left}z", 1, filled=True)
        case Needs.LIVE:
            page.path(f"M{left} {top}H{right}l{number(tip)} 8l-{number(tip)} 8H{left}l-{number(tip)} -8z", 2)
        case Needs.POWERED:
            page.path(f"M{number(x + 8)} {top}H{number(x + width - 8)}a8 8 0 0 1 0 16H{number(x + 8)}a8 8 0 0 1 0 -16z")
        case Needs.ANY:
            pass
    fill = "#fff" if needs is Needs.DEAD else ""
    page.text(x + tip + width / 2, y + 4, text, SMALL, heavy=needs is not Needs.ANY, anchor="middle", fill=fill)
    return width + 2 * tip


def octagon(page: Page, x: float, y: float, radius: float, width: float = 1.5, *, filled: bool = False) -> None:
    """Draw the sign of a stop."""
    corners = [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in (math.pi / 8 * n for n in range(1, 16, 2))]
    page.path("M" + "L".join(f"{number(px)} {number(py)}" for px, py in corners) + "z", width, filled=filled)


def goal_sign(page: Page, x: float, y: float, to: To, *, proved: bool) -> None:
    """Draw in a square of 10 units around the point what a way comes to."""
    match to:
        case To.DANGER:
            octagon(page, x, y, 6, filled=True)
        case To.HAND_OVER:
            octagon(page, x, y, 5.5)
            page.path(f"M{number(x)} {number(y - 3)}v3.5", 1.5)
            page.path(f"M{number(x)} {number(y + 2.8)}v.2", 1.8)
        case To.END if proved:
            page.path(f"M{number(x)} {number(y - 5.5)}l5.5 5.5l-5.5 5.5l-5.5 -5.5z", 1, filled=True)
        case To.END:
            page.path(f"M{number(x)} {number(y - 5)}v8M{number(x - 5)} {number(y + 4)}h10", 2)
        case To.TESTS:
            page.path(f"M{number(x + 5)} {number(y + 4)}v-5a4 4 0 0 0 -8 0v3", 1.5)
            page.path(f"M{number(x - 3)} {number(y + 5)}l-3 -5h6z", 1, filled=True)
        case To.STEP:
            page.path(f"M{number(x - 5)} {number(y)}h6", 1.5)
            page.path(f"M{number(x + 6)} {number(y)}l-6 -3.5v7z", 1, filled=True)
        case To.BELOW:
            page.path(f"M{number(x)} {number(y - 5)}v5", 1.5)
            page.path(f"M{number(x)} {number(y + 6)}l-3.5 -6h7z", 1, filled=True)


def warning_sign(page: Page, x: float, y: float) -> None:
    """Draw a triangle with its mark, its middle at the point."""
    page.path(f"M{number(x)} {number(y - 6)}l6.5 11h-13z", 1.3)
    page.path(f"M{number(x)} {number(y - 2)}v3.5", 1.4)
    page.path(f"M{number(x)} {number(y + 3.2)}v.2", 1.6)


def kind_sign(page: Page, x: float, y: float, kind: type, unit: Unit | None = None) -> None:
    """Draw in a square of 22 units around the point what kind of step it is, a measurement with its unit."""
    if kind is Hold:
        octagon(page, x, y, 11, 2.5)
        page.path(f"M{number(x - 5)} {number(y)}h10", 3)
    elif kind is Measure:
        page.path(f"M{number(x - 10)} {number(y)}a10 10 0 1 0 20 0a10 10 0 1 0 -20 0", 1.5)
        sign = SIGNS.get(unit, "") if unit is not None else ""
        page.text(x, y + 4, sign, SMALL, heavy=True, anchor="middle")
    elif kind is Inspect:
        page.path(f"M{number(x - 11)} {number(y)}q11 -14 22 0q-11 14 -22 0z", 1.5)
        page.path(f"M{number(x - 3)} {number(y)}a3 3 0 1 0 6 0a3 3 0 1 0 -6 0", 1.5, filled=True)
    elif kind is Ask:
        page.path(f"M{number(x - 10)} {number(y - 8)}h20v13h-12l-4 5v-5h-4z", 1.5)
        page.text(x, y + 2.5, "?", SMALL, heavy=True, anchor="middle")
    else:
        page.path(f"M{number(x - 9)} {number(y - 9)}h18v18h-18z", 1.5)
        page.path(f"M{number(x - 5)} {number(y)}l4 5l7 -10", 1.5)
