"""One pair of points in its way through the circuit, as a rung of a ladder diagram."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicetech.electrical.appliance import Contact, Heater, Lamp, Leg, Motor, Platinum, Wire
from voicetech.procedure import Pair, Point
from voicetech.showing.ink import HEAVY, METER_RADIUS, THIN, WIDTH, Sheet, across, meter, number, text_width
from voicetech.showing.symbols import Spot, Symbol, contact, heater, lamp, motor, sensor, supply
from voicetech.showing.terminal_rows import label_of
from voicetech.showing.wiring import Stretch, Way

_LINE: Final = 42.0
"""How far down the line of the rung runs."""
_LABEL_UP: Final = 14.0
_LABEL_DOWN: Final = 36.0
_METER_DOWN: Final = 84.0
_SHEATH_DOWN: Final = 50.0
_LEAST_APART: Final = 96.0
"""How far apart the two points stand at least, so that the words beneath their probes do."""
_EDGE: Final = 4.0
_DASHES: Final = ' stroke-dasharray="4 6"'


@dataclass(frozen=True, slots=True)
class Rung:
    """What is drawn: the pair, its way (None where the circuit has none), and the meter's sign.

    `probed` is false where no probe is held to the points, `clamped` true where a clamp is round the wire. `lifted` is
    the point a wire is taken off at, "" where none is.
    """

    pair: Pair
    way: Way | None
    points: Mapping[str, Point]
    sign: str
    probed: bool
    clamped: bool
    lifted: str


@dataclass(frozen=True, slots=True)
class _Cell:
    """A piece of the rung: a terminal (`node`), a part (`stretch`), or a line of some `kind`.

    `loose` is the end at which a part is taken off: -1 its left, 1 its right.
    """

    width: float
    kind: str = ""
    node: str = ""
    label: str = ""
    stretch: Stretch | None = None
    loose: int = 0
    below: str = ""

    @property
    def tested(self) -> bool:
        return (self.stretch is not None and self.stretch.tested) or self.kind == "lead-in"


@dataclass(frozen=True, slots=True)
class _Detail:
    """How much is shown: 0 each test point and name, 1 the parts, 2 a rail's name behind a broken line, 3 nothing."""

    before: int = 0
    between: int = 0
    after: int = 0
    names: bool = True


def drawn_rung(rung: Rung, title: str) -> str:
    """Return the drawing as SVG, as much of the way as fits in the width."""
    cells = next((cells for cells in _candidates(rung) if _wide(cells) <= WIDTH), None)
    if cells is None:
        *_, cells = _candidates(rung)
    sheet = Sheet()
    width = max(float(WIDTH), _wide(cells))
    x = (width - _wide(cells)) / 2 + _EDGE
    at: dict[str, tuple[float, float]] = {}
    clamp_x = 0.0
    for number_, cell in enumerate(cells):
        middle = x + cell.width / 2
        if cell.node:
            at[cell.node] = (middle, _LINE)
            left = cells[number_ - 1] if number_ else None
            right = cells[number_ + 1] if number_ + 1 < len(cells) else None
            _terminal(sheet, rung, cell, x, _joined_by(left, 1), _joined_by(right, -1))
        elif cell.stretch is not None:
            _part(sheet, cell, x)
            if rung.way is not None and rung.way.sheath and cell.tested:
                at[rung.way.sheath] = _sheath(sheet, rung, rung.way.sheath, middle)
        else:
            clamp_x = middle if cell.kind == "clamp" else clamp_x
            _plain(sheet, cell, x)
        x += cell.width
    height = _measured(sheet, rung, at, clamp_x)
    return sheet.svg(title, _in_words(rung, cells), width, height)


