"""The test points as a list: their numbers in the circuit's drawing, where they are, and which steps measure there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.drawing.circuit_layout import TEST_RADIUS
from voicetech.drawing.circuit_words import measured_at
from voicetech.drawing.letters import Line, lines_of
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.page import LONG, SHORT, SMALL, SMALL_LINE, Drawn, Page
from voicetech.drawing.words import plain
from voicetech.procedure import Procedure
from voicetech.showing.ink import number

_COLUMNS: Final = (30.0, 140.0, 450.0)
"""Where label, place and steps begin; the number stands in front."""
_WIDTHS: Final = (104.0, 300.0, SHORT - 450.0)
_HEAD: Final = 54.0
_FOOT: Final = 24.0


@dataclass(frozen=True, slots=True)
class _Row:
    name: str
    sign: str
    cells: tuple[tuple[Line, ...], ...]

    @property
    def high(self) -> float:
        return max(SMALL_LINE * max(len(cell) for cell in self.cells) + 7, 24.0)


def points_sheets(procedure: Procedure, numbers: Numbers) -> tuple[Drawn, ...]:
    """Return the list of test points, and of knobs where there is a circuit, on as many sheets as it takes."""
    rows = [*_points(procedure, numbers), *_knobs(procedure)]
    sheets: list[list[_Row]] = [[]]
    used = _HEAD
    for row in rows:
        if sheets[-1] and used + row.high > LONG - _FOOT:
            sheets.append([])
            used = _HEAD
        sheets[-1].append(row)
        used += row.high
    return tuple(_drawn(procedure, sheets, at) for at in range(len(sheets))) if rows else ()


def _points(procedure: Procedure, numbers: Numbers) -> list[_Row]:
    at = measured_at(numbers)
    nodes = procedure.circuit.nodes if procedure.circuit is not None else frozenset[str]()
    rows = []
    for place, (name, point) in enumerate(procedure.points.items(), start=1):
        where = point.at if name in nodes or procedure.circuit is None else f"{point.at} Not in the circuit."
        texts = ((point.label, True), (where, False), (", ".join(at.get(name, ())), False))
        rows.append(_row(name, str(place), texts))
    return rows


def _knobs(procedure: Procedure) -> list[_Row]:
    circuit = procedure.circuit
    if circuit is None:
        return []
    rows = []
    for knob, there in circuit.knobs.items():
        isolated = f"; isolated it is {plain(circuit.isolated[knob])}" if knob in circuit.isolated else ""
        told = f"{', '.join(plain(each) for each in there)}; at rest {plain(there[0])}{isolated}."
        rows.append(_row(knob, "", ((plain(knob), True), (f"Knob: {told}", False), ("", False))))
    return rows


def _row(name: str, sign: str, texts: Sequence[tuple[str, bool]]) -> _Row:
    cells = [lines_of(text, SMALL, width - 8, heavy=heavy) for (text, heavy), width in zip(texts, _WIDTHS, strict=True)]
    return _Row(name, sign, tuple(cells))


def _drawn(procedure: Procedure, sheets: Sequence[Sequence[_Row]], at: int) -> Drawn:
    page = Page()
    of = f"sheet {at + 1} of {len(sheets)}" if len(sheets) > 1 else ""
    page.head("Test points", of, ())
    for x, words in zip((0.0, *_COLUMNS[1:]), ("Number and label", "Where it is", "Measured at"), strict=True):
        page.text(x, 44, words, SMALL, heavy=True)
    y = _HEAD
    for row in sheets[at]:
        _draw_row(page, row, y)
        y += row.high
    page.foot(procedure)
    page.said.append("Each test point with its number in the circuit, its label, where it is and where it is measured.")
    return page.finished(f"z-points{f'-{at + 1}' if len(sheets) > 1 else ''}", "Test points")


def _draw_row(page: Page, row: _Row, y: float) -> None:
    page.begin("point", row.name)
    page.path(f"M0 {number(y - 2)}H{number(page.width)}", 0.6)
    if row.sign:
        page.disc("point", TEST_RADIUS + 1, y + 9, TEST_RADIUS, filled=False)
        page.text(TEST_RADIUS + 1, y + 13, row.sign, SMALL, heavy=True, anchor="middle")
    for x, cell in zip(_COLUMNS, row.cells, strict=True):
        for place, line in enumerate(cell):
            page.line_of_words(x, y + SMALL_LINE * (place + 1), line, SMALL)
    page.end()
