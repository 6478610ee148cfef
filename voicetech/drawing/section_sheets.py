"""A section on paper: its steps down the sheet as they are written, and beside each where its results lead.

The order of the file is the main way, so it is one straight line; only jumps leave it, and stand at the side.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.drawing.lanes import Jump, in_lanes
from voicetech.drawing.letters import Line, line_width, lines_of, width_of
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.page import LONG, SHORT, SMALL, SMALL_LINE, Drawn, Page, arrow_down
from voicetech.drawing.section_rows import BOX, GAP, SIGN, TWICE, Row, rows_of
from voicetech.drawing.signs import goal_sign, kind_sign, need_sign, octagon, warning_sign
from voicetech.drawing.words import (
    NEEDS,
    PHASES,
    ROLES,
    asked_words,
    condition_words,
    kind_words,
)
from voicetech.procedure import Hold, Measure, Needs, Phase, Procedure, Section
from voicetech.showing.ink import number

_BOX_AT: Final = 82.0
_OUT_AT: Final = 378.0
_OUT_WORDS_AT: Final = _OUT_AT + 14
_GATE_ENDS: Final = 628.0
_LANES_AT: Final = 636.0
_LANE: Final = 8.0
_MOST_LANES: Final = 6
_FLOW_AT: Final = _BOX_AT + 26
_PAST_AT: Final = _BOX_AT - 8
_ENTRY_AT: Final = _BOX_AT + BOX - 36
_FOOT: Final = 54.0
_END: Final = 30.0
_FROM: Final = 6.0
_DASHES: Final = ' stroke-dasharray="5 3"'


def section_sheets(procedure: Procedure, numbers: Numbers, section: Section) -> tuple[Drawn, ...]:
    """Return the section as one sheet, or as several where its steps do not stand on one."""
    head = _head(procedure, numbers, section)
    sheets = _shared_out(rows_of(procedure, numbers, section), head)
    return tuple(_drawn(procedure, numbers, section, head, sheets, at) for at in range(len(sheets)))


@dataclass(frozen=True, slots=True)
class _Head:
    """What stands on top of each of the section's sheets."""

    title: str
    phase: str
    lines: tuple[Line, ...]

    @property
    def high(self) -> float:
        return 30 + SMALL_LINE * len(self.lines) + 8


def _head(procedure: Procedure, numbers: Numbers, section: Section) -> _Head:
    conditions = condition_words(procedure, numbers, section.when)
    told = [f"{conditions[:1].upper()}{conditions[1:]}." if conditions else "", asked_words(procedure, section)]
    if section.role is not None:
        told.append(ROLES[section.role])
    phase = "Safety" if section.role is not None else PHASES[section.phase]
    title = f"{numbers.of(section)}  {section.title}"
    return _Head(title, phase, lines_of(" ".join(filter(None, told)), SMALL, SHORT))


def _shared_out(rows: Sequence[Row], head: _Head) -> list[list[Row]]:
    """Return the rows of each sheet: as few sheets as there need be, and none nearly empty beside full ones."""
    room = LONG - head.high - _FOOT - _END
    sheets = _filled(rows, room)
    if len(sheets) == 1:
        return sheets
    even = sum(row.high for row in rows) / len(sheets)
    shares = (_filled(rows, least) for least in range(int(even), int(room), 10))
    return next((shared for shared in shares if len(shared) == len(sheets)), sheets)


def _filled(rows: Sequence[Row], room: float) -> list[list[Row]]:
    sheets: list[list[Row]] = [[]]
    used = 0.0
    for row in rows:
        if sheets[-1] and used + row.high > room:
            sheets.append([])
            used = 0.0
        sheets[-1].append(row)
        used += row.high
    return sheets


def _drawn(
    procedure: Procedure, numbers: Numbers, section: Section, head: _Head, sheets: Sequence[Sequence[Row]], at: int
) -> Drawn:
    rows = sheets[at]
    # A step with more results than a sheet holds makes its sheet smaller, so that none is lost.
    page = Page(least_high=head.high + sum(row.high for row in rows) + _END + _FOOT)
    of = f", sheet {at + 1} of {len(sheets)}" if len(sheets) > 1 else ""
    page.head(head.title, f"{head.phase}{of}", head.lines)
    y = head.high
    before = sheets[at - 1][-1] if at else None
    if before is not None and before.goes_on:
        page.text(_FLOW_AT + 10, y + 9, f"from {before.mark}", SMALL, heavy=True)
    tops: dict[str, float] = {}
    starts: dict[str, list[tuple[float, float]]] = {}
    for place, row in enumerate(rows):
        above = rows[place - 1] if place else before
        tops[row.step.id] = y
        _draw_row(page, row, y, starts, entered=above is None or above.goes_on)
        _draw_past(page, row, y, begins=place == 0, ends=place == len(rows) - 1)
        y += row.high
    _draw_ending(page, numbers, section, sheets, at, y)
    _draw_jumps(page, tops, starts)
    _draw_foot(page, procedure)
    page.said.append(_in_words(head, rows))
    mark = numbers.of(section).lower().zfill(2)
    part = f"-{at + 1}" if len(sheets) > 1 else ""
    return page.finished(f"{mark}-{section.id}{part}", f"{head.title}{of}")


