"""How the sheets are read, and the reasons to stop work that they name, with what is said and who takes over."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.drawing.letters import Line, broken, words_of
from voicetech.drawing.page import LONG, SHORT, SMALL, SMALL_LINE, TEXT, Drawn, Page
from voicetech.drawing.section_rows import TWICE
from voicetech.drawing.signs import goal_sign, kind_sign, need_sign, octagon, warning_sign
from voicetech.drawing.ways import To
from voicetech.drawing.words import NEEDS_SAY, plain
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Needs, Procedure
from voicetech.showing.ink import number
from voicetech.units import Unit

_HEAD: Final = 36.0
_FOOT: Final = 24.0
_SIDE: Final = 92.0
_SIGN_AT: Final = 13.0
_WORDS_AT: Final = 32.0
_HALF: Final = SHORT / 2


@dataclass(frozen=True, slots=True)
class _Strip:
    """A piece of the sheet over its whole width."""

    high: float
    draw: Callable[[Page, float], None]


def key_sheets(procedure: Procedure) -> tuple[Drawn, ...]:
    """Return the key to the sheets with the reasons to stop work, on as many sheets as it takes."""
    strips = [*_key(), *_reasons(procedure)]
    sheets: list[list[_Strip]] = [[]]
    used = _HEAD
    for strip in strips:
        if sheets[-1] and used + strip.high > LONG - _FOOT:
            sheets.append([])
            used = _HEAD
        sheets[-1].append(strip)
        used += strip.high
    return tuple(_drawn(procedure, sheets, at) for at in range(len(sheets)))


def _drawn(procedure: Procedure, sheets: Sequence[Sequence[_Strip]], at: int) -> Drawn:
    page = Page()
    of = f"sheet {at + 1} of {len(sheets)}" if len(sheets) > 1 else ""
    title = "Key, and reasons to stop work"
    page.head(title, of, ())
    y = _HEAD
    for strip in sheets[at]:
        strip.draw(page, y)
        y += strip.high
    page.foot(procedure)
    page.said.append("The signs of the sheets, and each reason to hand over with what is said and who takes over.")
    return page.finished(f"zz-key{f'-{at + 1}' if len(sheets) > 1 else ''}", title)


def _key() -> Iterator[_Strip]:
    for needs in (Needs.DEAD, Needs.LIVE, Needs.POWERED, Needs.ANY):
        yield _Strip(20.0, _need(needs))
    yield from _in_pairs([_kind(kind) for kind, _ in _KINDS], [says for _, says in _KINDS], 27.0)
    signs = [_goal(to, proved=proved) for to, proved, _ in _GOALS]
    yield from _in_pairs([*signs, _warning, _gate], [*(says for _, _, says in _GOALS), *_MORE], 19.0)
    twice = f"{TWICE} behind a result: the step comes once more first, and the rest holds of the second time."
    frame = "A broken frame: the step is there only where its words hold; the broken line goes past it."
    for words in (twice, frame):
        yield _Strip(17.0, _sentence(words))


def _need(needs: Needs) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        need_sign(page, 1, y + 10, needs)
        page.text(_SIDE, y + 14, f"how the step needs the appliance: {NEEDS_SAY[needs]}", SMALL)

    return draw


_Sign = Callable[[Page, float, float], None]
_KINDS: Final[tuple[tuple[type, str], ...]] = (
    (Hold, "HOLD: nothing goes on until its words are said"),
    (Measure, "measure, with the unit of the reading"),
    (Inspect, "look at a part"),
    (Ask, "ask, and keep the answer"),
    (Instruct, "do, and say that it is done"),
)
_GOALS: Final = (
    (To.BELOW, False, "go on with the next step below whose words hold"),
    (To.STEP, False, "go to the step of that number"),
    (To.END, False, "the end of the section"),
    (To.END, True, "FOUND: a cause is proved, and the section ends"),
    (To.TESTS, False, "back to the tests"),
    (To.HAND_OVER, False, "STOP, HAND OVER: work ends here, somebody takes over"),
    (To.DANGER, False, "DANGER STOP: as by danger words"),
)
_MORE: Final = ("a hazard and what avoids it, behind its signal word", "comes first; nobody goes past it")


def _kind(kind: type) -> _Sign:
    return lambda page, x, y: kind_sign(page, x, y, kind, Unit.VOLT)


def _goal(to: To, *, proved: bool) -> _Sign:
    return lambda page, x, y: goal_sign(page, x, y, to, proved=proved)


def _warning(page: Page, x: float, y: float) -> None:
    warning_sign(page, x, y)


def _gate(page: Page, x: float, y: float) -> None:
    page.path(f"M{number(x - 12)} {number(y - 8)}h24v16h-24z", 1, filled=True)
    page.marks.append('<g color="#fff">')
    octagon(page, x, y, 6.5, 1.5)
    page.path(f"M{number(x - 3)} {number(y)}h6", 2)
    page.end()


def _in_pairs(signs: Sequence[_Sign], says: Sequence[str], high: float) -> Iterator[_Strip]:
    """Yield signs with their words, two side by side."""
    cells = list(zip(signs, says, strict=True))
    for start in range(0, len(cells), 2):
        yield _Strip(high, _pair(cells[start : start + 2], high))


def _pair(cells: Sequence[tuple[_Sign, str]], high: float) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        for place, (sign, says) in enumerate(cells):
            sign(page, place * _HALF + _SIGN_AT, y + high / 2)
            page.text(place * _HALF + _WORDS_AT, y + high / 2 + 4, says, SMALL)

    return draw


def _sentence(words: str) -> Callable[[Page, float], None]:
    return lambda page, y: page.text(0, y + 12, words, SMALL)


def _reasons(procedure: Procedure) -> Iterator[_Strip]:
    yield _Strip(30.0, _headed("Reasons to stop work"))
    for name, over in procedure.hand_overs.items():
        says = (*words_of(f"{plain(name)}:", heavy=True), *words_of(f"{over.say} Takes over: {over.to}."))
        lines = broken(says, SMALL, SHORT - 20)
        yield _Strip(SMALL_LINE * len(lines) + 5, _reason(name, lines))
    yield _Strip(30.0, _headed("What is said at once in danger"))
    for kind, script in procedure.danger_scripts.items():
        number_called = procedure.settings.get("emergency_number", "the emergency number")
        words = script.say.replace("{emergency_number}", number_called)
        lines = broken((*words_of(f"{kind.value}:", heavy=True), *words_of(words)), SMALL, SHORT - 20)
        yield _Strip(SMALL_LINE * len(lines) + 5, _reason(kind.value, lines, filled=True))


def _headed(words: str) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        page.path(f"M0 {number(y + 8)}H{number(page.width)}", 1)
        page.text(0, y + 24, words, TEXT, heavy=True)

    return draw


def _reason(name: str, lines: Sequence[Line], *, filled: bool = False) -> Callable[[Page, float], None]:
    def draw(page: Page, y: float) -> None:
        page.begin("reason", name)
        goal_sign(page, 7, y + 8, To.DANGER if filled else To.HAND_OVER, proved=False)
        for place, line in enumerate(lines):
            page.line_of_words(20, y + SMALL_LINE * (place + 1) - 1, line, SMALL)
        page.end()

    return draw
