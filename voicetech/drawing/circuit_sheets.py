"""The circuit on paper: the ways of the supply, the loads as rungs between their rails, and what stands apart."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase
from typing import Final

from voicetech.drawing.circuit_laying import Laying, Placed
from voicetech.drawing.circuit_layout import (
    TEST_RADIUS,
    Laid,
    Node,
    Symbol,
    Words,
    folded,
    least_width,
)
from voicetech.drawing.circuit_rungs import Chain, Group, Rung, rungs_of
from voicetech.drawing.circuit_words import OPEN_OHM, Naming, naming_of
from voicetech.drawing.letters import lines_of
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.page import LONG, SHORT, SMALL, SMALL_LINE, TEXT, Drawn, Page
from voicetech.drawing.words import plain
from voicetech.electrical.appliance import Contact, Heater, Lamp, Leg, Motor, Platinum, Wire
from voicetech.procedure import Procedure
from voicetech.showing.ink import number
from voicetech.showing.symbols import Spot, contact, heater, lamp, load, motor, sensor, supply
from voicetech.showing.wiring import COUPLED_OHM, LOAD_OHM

_MARGIN: Final = 40.0
"""Room for a rung's number and half a node's name at both sides."""
_NUMBER_AT: Final = 26.0
_APART: Final = 14.0
_FOOT: Final = 24.0
_RAIL_HEAD: Final = 30.0
_ROOM: Final = LONG - 2 * _MARGIN
_DASHES: Final = ' stroke-dasharray="5 4"'
_GROUP_HEAD: Final = 20.0
_SHORT_RUNG: Final = 3
_TITLES: Final = {
    Group.SUPPLY: "The supply",
    Group.LOADS: "The loads",
    Group.APART: "What stands apart",
}


@dataclass(frozen=True, slots=True)
class _Numbered:
    """A rung with its number: several pieces of one have the same, and a letter each."""

    mark: str
    rung: Rung
    rails: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class _Strip:
    """Rungs of one height: one from rail to rail, or several small ones side by side."""

    group: Group
    placed: tuple[tuple[_Numbered, float, Laid], ...]
    rails: tuple[str, str] | None = None

    @property
    def top(self) -> float:
        return min(laid.top for _, _, laid in self.placed)

    @property
    def high(self) -> float:
        return max(laid.bottom for _, _, laid in self.placed) - self.top + _APART


def circuit_sheets(procedure: Procedure, numbers: Numbers) -> tuple[Drawn, ...]:
    """Return the circuit on as many lying sheets as it takes; none where the procedure has no circuit."""
    circuit = procedure.circuit
    if circuit is None:
        return ()
    naming = naming_of(procedure, circuit, numbers)
    rungs = _numbered(_in_order(rungs_of(circuit, procedure.points)))
    laying = Laying(naming, _also(rungs, _rail_nodes(rungs)))
    strips = [
        strip for group in Group for strip in _strips(laying, [each for each in rungs if each.rung.group is group])
    ]
    sheets = list(_filled(strips, naming))
    return tuple(_drawn(procedure, naming, sheets, at) for at in range(len(sheets)))


def _in_order(rungs: Sequence[Rung]) -> list[Rung]:
    """Return the rungs as they are drawn: by group, those between rails first, then long ones, then short ones."""
    groups, rails = list(Group), list(dict.fromkeys(rung.rails for rung in rungs if rung.rails is not None))

    def place(rung: Rung) -> tuple[int, int, bool]:
        by_rails = len(rails) if rung.rails is None else rails.index(rung.rails)
        return groups.index(rung.group), by_rails, not _is_long(rung)

    return sorted(rungs, key=place)


def _numbered(rungs: Sequence[Rung]) -> list[_Numbered]:
    """Return the rungs with their numbers; one that is too long for the sheet in pieces."""
    found: list[_Numbered] = []
    for place, rung in enumerate(rungs, start=1):
        railed = rung.rails is not None
        pieces = folded(rung.main, _ROOM)
        marks = [str(place)] if len(pieces) == 1 else [f"{place}{letter}" for letter in ascii_lowercase[: len(pieces)]]
        for mark, piece in zip(marks, pieces, strict=False):
            ends = (railed and piece is pieces[0], railed and piece is pieces[-1])
            found.append(_Numbered(mark, _piece(rung, piece), ends))
        lost = [chain for chain in rung.beside if not any(chain.ends <= set(piece.nodes) for piece in pieces)]
        found += [
            _Numbered(f"{place}{letter}", Rung(rung.group, chain))
            for letter, chain in zip("xyzuvw", lost, strict=False)
        ]
    return found


def _piece(rung: Rung, piece: Chain) -> Rung:
    beside = tuple(chain for chain in rung.beside if chain.ends <= set(piece.nodes))
    sheaths = {part.sheath for chain in (piece, *beside) for part in chain.parts if isinstance(part, Heater)}
    hanging = tuple(chain for chain in rung.hanging if chain.nodes[0] in sheaths)
    return replace(rung, main=piece, rails=rung.rails, beside=beside, hanging=hanging)


def _rail_nodes(rungs: Sequence[_Numbered]) -> frozenset[str]:
    return frozenset(node for each in rungs for node in each.rung.rails or ())


def _also(rungs: Sequence[_Numbered], on_rails: frozenset[str]) -> Mapping[str, str]:
    """Return for each node that stands in several rungs which they are."""
    found: dict[str, list[str]] = {}
    for each in rungs:
        for node in each.rung.nodes:
            found.setdefault(node, []).append(each.mark)
    also = {node: f"in {', '.join(marks)}" for node, marks in found.items() if len(marks) > 1}
    return {**also, **dict.fromkeys(on_rails, "a rail")}


def _strips(laying: Laying, rungs: Sequence[_Numbered]) -> Iterator[_Strip]:
    """Yield the rungs of a group: those between rails and long ones by themselves, short ones side by side."""
    long = [each.rung.main for each in rungs if each.rung.rails is None and _is_long(each.rung)]
    wider = min((_ROOM / least_width(chain) for chain in long), default=1.0)
    row: list[tuple[_Numbered, float, Laid]] = []
    ends = 0.0
    ahead = list(rungs)
    while ahead:
        each = ahead.pop(0)
        placed = _placed(laying, each, wider)
        # What has no place on its rung becomes one of its own behind it.
        marks = (f"{each.mark}{letter}" for letter in ascii_lowercase)
        ahead = [*(_Numbered(mark, lost) for mark, lost in zip(marks, placed.lost, strict=False)), *ahead]
        if each.rung.rails is not None or _is_long(each.rung):
            yield _Strip(each.rung.group, ((each, _MARGIN, placed.laid),), each.rung.rails)
            continue
        before, needed = min(placed.laid.left, -_NUMBER_AT - _NUMBER / 2), placed.laid.right + _BESIDE
        if row and ends - before + needed > LONG:
            yield _Strip(row[0][0].rung.group, tuple(row))
            row, ends = [], 0.0
        left = ends - before
        row.append((each, left, placed.laid.shifted(left)))
        ends = left + needed
    if row:
        yield _Strip(row[0][0].rung.group, tuple(row))


def _is_long(rung: Rung) -> bool:
    return len(rung.main.parts) > _SHORT_RUNG


def _placed(laying: Laying, each: _Numbered, wider: float) -> Placed:
    """Return a rung laid out: from rail to rail, as wide as long ones are, or by itself from 0 on."""
    if each.rung.rails is None and not _is_long(each.rung):
        wide = least_width(each.rung.main) * _SMALL_WIDER
        return laying.rung(each.rung, 0.0, wide, rails=(False, False), within=(-LONG, LONG))
    wide = _ROOM if each.rung.rails is not None else min(_ROOM, least_width(each.rung.main) * wider)
    within = (_MARGIN, LONG - _MARGIN)
    return laying.rung(each.rung, _MARGIN, _MARGIN + wide, rails=each.rails, within=within)


_SMALL_WIDER: Final = 1.1
_NUMBER: Final = 24.0
_BESIDE: Final = 16.0


def _head_lines(naming: Naming) -> tuple[str, ...]:
    knobs = "; ".join(f"{plain(knob)} {plain(there[0])}" for knob, there in naming.circuit.knobs.items())
    notes = "; ".join(f"{letter}: {says}" for letter, says in naming.notes.items())
    told = f"Drawn at rest: {knobs}. " if knobs else ""
    told += "Numbers in circles are test points. A node stands in several rungs, which it names, and is joined there. "
    return (f"{told}{notes + '.' if notes else ''}",)


def _head_high(naming: Naming) -> float:
    return 26 + SMALL_LINE * sum(len(lines_of(words, SMALL, LONG)) for words in _head_lines(naming)) + 12


def _heads_high(before: _Strip | None, strip: _Strip) -> float:
    """Return how much room the heads of group and rails take above a strip, None being above the first of a sheet."""
    group = 0.0 if before is not None and before.group is strip.group else _GROUP_HEAD
    rails = 0.0 if strip.rails is None or (before is not None and before.rails == strip.rails) else _RAIL_HEAD
    return group + rails


def _filled(strips: Sequence[_Strip], naming: Naming) -> Iterator[list[_Strip]]:
    room = SHORT - _head_high(naming) - _FOOT
    sheet: list[_Strip] = []
    used = 0.0
    for strip in strips:
        high = _heads_high(sheet[-1] if sheet else None, strip) + strip.high
        if sheet and used + high > room:
            yield sheet
            sheet, used = [], 0.0
            high = _heads_high(None, strip) + strip.high
        sheet.append(strip)
        used += high
    if sheet:
        yield sheet


def _drawn(procedure: Procedure, naming: Naming, sheets: Sequence[Sequence[_Strip]], at: int) -> Drawn:
    strips = sheets[at]
    y = _head_high(naming)
    # A rung that is higher than a sheet makes its sheet smaller.
    page = Page(lying=True, least_high=y + _heads_high(None, strips[0]) + strips[0].high + _FOOT)
    of = f"sheet {at + 1} of {len(sheets)}" if len(sheets) > 1 else ""
    page.head("Circuit", of, [line for words in _head_lines(naming) for line in lines_of(words, SMALL, LONG)])
    before: _Strip | None = None
    rails_end: dict[float, float] = {}
    for strip in strips:
        if before is None or before.group is not strip.group:
            page.text(0, y + 12, _TITLES[strip.group], TEXT, heavy=True)
        rails_at = y + _heads_high(before, strip) - _RAIL_HEAD
        y += _heads_high(before, strip)
        if strip.rails is not None:
            headed = before is None or before.rails != strip.rails
            _draw_rails(page, naming, strip, y - strip.top, rails_end, rails_at if headed else None)
        for each, left, laid in strip.placed:
            _draw_rung(page, naming, each, left, laid, y - strip.top)
        y += strip.high
        before = strip
    page.foot(procedure)
    page.said.append(_in_words(naming, strips))
    return page.finished(f"y{at + 1}-circuit" if len(sheets) > 1 else "y-circuit", "Circuit")


def _draw_rails(
    page: Page, naming: Naming, strip: _Strip, base: float, ends: dict[float, float], head_at: float | None
) -> None:
    """Draw the rails beside a strip, from their heads, or from where they ended above where `head_at` is None."""
    for node, x, side in zip(strip.rails or (), (_MARGIN, LONG - _MARGIN), (0, 1), strict=False):
        if not any(each.rails[side] for each, _, _ in strip.placed):
            continue
        reach = max([0.0, *(to_y for _, _, laid in strip.placed for at, _, _, to_y in laid.lines if abs(at - x) < 1)])
        if head_at is not None:
            ends[x] = head_at + 14 + TEST_RADIUS
            page.begin("node", node)
            _draw_terminal(page, naming, node, x, head_at + 14)
            place, anchor = (14.0, "start") if side == 0 else (-14.0, "end")
            page.text(x + place, head_at + 18, naming.label(node), TEXT, heavy=True, anchor=anchor)
            page.end()
        page.path(f"M{number(x)} {number(ends.get(x, base - _APART))}V{number(base + reach)}", 3)
        ends[x] = base + reach


def _draw_terminal(page: Page, naming: Naming, node: str, x: float, y: float) -> None:
    """Draw a node: a test point as a circle with its number, another as a dot."""
    test = naming.tests.get(node)
    if test is None:
        page.disc("node", x, y, 3, filled=True)
        return
    page.marks.append(
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(TEST_RADIUS)}" stroke-width="1.5" fill="#fff"/>'
    )
    page.text(x, y + 4, str(test), SMALL, heavy=True, anchor="middle")


def _draw_rung(page: Page, naming: Naming, each: _Numbered, left: float, laid: Laid, base: float) -> None:
    page.begin("rung", each.mark)
    page.text(left - _NUMBER_AT, base + 4, each.mark, TEXT, heavy=True, anchor="middle")
    for x, y, to_x, to_y in laid.lines:
        page.path(f"M{number(x)} {number(base + y)}L{number(to_x)} {number(base + to_y)}")
    for symbol in laid.symbols:
        _draw_symbol(page, naming, symbol, base)
    for node in laid.nodes:
        _draw_node(page, naming, node, base)
    page.end()


def _draw_node(page: Page, naming: Naming, node: Node, base: float) -> None:
    if node.plain:
        page.disc("node", node.x, base + node.y, 3, filled=True)
        return
    page.begin("node", node.name)
    _draw_terminal(page, naming, node.name, node.x, base + node.y)
    _draw_words(page, node.words, base)
    page.end()


def _draw_words(page: Page, all_words: Sequence[Words], base: float) -> None:
    for words in all_words:
        page.text(words.x, base + words.y, words.text, SMALL, heavy=words.heavy, anchor=words.anchor)


def _draw_symbol(page: Page, naming: Naming, symbol: Symbol, base: float) -> None:
    part, y = symbol.part, base + symbol.y
    dashed = _DASHES if part.name in naming.only or _is_coupling(symbol) else ""
    page.begin("part", part.name)
    half = 0.0
    drawing = _SYMBOLS.get(type(part))
    if isinstance(part, Wire) and part.ohm >= LOAD_OHM:
        drawing = contact if part.ohm >= OPEN_OHM else load
    if drawing is not None:
        closed = _closed_at_rest(naming, symbol)
        half = drawing(page, "part", Spot(symbol.middle, y, 1.5, part.name, closed=closed))
    ends = [symbol.start, symbol.middle - half, symbol.middle + half, symbol.stop]
    for start, stop in ((ends[0], ends[1]), (ends[2], ends[3])) if half else ((ends[0], ends[3]),):
        page.path(f"M{number(start)} {number(y)}H{number(stop)}", more=dashed)
    _draw_words(page, symbol.words, base)
    page.end()


def _closed_at_rest(naming: Naming, symbol: Symbol) -> bool:
    if isinstance(symbol.part, Contact):
        return naming.circuit.knobs[symbol.part.knob][0] in symbol.part.closed
    return not (isinstance(symbol.part, Wire) and symbol.part.ohm >= OPEN_OHM)


def _is_coupling(symbol: Symbol) -> bool:
    return isinstance(symbol.part, Wire) and COUPLED_OHM <= symbol.part.ohm < OPEN_OHM


_SYMBOLS: Final = {
    Contact: contact,
    Heater: heater,
    Motor: motor,
    Lamp: lamp,
    Platinum: sensor,
    Leg: supply,
}


def _in_words(naming: Naming, strips: Sequence[_Strip]) -> str:
    told = []
    for strip in strips:
        for each, _, _ in strip.placed:
            ways = []
            for chain in each.rung.chains:
                said = naming.label(chain.nodes[0])
                for part, node in zip(chain.parts, chain.nodes[1:], strict=True):
                    said += f", {plain(part.name)}, {naming.label(node)}"
                ways.append(said)
            told.append(f"Rung {each.mark}: {'; '.join(ways)}.")
    return " ".join(told)