def _draw_row(page: Page, row: Row, top: float, starts: dict[str, list[tuple[float, float]]], *, entered: bool) -> None:
    page.begin("step", row.step.id)
    y = top + GAP
    if entered:
        page.path(f"M{number(_FLOW_AT)} {number(top)}V{number(y - 3)}")
        arrow_down(page, _FLOW_AT, y)
    for lines in row.gates:
        y = _draw_gate(page, lines, y)
    _draw_box(page, row, y)
    ends = y + row.box_high
    if row.falls:
        page.path(f"M{number(_FLOW_AT)} {number(ends)}V{number(top + row.high)}")
    else:
        page.path(f"M{number(_FLOW_AT)} {number(ends)}v5M{number(_FLOW_AT - 8)} {number(ends + 5)}h16", 2.5)
    page.text(_PAST_AT - 5, y + 13, row.mark, 14, heavy=True, anchor="end")
    need_sign(page, 1, y + 30, row.step.needs)
    _draw_outs(page, row, y + 9, starts)
    page.end()


def _draw_outs(page: Page, row: Row, y: float, starts: dict[str, list[tuple[float, float]]]) -> None:
    for out in row.outs:
        page.begin("way", " ".join(out.way.results))
        goal_sign(page, _OUT_AT + 5, y - 3, out.way.to, proved=out.way.proved)
        for place, line in enumerate(out.lines):
            page.line_of_words(_OUT_WORDS_AT, y + place * SMALL_LINE, line, SMALL)
        if out.jump:
            ends = _OUT_WORDS_AT + line_width(out.lines[0], SMALL) + 4
            starts.setdefault(out.jump, []).append((min(ends, _LANES_AT - 4), y - 3.5))
        page.end()
        y += SMALL_LINE * len(out.lines) + 3


def _draw_gate(page: Page, lines: Sequence[Line], y: float) -> float:
    """Draw the bar that nobody passes without what it says, and return where it ends."""
    high = SMALL_LINE * len(lines) + 3
    page.path(f"M{number(_BOX_AT)} {number(y)}H{number(_GATE_ENDS)}v{number(high)}H{number(_BOX_AT)}z", 1, filled=True)
    page.marks.append('<g class="gate" color="#fff">')
    octagon(page, _BOX_AT + 12, y + high / 2, 6.5, 1.5)
    page.path(f"M{number(_BOX_AT + 9)} {number(y + high / 2)}h6", 2)
    for place, line in enumerate(lines):
        page.line_of_words(_BOX_AT + 24, y + SMALL_LINE * (place + 1) - 1.5, line, SMALL)
    page.end()
    return y + high + 3


def _draw_box(page: Page, row: Row, y: float) -> None:
    left, right, high = _BOX_AT, _BOX_AT + BOX, row.box_high
    dashed = _DASHES if row.step.when else ""
    if isinstance(row.step, Hold):
        page.path(_cut_corners(left, y, right, y + high), 2.5, more=dashed)
        page.path(_cut_corners(left + 4, y + 4, right - 4, y + high - 4), 1)
    else:
        page.path(f"M{number(left)} {number(y)}H{number(right)}v{number(high)}H{number(left)}z", 1.3, more=dashed)
    base = y + row.inside - 3
    kind_at = 0.0
    for each in row.written:
        base += each.high
        if not kind_at and each.line[0].heavy:
            kind_at = base + 3
        if each.warning == 1:
            warning_sign(page, left + row.inside + 6, base - 4)
        page.line_of_words(left + row.inside + each.indent, base, each.line, each.size)
    unit = row.step.unit if isinstance(row.step, Measure) else None
    kind_sign(page, right - row.inside - SIGN / 2 + 4, kind_at, type(row.step), unit)


def _cut_corners(left: float, top: float, right: float, bottom: float) -> str:
    cut = 9
    across, down = number(right - left - 2 * cut), number(bottom - top - 2 * cut)
    return (
        f"M{number(left + cut)} {number(top)}h{across}l{cut} {cut}v{down}l-{cut} {cut}h-{across}l-{cut} -{cut}v-{down}z"
    )