def _measured(sheet: Sheet, rung: Rung, at: Mapping[str, tuple[float, float]], clamp_x: float) -> float:
    """Draw the meter and return how far down the drawing reaches."""
    first, second = at[rung.pair.first], at[rung.pair.second]
    y = max(first[1], second[1]) + _METER_DOWN - (0 if first[1] == second[1] else 14)
    if rung.probed:
        ends = [(x, top + 6) for x, top in (first, second)]
        across(sheet, rung.sign, ends[0], ends[1], y)
    elif rung.clamped:
        sheet.line("meter", f"M{number(clamp_x)} {number(_LINE + 16)}V{number(y - METER_RADIUS)}", 2.5)
        path = f"M{number(clamp_x - 7)} {number(_LINE)}a7 16 0 1 0 14 0a7 16 0 1 0 -14 0"
        sheet.line("meter", path, 2.5)
        meter(sheet, rung.sign, clamp_x, y)
    else:
        meter(sheet, rung.sign, (first[0] + second[0]) / 2, y)
    return y + METER_RADIUS + 10


def _wide(cells: Iterable[_Cell]) -> float:
    return sum(cell.width for cell in cells) + 2 * _EDGE


def _candidates(rung: Rung) -> Iterator[list[_Cell]]:
    """Yield the cells with less and less detail."""
    way = rung.way
    if way is None:
        joined = _Cell(60, "broken") if rung.clamped else _Cell(130, "gap")
        clamp = [_Cell(40, "clamp")] if rung.clamped else []
        lifted = [_stub(-1)] if rung.lifted == rung.pair.first else []
        yield [*lifted, _terminal_cell(rung, rung.pair.first), *clamp, joined, _terminal_cell(rung, rung.pair.second)]
        return
    longer_first = len(way.before) >= len(way.after)
    for detail in (
        _Detail(),
        _Detail(1, 0, 1),
        _Detail(1, 1, 1),
        _Detail(2, 1, 1) if longer_first else _Detail(1, 1, 2),
        _Detail(2, 1, 2),
        _Detail(2, 1, 3),
        _Detail(3, 1, 3),
        _Detail(3, 1, 3, names=False),
    ):
        yield _cells(rung, way, detail)


def _cells(rung: Rung, way: Way, detail: _Detail) -> list[_Cell]:
    start, end = way.between[0].start, way.between[-1].end
    before = _side(rung, way.before, detail.before, detail.names, 1)
    after = _side(rung, way.after, detail.after, detail.names, -1)
    between = list(_parts(rung, way.between, detail.between == 0, detail.names, 0))
    if all(isinstance(stretch.part, Wire) and stretch.closed for stretch in way.between):
        between = _named_wires(between)
    if way.sheath:
        between = [replace(cell, width=max(cell.width, 150.0)) for cell in between]
    if rung.clamped:
        between = [_Cell(34, "clamp"), *between]
    spare = _LEAST_APART - sum(cell.width for cell in between) - 24
    if spare > 0:
        between = [_Cell(spare / 2, "lead-in"), *between, _Cell(spare / 2, "lead-in")]
    if rung.lifted and not any(cell.loose for cell in (*before, *after)):
        before, after = _with_stub(rung, before, after, start)
    return [*before, _terminal_cell(rung, start), *between, _terminal_cell(rung, end), *after]


def _with_stub(rung: Rung, before: list[_Cell], after: list[_Cell], start: str) -> tuple[list[_Cell], list[_Cell]]:
    """Return the sides with a wire lifted at its point that the circuit has no part for."""
    if rung.lifted == start:
        return [*before, _stub(1)], after
    return before, [_stub(-1), *after]


def _stub(loose: int) -> _Cell:
    return _Cell(26, "stub", loose=loose)


def _named_wires(cells: list[_Cell]) -> list[_Cell]:
    """Return the wires with their names beneath, where there is room: they are all that is tested."""
    parts = [cell for cell in cells if cell.stretch is not None]
    name = ", ".join(_name(cell.stretch) for cell in parts if cell.stretch is not None)
    if len(parts) > 2 or text_width(name) > WIDTH / 2:
        return cells
    first, *rest = cells
    if not rest:
        return [replace(first, width=max(text_width(name) + 8, first.width), below=name)]
    return cells


def _name(stretch: Stretch) -> str:
    return stretch.part.name.replace("-", " ")


def _terminal_cell(rung: Rung, node: str) -> _Cell:
    label = label_of(rung.points, node)
    return _Cell(max(20.0, text_width(label) + 4), node=node, label=label)


