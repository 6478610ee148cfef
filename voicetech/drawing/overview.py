"""The whole job on a sheet: its phases down the page, the sections of each, and what safety puts in front of them."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.drawing.letters import Line, broken, lines_of, words_of
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.page import LONG, SHORT, SMALL, SMALL_LINE, TEXT, TEXT_LINE, Drawn, Page, arrow_down
from voicetech.drawing.signs import goal_sign, octagon
from voicetech.drawing.ways import To, ways_of
from voicetech.drawing.words import NEEDS, PHASES, comes_up_words, condition_words, minutes_words
from voicetech.language.plural import so_many
from voicetech.procedure import (
    Needs,
    Phase,
    Procedure,
    Section,
    Step,
)
from voicetech.showing.ink import number

_SIDE: Final = 74.0
_APART: Final = 10.0
_LANE: Final = 20.0
_INSIDE: Final = 6.0
_GAP: Final = 7.0
_SIGN: Final = 16.0
_ONE_LINE_FROM: Final = 250.0
"""Boxes wider than this have their words in one paragraph."""
_FLOW: Final = 13.0
_FOOT: Final = 22.0


@dataclass(frozen=True, slots=True)
class _Strip:
    """A piece of the sheet over its whole width: how high it is, and what draws it below a height."""

    high: float
    draw: Callable[[Page, float], None]
    band: str = ""


def overview_sheets(procedure: Procedure, numbers: Numbers) -> tuple[Drawn, ...]:
    """Return the overview, on as many sheets as it takes."""
    strips = list(_strips(procedure, numbers))
    sheets: list[list[_Strip]] = [[]]
    used = _HEAD
    for strip in strips:
        if sheets[-1] and used + strip.high > LONG - _FOOT:
            sheets.append([])
            used = _HEAD
        sheets[-1].append(strip)
        used += strip.high
    return tuple(_drawn(procedure, numbers, sheets, at) for at in range(len(sheets)))


_HEAD: Final = 26 + 2 * SMALL_LINE + 10


def _drawn(procedure: Procedure, numbers: Numbers, sheets: Sequence[Sequence[_Strip]], at: int) -> Drawn:
    of = f"sheet {at + 1} of {len(sheets)}" if len(sheets) > 1 else ""
    page = Page()
    steps = sum(len(section.steps) for section in numbers.sections)
    counted = f"{so_many(len(numbers.sections), 'section')}, {so_many(steps, 'step')}"
    intro = (
        f"{counted}, in the order of the job. 7.3 is the third step of section 7. Danger words stop the job at any "
        "step; the way back is its own words, then all of making safe. No safety step is skipped."
    )
    page.head("Overview", ", ".join(filter(None, [procedure.title, of])), lines_of(intro, SMALL, SHORT))
    y = _HEAD
    spans: dict[str, tuple[float, float]] = {}
    for strip in sheets[at]:
        strip.draw(page, y)
        if strip.band:
            first = spans.get(strip.band, (y, y))[0]
            spans[strip.band] = first, y + strip.high
        y += strip.high
    _draw_back(page, numbers, spans)
    page.foot(procedure)
    page.said.append(f"{intro} {' '.join(_in_words(procedure, numbers))}")
    return page.finished(f"00-overview{f'-{at + 1}' if len(sheets) > 1 else ''}", f"Overview: {procedure.title}")


def _strips(procedure: Procedure, numbers: Numbers) -> Iterator[_Strip]:
    safety = [section for section in numbers.sections if section.role is not None]
    yield from _band(procedure, numbers, "Safety", "in front of any step that needs it", safety)
    present = [phase for phase in Phase if any(s.phase is phase and s.role is None for s in numbers.sections)]
    for place, phase in enumerate(present):
        sections = [s for s in numbers.sections if s.phase is phase and s.role is None]
        yield _Strip(_FLOW, _flow(first=place == 0))
        yield from _band(procedure, numbers, PHASES[phase], _how(phase), sections)
    yield _Strip(_FLOW, _flow(first=False))
    yield _Strip(22.0, _end)


def _how(phase: Phase) -> str:
    if phase is not Phase.TEST:
        return ""
    return "the one that tells most for its minutes comes first; until a cause is proved"


def _flow(*, first: bool) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        if first:
            page.text(_SIDE / 2 - 6, y + 9, "start", SMALL, anchor="end")
        page.path(f"M{number(_SIDE / 2)} {number(y - 4)}V{number(y + 9)}")
        arrow_down(page, _SIDE / 2, y + 12)

    return draw


def _end(page: Page, y: float) -> None:
    page.path(f"M10 {number(y + 1)}h{number(_SIDE - 28)}a8 8 0 0 1 0 16h-{number(_SIDE - 28)}a8 8 0 0 1 0 -16z")
    page.text(_SIDE / 2 - 4, y + 13, "CLOSED", SMALL, heavy=True, anchor="middle")
    goal_sign(page, _SIDE + 8, y + 9, To.HAND_OVER, proved=False)
    says = "STOP, HAND OVER closes the job at once, from wherever it stands: somebody else takes over."
    page.text(_SIDE + 20, y + 13, says, SMALL)


def _band(procedure: Procedure, numbers: Numbers, name: str, how: str, sections: Sequence[Section]) -> Iterator[_Strip]:
    """Yield the rows of boxes of one phase; its name stands at the side of the first."""
    across = _across(len(sections))
    wide = (SHORT - _SIDE - _LANE - _APART * (across - 1)) / across
    boxes = [(section, _box_lines(procedure, numbers, section, wide)) for section in sections]
    beside = (*lines_of(name, TEXT, _SIDE - 8, heavy=True), *lines_of(how, SMALL, _SIDE - 10))
    for start in range(0, len(boxes), across):
        row = boxes[start : start + across]
        high = max(_box_high(lines) for _, lines in row)
        if start == 0 and len(boxes) <= across:
            high = max(high, SMALL_LINE * len(beside) + 6)
        yield _Strip(high + _GAP, _row(row, wide, high, beside if start == 0 else ()), name)


def _across(count: int) -> int:
    """Return how many boxes stand side by side: those of a short row are wide, so that they are low."""
    return count if count <= 4 else 3


def _box_lines(procedure: Procedure, numbers: Numbers, section: Section, wide: float) -> tuple[tuple[Line, float], ...]:
    room = wide - 2 * _INSIDE
    title = f"{numbers.of(section)} {section.title}"
    told = [condition_words(procedure, numbers, section.when), comes_up_words(section), _steps(procedure, section)]
    if wide > _ONE_LINE_FROM:
        words = (*words_of(f"{title}:", heavy=True), *words_of("; ".join(filter(None, told))))
        return tuple((line, SMALL) for line in broken(words, SMALL, room))
    lines = [(line, TEXT) for line in lines_of(title, TEXT, room - _SIGN, heavy=True)]
    for words_told in filter(None, told):
        lines += [(line, SMALL) for line in lines_of(words_told, SMALL, room)]
    return tuple(lines)


def _steps(procedure: Procedure, section: Section) -> str:
    needs = [NEEDS[each] for each in Needs if each is not Needs.ANY and any(s.needs is each for s in section.steps)]
    minutes = minutes_words(procedure, section)
    counted = ", ".join(filter(None, [so_many(len(section.steps), "step"), minutes]))
    return f"{counted}{': ' if needs else ''}{', '.join(needs)}"


def _box_high(lines: Sequence[tuple[Line, float]]) -> float:
    return sum(TEXT_LINE if size == TEXT else SMALL_LINE for _, size in lines) + 2 * _INSIDE - 4


def _row(
    row: Sequence[tuple[Section, Sequence[tuple[Line, float]]]], wide: float, high: float, beside: Sequence[Line]
) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        for place, line in enumerate(beside):
            heavy = line[0].heavy
            page.line_of_words(0, y + 12 + SMALL_LINE * place, line, TEXT if heavy else SMALL)
        for place, (section, lines) in enumerate(row):
            _draw_section(page, section, lines, (_SIDE + place * (wide + _APART), y, wide, high))

    return draw


def _draw_section(
    page: Page, section: Section, lines: Sequence[tuple[Line, float]], box: tuple[float, float, float, float]
) -> None:
    x, y, wide, high = box
    page.begin("section", section.id)
    dashed = ' stroke-dasharray="5 3"' if section.when else ""
    page.path(f"M{number(x)} {number(y)}h{number(wide)}v{number(high)}h-{number(wide)}z", 1.3, more=dashed)
    if section.role is not None:
        page.path(f"M{number(x + 3)} {number(y + 3)}h{number(wide - 6)}v{number(high - 6)}h-{number(wide - 6)}z", 1)
        octagon(page, x + wide - 14, y + 14, 7, 1.5)
        page.path(f"M{number(x + wide - 17)} {number(y + 14)}h6", 2)
    base = y + _INSIDE - 3
    for line, size in lines:
        base += TEXT_LINE if size == TEXT else SMALL_LINE
        page.line_of_words(x + _INSIDE, base, line, size)
    page.end()


def back_to_tests(numbers: Numbers) -> Iterator[tuple[Section, Step]]:
    """Yield the steps from which a job may go back to testing, with their sections."""
    for section in numbers.sections:
        for step in section.steps:
            if any(way.to is To.TESTS for way in ways_of(section, step)):
                yield section, step


def _draw_back(page: Page, numbers: Numbers, spans: dict[str, tuple[float, float]]) -> None:
    """Draw the way back to the tests at the side."""
    marks = [numbers.step(section, step.id) for section, step in back_to_tests(numbers)]
    names = dict.fromkeys(PHASES[section.phase] for section, _ in back_to_tests(numbers))
    tests = spans.get(PHASES[Phase.TEST])
    starts = [spans[name] for name in names if name in spans]
    if tests is None or not starts or not marks:
        return
    edge, right, top = SHORT - _LANE, SHORT - _LANE + 5, tests[0] + 14
    for start, _ in starts:
        page.path(f"M{number(edge)} {number(start + 14)}H{number(right)}V{number(top)}", 1.5)
    page.path(f"M{number(edge)} {number(top)}l6 -4v8z", 1, filled=True)
    middle = (max(start for start, _ in starts) + top) / 2
    words = f"back to the tests: {', '.join(marks)}"
    page.marks.append(f'<g transform="rotate(-90 {number(right + 11)} {number(middle)})">')
    page.text(right + 11, middle, words, SMALL, anchor="middle")
    page.end()


def _in_words(procedure: Procedure, numbers: Numbers) -> Iterator[str]:
    for section in numbers.sections:
        when = condition_words(procedure, numbers, section.when)
        yield f"{numbers.of(section)} {section.title}, {_steps(procedure, section)}{f', {when}' if when else ''}."