def _draw_past(page: Page, row: Row, top: float, *, begins: bool, ends: bool) -> None:
    """Draw the way past steps whose conditions do not hold: one for all that have the same."""
    if not row.passed_at:
        return
    bottom = top + row.high
    if row.passed_at in ("first", "alone"):
        path = f"M{number(_FLOW_AT)} {number(top + 4)}H{number(_PAST_AT)}V{number(bottom)}"
    else:
        path = f"M{number(_PAST_AT)} {number(top - (_FROM if begins else 0))}V{number(bottom)}"
    if row.passed_at in ("last", "alone"):
        path += f"H{number(_FLOW_AT)}"
    elif ends:
        path += "v8"
        arrow_down(page, _PAST_AT, bottom + 12)
    page.path(path, 1, more=_DASHES)


def _draw_ending(
    page: Page, numbers: Numbers, section: Section, sheets: Sequence[Sequence[Row]], at: int, y: float
) -> None:
    """Draw where the main way goes at the foot of the sheet."""
    last = sheets[at][-1]
    if at + 1 < len(sheets) and (last.goes_on or last.passed_at):
        words = f"on to {sheets[at + 1][0].mark}, next sheet" if last.goes_on else "past them, next sheet"
        page.text(_FLOW_AT + 10, y + 12, words, SMALL, heavy=True)
    if not last.goes_on:
        return
    page.path(f"M{number(_FLOW_AT)} {number(y)}v8")
    arrow_down(page, _FLOW_AT, y + 12)
    if at + 1 < len(sheets):
        return
    words = f"END of {numbers.of(section)}: {_what_follows(section)}"
    across = number(width_of(words, SMALL, heavy=True) + 4)
    page.path(f"M{number(_BOX_AT + 8)} {number(y + 12)}h{across}a8 8 0 0 1 0 16h-{across}a8 8 0 0 1 0 -16z")
    page.text(_BOX_AT + 10, y + 24, words, SMALL, heavy=True)


def _what_follows(section: Section) -> str:
    if section.role is not None:
        return "back to the step that waits"
    if section.phase is Phase.TEST:
        return "the next test, or deciding where a cause is proved"
    return "the next section whose conditions hold"


def _draw_jumps(page: Page, tops: Mapping[str, float], starts: Mapping[str, Sequence[tuple[float, float]]]) -> None:
    jumps = {
        step: Jump(step, tuple(y for _, y in ends), tops[step] + 5) for step, ends in starts.items() if step in tops
    }
    for step, lane in in_lanes(tuple(jumps.values()), _MOST_LANES).items():
        jump = jumps[step]
        x = _LANES_AT + lane * _LANE
        page.begin("jump", step)
        page.path(f"M{number(x)} {number(jump.top)}V{number(jump.bottom)}", 1.2)
        for from_x, y in starts[step]:
            page.path(f"M{number(from_x)} {number(y)}H{number(x)}", 1)
            if jump.top < y < jump.bottom:
                page.disc("meets", x, y, 1.8, filled=True)
        page.path(f"M{number(x)} {number(jump.end)}H{number(_ENTRY_AT)}V{number(tops[step] + GAP - 3)}", 1.2)
        arrow_down(page, _ENTRY_AT, tops[step] + GAP)
        page.end()


def _draw_foot(page: Page, procedure: Procedure) -> None:
    y = page.height - 40
    page.path(f"M0 {number(y - 11)}H{number(page.width)}", 1)
    x = 1.0
    for needs, says in _NEEDS_SAY:
        x += need_sign(page, x, y, needs) + 5
        page.text(x, y + 4, says, SMALL)
        x += width_of(says, SMALL) + 16
    says = f"Broken frame: passed by where its words do not hold. {TWICE}: once more first. OL: over range, open."
    page.text(0, y + 20, says, SMALL)
    page.foot(procedure)


_NEEDS_SAY: Final = (
    (Needs.DEAD, "isolated, proved dead"),
    (Needs.LIVE, "probes on live parts"),
    (Needs.POWERED, "covers on"),
    (Needs.ANY, "nothing is touched"),
)


def _in_words(head: _Head, rows: Sequence[Row]) -> str:
    told = [f"{head.title}."]
    for row in rows:
        ways = "; ".join(" ".join(word.text for line in out.lines for word in line) for out in row.outs)
        told.append(f"{row.mark} {NEEDS[row.step.needs]}, {kind_words(row.step)}: {row.step.prompt.short} {ways}.")
    return " ".join(told)