def _side(rung: Rung, way: Sequence[Stretch], detail: int, names: bool, inner: int) -> list[_Cell]:
    """Return the cells of one side; `inner` is where the pair lies, 1 to the right of it and -1 to the left."""
    point, end = (way[-1].end, way[0].start) if inner == 1 and way else (way[0].start, way[-1].end) if way else ("", "")
    if label_of(rung.points, point) == label_of(rung.points, end):
        # The same mark on a block and on a switch behind it: twice in one drawing it would mislead.
        return []
    rail = _terminal_cell(rung, way[0].start if inner == 1 else way[-1].end)
    if detail >= 2:
        cells = [rail, _Cell(18, "broken")] if detail == 2 else []
        cells += [_stub(inner)] if any(stretch.off for stretch in way) else []
        return cells if inner == 1 else cells[::-1]
    cells = list(_parts(rung, way, detail == 0, names, inner))
    return [rail, *cells] if inner == 1 else [*cells, rail]


def _parts(rung: Rung, way: Sequence[Stretch], points: bool, names: bool, inner: int) -> Iterator[_Cell]:
    """Yield the parts in order, with the test points between them where asked for."""
    for number_, stretch in enumerate(way):
        yield _part_cell(stretch, names, inner)
        if points and number_ < len(way) - 1 and stretch.end in rung.points:
            yield _terminal_cell(rung, stretch.end)


def _part_cell(stretch: Stretch, names: bool, inner: int) -> _Cell:
    loose = inner if stretch.off else 0
    match stretch.part:
        case Wire() if stretch.closed:
            return _Cell(30 if loose else 8, stretch=stretch, loose=loose)
        case Wire():
            name = _name(stretch)
            return _Cell(max(40.0, text_width(name) + 6), stretch=stretch, loose=loose, below=name)
        case Contact(knob=knob):
            below = knob.replace("-", " ") if names else ""
            return _Cell(max(40.0, text_width(below) + 6), stretch=stretch, loose=loose, below=below)
        case Leg():
            return _Cell(34, stretch=stretch)
        case Heater() | Platinum() | Motor() | Lamp():
            below = _name(stretch) if names or stretch.tested else ""
            return _Cell(max(70.0, text_width(below) + 6), stretch=stretch, loose=loose, below=below)


def _joined_by(cell: _Cell | None, near: int) -> float:
    """Return how heavy the line to a neighbour is, 0 where there is none; `near` is the neighbour's end it leads to."""
    if cell is None or cell.loose == near or cell.kind == "gap":
        return 0
    return HEAVY if cell.tested else THIN


def _terminal(sheet: Sheet, rung: Rung, cell: _Cell, x: float, left: float, right: float) -> None:
    middle = x + cell.width / 2
    now = cell.node in (rung.pair.first, rung.pair.second)
    for side, line in ((x, left), (x + cell.width, right)):
        if line:
            sheet.line("wire", f"M{number(side)} {number(_LINE)}H{number(middle)}", line)
    classes = "point now" if now else "point"
    sheet.disc(classes, middle, _LINE, 5.5 if now else 3.5, filled=now)
    sheet.words(classes, middle, _LINE - _LABEL_UP, cell.label, heavy=now)


def _plain(sheet: Sheet, cell: _Cell, x: float) -> None:
    end = x + cell.width
    path = f"M{number(x)} {number(_LINE)}H{number(end)}"
    match cell.kind:
        case "broken":
            sheet.line("wire", path, more=_DASHES)
        case "stub":
            _loose_wire(sheet, "wire", x, end, cell.loose, THIN, "")
        case "lead-in":
            sheet.line("wire", path, HEAVY)
        case "clamp":
            sheet.line("wire", path)
        case _:
            pass


def _loose_wire(sheet: Sheet, classes: str, x: float, end: float, loose: int, width: float, part: str) -> None:
    """Draw a wire whose end hangs free beside the terminal it was on."""
    far, near = (x, end) if loose == 1 else (end, x)
    bend = near - loose * 20
    path = f"M{number(far)} {number(_LINE)}H{number(bend)}l{number(loose * 9)} 13"
    sheet.line(f"{classes} lifted", path, width, part=part)
    sheet.disc(f"{classes} lifted", bend + loose * 11, _LINE + 16, 3, filled=False)


