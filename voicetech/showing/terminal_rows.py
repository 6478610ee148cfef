"""The pairs of a step as rows of terminals: what is read, what is read now, what is still owed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from voicetech.procedure import Pair, Point
from voicetech.showing.ink import HEAVY, METER_RADIUS, TEXT, THIN, WIDTH, Sheet, across, meter, number, text_width

_BOX: Final = 30.0
_LEVEL: Final = 26.0
_LEAST_BOX: Final = 44.0
_LEAST_GAP: Final = 26.0
_EDGE: Final = 6.0
_DASHES: Final = ' stroke-dasharray="4 5"'


@dataclass(frozen=True, slots=True)
class Pairs:
    """What is drawn: the pairs, which is now, what was read of those by label, and the meter's sign.

    `probed` is false where two points are told, but no probe is held to them.
    """

    pairs: Sequence[Pair]
    now: int
    read: Mapping[str, str]
    points: Mapping[str, Point]
    rails: Sequence[frozenset[str]]
    sign: str
    probed: bool


def drawn_rows(drawn: Pairs, title: str) -> str:
    """Return the drawing as SVG: a row for all points that pairs join, else for each pair."""
    sheet = Sheet()
    rows = _rows(drawn)
    width = max(float(WIDTH), *(_needs(drawn, row) for row in rows))
    y = _EDGE
    for row in rows:
        y = _row(sheet, drawn, row, y, width)
    return sheet.svg(title, _in_words(drawn), width, y)


def label_of(points: Mapping[str, Point], node: str) -> str:
    """Return what a point is called in readings, its own name where the procedure does not know it."""
    return points[node].label if node in points else node


@dataclass(frozen=True, slots=True)
class _Row:
    nodes: tuple[str, ...]
    pairs: tuple[Pair, ...]


def _rows(drawn: Pairs) -> list[_Row]:
    joined: list[tuple[list[str], list[Pair]]] = []
    for pair in drawn.pairs:
        mine = [each for each in joined if {pair.first, pair.second} & set(each[0])]
        nodes = list(dict.fromkeys([*(node for each in mine for node in each[0]), pair.first, pair.second]))
        pairs = [*(other for each in mine for other in each[1]), pair]
        joined = [each for each in joined if each not in mine] + [(nodes, pairs)]
    rows: list[_Row] = []
    for nodes, pairs in joined:
        row = _Row(_in_order(nodes, drawn.rails), tuple(pairs))
        fits = len(pairs) == 1 or _needs(drawn, row) <= WIDTH
        rows += [row] if fits else [_Row((pair.first, pair.second), (pair,)) for pair in pairs]
    return rows


def _in_order(nodes: Sequence[str], rails: Sequence[frozenset[str]]) -> tuple[str, ...]:
    """Return the terminals as a block has them: neutral between the legs, then the rest as it comes."""
    *legs, neutral = rails or (frozenset[str](),)
    outside = [[node for node in nodes if node in leg] for leg in legs]
    inside = [node for node in nodes if node in neutral][:1]
    if len(outside) != 2 or any(len(each) != 1 for each in outside) or not inside:
        return tuple(nodes)
    block = [*outside[0], *inside, *outside[1]]
    return (*block, *(node for node in nodes if node not in block))


def _box_width(drawn: Pairs, node: str) -> float:
    return max(_LEAST_BOX, text_width(label_of(drawn.points, node)) + 10)


def _needs(drawn: Pairs, row: _Row) -> float:
    widths = [_box_width(drawn, node) for node in row.nodes]
    if len(row.pairs) == 1:
        gap = max(70.0, text_width(drawn.read.get(row.pairs[0].label, "")) + 12)
        return 2 * _EDGE + sum(widths) + gap
    return 2 * _EDGE + sum(widths) + _LEAST_GAP * (len(widths) - 1)


def _row(sheet: Sheet, drawn: Pairs, row: _Row, top: float, width: float) -> float:
    """Draw a row below `top` and return where it ends."""
    widths = [_box_width(drawn, node) for node in row.nodes]
    gap = (width - 2 * _EDGE - sum(widths)) / (len(widths) - 1)
    if len(row.pairs) == 1:
        gap = min(gap, 120.0)
    left = (width - sum(widths) - gap * (len(widths) - 1)) / 2
    middles = [left + sum(widths[:n]) + gap * n + widths[n] / 2 for n in range(len(widths))]
    now = drawn.pairs[drawn.now]
    levels = _levels(row)
    boxes_at = top + (0 if len(row.pairs) == 1 else TEXT + _LEVEL * (max(levels) + 1))
    for node, x, box in zip(row.nodes, middles, widths, strict=True):
        held = now in row.pairs and node in (now.first, now.second)
        line = 3 if held else THIN
        sheet.box("point now" if held else "point", x - box / 2, boxes_at, box, _BOX, line)
        label = label_of(drawn.points, node)
        sheet.words("point now" if held else "point", x, boxes_at + _BOX / 2 + TEXT * 0.36, label, heavy=held)
    if len(row.pairs) == 1:
        pair = row.pairs[0]
        start, stop = middles[0] + widths[0] / 2, middles[1] - widths[1] / 2
        y = boxes_at + _BOX / 2
        _joined(sheet, drawn, pair, f"M{number(start)} {number(y)}H{number(stop)}", (start + stop) / 2, y - 5)
    else:
        _brackets(sheet, drawn, row, levels, middles, boxes_at)
    if now not in row.pairs:
        return boxes_at + _BOX + 16
    ends = [(middles[row.nodes.index(node)], boxes_at + _BOX + 2) for node in (now.first, now.second)]
    meter_at = boxes_at + _BOX + 26 + METER_RADIUS
    if drawn.probed:
        across(sheet, drawn.sign, ends[0], ends[1], meter_at)
    else:
        meter(sheet, drawn.sign, (ends[0][0] + ends[1][0]) / 2, meter_at)
    return meter_at + METER_RADIUS + 12


def _levels(row: _Row) -> list[int]:
    """Return how high each pair's bracket stands: the wider above the narrower, none across another."""
    spans = [_span(row, pair) for pair in row.pairs]
    levels = [0] * len(spans)
    placed: list[int] = []
    for number_ in sorted(range(len(spans)), key=lambda n: (spans[n][1] - spans[n][0], n)):
        start, stop = spans[number_]
        taken = {levels[other] for other in placed if spans[other][0] < stop and start < spans[other][1]}
        levels[number_] = max(taken, default=-1) + 1
        placed.append(number_)
    return levels


