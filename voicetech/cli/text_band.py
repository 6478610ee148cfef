"""A reading beside its limits as a line of text."""

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from voicetech.showing.bands import Placed

LEAST: Final = 12
"""Columns below which the line tells nothing."""
_SIGNS: Final = {"start": "├", "stop": "┤", "out": "─", "in": "═", "at": "◆", "less": "◀", "more": "▶"}
_ASCII: Final = {"start": "|", "stop": "|", "out": "-", "in": "=", "at": "*", "less": "<", "more": ">"}


def text_band(band: "Placed", columns: int, *, ascii_only: bool = False) -> str:
    """Return a line so many columns wide: limits in brackets, the reading on its side of them; "" where it has no room.

    A reading beyond what is shown is an arrow at that end.
    """
    if columns < LEAST:
        return ""
    signs = _ASCII if ascii_only else _SIGNS
    inner = columns - 2
    low = None if band.low is None else _column(band.low, inner)
    high = None if band.high is None else _column(band.high, inner)
    if low is not None and high is not None and high - low < 2:
        # Room for a reading between two limits that are near to one another, and for one beyond them.
        low, high = (low, low + 2) if low + 2 < inner - 1 else (high - 2, high)
    cells = [
        signs["in"] if (low is None or low < at) and (high is None or at < high) else signs["out"]
        for at in range(inner)
    ]
    if low is not None:
        cells[low] = "["
    if high is not None:
        cells[high] = "]"
    line = [signs["start"], *cells, signs["stop"]]
    if band.beyond:
        line[0 if band.beyond < 0 else -1] = signs["less" if band.beyond < 0 else "more"]
    elif band.value is not None:
        line[1 + _reading_column(band, band.value, low, high, inner)] = signs["at"]
    return "".join(line)


def _column(share: float, inner: int) -> int:
    return min(inner - 1, max(0, round(share * (inner - 1))))


def _reading_column(band: "Placed", value: float, low: int | None, high: int | None, inner: int) -> int:
    """Return where the reading stands, never on a bracket and always on the side of it where it lies."""
    at = _column(value, inner)
    if low is not None and band.low is not None:
        at = max(at, low + 1) if value >= band.low else min(at, low - 1)
    if high is not None and band.high is not None:
        at = min(at, high - 1) if value <= band.high else max(at, high + 1)
    return min(inner - 1, max(0, at))