def _part(sheet: Sheet, cell: _Cell, x: float) -> None:
    stretch = cell.stretch
    if stretch is None:
        return
    classes = "part tested" if cell.tested else "part"
    line = HEAVY if cell.tested else THIN
    middle, end = x + cell.width / 2, x + cell.width
    kind = type(stretch.part)
    symbol = _SYMBOLS.get(kind) if stretch.closed or kind is Contact else contact
    name = stretch.part.name
    half = 0.0
    if symbol is not None:
        half = symbol(sheet, f"{classes} {_KINDS[kind]}", Spot(middle, _LINE, line, name, closed=stretch.closed))
    if half:
        for start, stop, side in ((x, middle - half, -1), (middle + half, end, 1)):
            if cell.loose != side:
                sheet.line("wire", f"M{number(start)} {number(_LINE)}H{number(stop)}", line)
    elif cell.loose:
        _loose_wire(sheet, f"{classes} wire", x, end, cell.loose, line, name)
    else:
        sheet.line(f"{classes} wire", f"M{number(x)} {number(_LINE)}H{number(end)}", line, part=name)
    if cell.below:
        aside = -34.0 if isinstance(stretch.part, Heater) and cell.width >= 150 else 0.0
        sheet.words(classes, middle + aside, _LINE + _LABEL_DOWN, cell.below, heavy=cell.tested)


_KINDS: Final = {
    Wire: "wire",
    Contact: "contact",
    Heater: "heater",
    Platinum: "sensor",
    Motor: "motor",
    Lamp: "lamp",
    Leg: "supply",
}


_SYMBOLS: Final[Mapping[type, Symbol]] = {
    Contact: contact,
    Heater: heater,
    Platinum: sensor,
    Motor: motor,
    Lamp: lamp,
    Leg: supply,
}


def _sheath(sheet: Sheet, rung: Rung, node: str, middle: float) -> tuple[float, float]:
    """Draw the sheath's own terminal below its element and return where it is."""
    x, y = middle + 22, _LINE + _SHEATH_DOWN
    sheet.line("wire", f"M{number(x)} {number(_LINE + 15)}V{number(y)}")
    sheet.disc("point now", x, y, 5.5, filled=True)
    label = label_of(rung.points, node)
    sheet.words("point now", x + 12 + text_width(label) / 2, y + 5, label, heavy=True)
    return x, y


def _in_words(rung: Rung, cells: Iterable[_Cell]) -> str:
    """Return the drawing in words: the way from left to right, then the meter."""
    said = []
    for cell in cells:
        if cell.node:
            said.append(f"{cell.label}{_probe(rung, cell.node)}")
        elif cell.stretch is not None:
            said.append(_part_in_words(cell.stretch))
        elif cell.kind == "broken":
            said.append("and so on")
        elif cell.kind == "stub":
            said.append("a wire taken off")
        elif cell.kind == "gap":
            said.append("no way through the circuit")
    if rung.way is not None and rung.way.sheath:
        said.append(f"at its side {label_of(rung.points, rung.way.sheath)}{_probe(rung, rung.way.sheath)}")
    how = "" if rung.probed else " The meter is clamped round the wire." if rung.clamped else ""
    return f"{'; '.join(said)}.{how}"


def _probe(rung: Rung, node: str) -> str:
    if not rung.probed:
        return ""
    return {rung.pair.first: ", red probe", rung.pair.second: ", black probe"}.get(node, "")


def _part_in_words(stretch: Stretch) -> str:
    kinds = {
        Wire: "wire",
        Contact: "contact",
        Heater: "heating element",
        Platinum: "sensor",
        Motor: "motor",
        Lamp: "lamp",
        Leg: "supply",
    }
    state = "" if stretch.closed else ", open"
    state += ", taken off" if stretch.off else ""
    state += ", under test" if stretch.tested else ""
    return f"{kinds[type(stretch.part)]} {_name(stretch)}{state}"