def _span(row: _Row, pair: Pair) -> tuple[int, int]:
    first, second = row.nodes.index(pair.first), row.nodes.index(pair.second)
    return min(first, second), max(first, second)


def _brackets(sheet: Sheet, drawn: Pairs, row: _Row, levels: list[int], middles: list[float], boxes_at: float) -> None:
    for pair, level in zip(row.pairs, levels, strict=True):
        start, stop = _span(row, pair)
        x, end = middles[start] + _foot(row, levels, pair, start), middles[stop] + _foot(row, levels, pair, stop)
        y = boxes_at - _LEVEL * (level + 1) + TEXT * 0.6
        path = f"M{number(x)} {number(boxes_at)}V{number(y)}H{number(end)}V{number(boxes_at)}"
        # Where no foot of another bracket stands: between two neighbours.
        widest = max(pairwise(middles[start : stop + 1]), key=lambda two: two[1] - two[0])
        _joined(sheet, drawn, pair, path, (widest[0] + widest[1]) / 2, y - 4)


def _foot(row: _Row, levels: list[int], pair: Pair, at: int) -> float:
    """Return how far beside its terminal's middle a bracket stands, so that no two stand on one another."""

    def leaning(other: Pair) -> tuple[int, int]:
        rightward, level = _span(row, other)[0] == at, levels[row.pairs.index(other)]
        return (1, -level) if rightward else (0, level)

    feet = sorted((other for other in row.pairs if at in _span(row, other)), key=leaning)
    apart = min(12.0, 30.0 / max(1, len(feet) - 1))
    return (feet.index(pair) - (len(feet) - 1) / 2) * apart


def _joined(sheet: Sheet, drawn: Pairs, pair: Pair, path: str, x: float, y: float) -> None:
    """Draw what joins the points of a pair, with what was read."""
    state = _state(drawn, pair)
    line, more = {"now": (HEAVY, ""), "done": (THIN, ""), "owed": (1, _DASHES)}[state]
    sheet.line(state, path, line, more=more)
    if pair.label in drawn.read:
        sheet.words(state, x, y, drawn.read[pair.label], heavy=state == "now")


def _state(drawn: Pairs, pair: Pair) -> str:
    if pair is drawn.pairs[drawn.now]:
        return "now"
    return "done" if pair.label in drawn.read else "owed"


def _in_words(drawn: Pairs) -> str:
    said = []
    for pair in drawn.pairs:
        first, second = (label_of(drawn.points, node) for node in (pair.first, pair.second))
        state = _state(drawn, pair)
        if state == "now":
            probes = f": red probe on {first}, black probe on {second}" if drawn.probed else ""
            said.append(f"Now {first} to {second}{probes}.")
        elif state == "done":
            said.append(f"{first} to {second} read {drawn.read[pair.label]}.")
        else:
            said.append(f"{first} to {second} still to be read.")
    return " ".join(said)
