"""The symbols of parts, a few of IEC 60617 and IEEE 315 (from memory), as they lie in a line from left to right."""

from collections.abc import Callable
from dataclasses import dataclass

from voicetech.showing.ink import THIN, Sheet, number


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a symbol stands: its middle, how heavy its line is, whose it is, and whether it is closed."""

    x: float
    y: float
    line: float = THIN
    part: str = ""
    closed: bool = True


Symbol = Callable[[Sheet, str, Spot], float]
"""Draws a part with these classes and returns how far to each side of its middle it reaches."""


def contact(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a switch's contact: closed, its blade lies across both ends; open, it stands off one."""
    blade = (
        f"M{number(at.x - 17)} {number(at.y - 6)}h34"
        if at.closed
        else f"M{number(at.x - 12)} {number(at.y - 2)}l22 -13"
    )
    sheet.line(classes, blade, min(at.line, 3), part=at.part)
    for side in (-1, 1):
        sheet.disc(classes, at.x + side * 14, at.y, 3.5, filled=False)
    return 17.5


def heater(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a heating element, a box with bars, in its sheath."""
    bars = "".join(f"M{number(at.x + step)} {number(at.y - 8)}v16" for step in (-12, 0, 12))
    box = f"M{number(at.x - 24)} {number(at.y - 8)}h48v16h-48z"
    sheet.line(classes, box, at.line, part=at.part)
    sheet.line(classes, bars, THIN)
    sheath = f"M{number(at.x - 26)} {number(at.y - 15)}h52q8 0 8 8v14q0 8 -8 8h-52q-8 0 -8 -8v-14q0 -8 8 -8z"
    sheet.line("part sheath", sheath, 1)
    return 24.0


def sensor(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a resistance that follows the temperature: a box with a bent line across."""
    box = f"M{number(at.x - 22)} {number(at.y - 8)}h44v16h-44z"
    sheet.line(classes, box, at.line, part=at.part)
    sheet.line(classes, f"M{number(at.x - 26)} {number(at.y + 15)}h10l30 -30", THIN)
    return 22.0


def supply(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw one leg of the supply: a circle with a wave."""
    path = f"M{number(at.x - 13)} {number(at.y)}a13 13 0 1 0 26 0a13 13 0 1 0 -26 0"
    sheet.line(classes, path, at.line, part=at.part)
    sheet.line(classes, f"M{number(at.x - 7)} {number(at.y)}q3.5 -8 7 0t7 0", THIN)
    return 13.0


def motor(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a motor: a circle with an M."""
    path = f"M{number(at.x - 15)} {number(at.y)}a15 15 0 1 0 30 0a15 15 0 1 0 -30 0"
    sheet.line(classes, path, at.line, part=at.part)
    sheet.line(classes, f"M{number(at.x - 6)} {number(at.y + 6)}v-12l6 8l6 -8v12", THIN)
    return 15.0


def lamp(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a lamp: a circle with a cross."""
    path = f"M{number(at.x - 12)} {number(at.y)}a12 12 0 1 0 24 0a12 12 0 1 0 -24 0"
    sheet.line(classes, path, at.line, part=at.part)
    sheet.line(classes, f"M{number(at.x - 8.5)} {number(at.y - 8.5)}l17 17m0 -17l-17 17", THIN)
    return 12.0


def load(sheet: Sheet, classes: str, at: Spot) -> float:
    """Draw a load that is always on, and nothing that is tested: a plain box."""
    sheet.line(classes, f"M{number(at.x - 20)} {number(at.y - 7)}h40v14h-40z", at.line, part=at.part)
    return 20.0
