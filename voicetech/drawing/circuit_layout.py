"""Where the parts, nodes and words of a rung stand, so that no word stands on another or on a line."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from voicetech.drawing.circuit_rungs import Chain, Rung
from voicetech.drawing.circuit_words import Naming
from voicetech.drawing.letters import lines_of, width_of
from voicetech.drawing.page import SMALL
from voicetech.electrical.appliance import Heater, Leg, Part, Wire
from voicetech.showing.wiring import LOAD_OHM

LEAST_CELL: Final = 72.0
"""How wide a part is drawn at least, with the line on both sides of it: an element more, a wire less."""
LINE: Final = 12.0
TEST_RADIUS: Final = 9.0
DROP: Final = 27.0
"""How far beside the middle of an element its sheath's terminal hangs."""
_NODE_ROOM: Final = 3.0
_ABOVE: Final = 19.0
_BELOW: Final = 30.0
_FIRST_LEVEL: Final = 54
_LAST_LEVEL: Final = 6000
_STEP: Final = 6
_CLEAR: Final = 3.0
"""How far words stand from others that are not of their own line."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle that something takes up."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Return whether the two have any room in common."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )

    def grown(self, by: float) -> "Box":
        """Return the rectangle with so much room round it."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)


@dataclass(frozen=True, slots=True)
class Words:
    """A text with its base line at y; `anchor` says what of it stands at x."""

    x: float
    y: float
    text: str
    heavy: bool = False
    anchor: str = "middle"

    @property
    def box(self) -> Box:
        """Return the room it takes at most."""
        width = width_of(self.text, SMALL, heavy=self.heavy)
        left = {"middle": self.x - width / 2, "start": self.x, "end": self.x - width}[self.anchor]
        return Box(left, self.y - 9, left + width, self.y + 3)


@dataclass(frozen=True, slots=True)
class Node:
    """A node at its place; `plain` is one whose name stands elsewhere: on a rail."""

    name: str
    x: float
    y: float
    words: tuple[Words, ...] = ()
    plain: bool = False


@dataclass(frozen=True, slots=True)
class Symbol:
    """A part between two places of one height."""

    part: Part | Leg
    start: float
    stop: float
    y: float
    words: tuple[Words, ...]

    @property
    def middle(self) -> float:
        """Return where its symbol stands."""
        return (self.start + self.stop) / 2


def _moved(all_words: Iterable[Words], by: float) -> tuple[Words, ...]:
    return tuple(replace(words, x=words.x + by) for words in all_words)


@dataclass(slots=True)
class Laid:
    """A rung with everything at its place, its main line at height 0; `lines` are plain lines, each with its ends."""

    nodes: list[Node] = field(default_factory=list)
    symbols: list[Symbol] = field(default_factory=list)
    lines: list[tuple[float, float, float, float]] = field(default_factory=list)

    def boxes(self) -> Iterator[Box]:
        """Yield the room that words, symbols and nodes take."""
        for all_words in (*(node.words for node in self.nodes), *(symbol.words for symbol in self.symbols)):
            yield from (words.box for words in all_words)
        for node in self.nodes:
            if not node.plain:
                yield Box(node.x - TEST_RADIUS, node.y - TEST_RADIUS, node.x + TEST_RADIUS, node.y + TEST_RADIUS)
        for symbol in self.symbols:
            yield Box(symbol.middle - 24, symbol.y - 15, symbol.middle + 24, symbol.y + 15)

    def wires(self) -> Iterator[Box]:
        """Yield the room that lines take, those through parts too."""
        for x, y, to_x, to_y in self.lines:
            # Without its ends, which lie at what it joins.
            ends = TEST_RADIUS + 2
            yield Box(min(x, to_x) - 2, min(y, to_y) + ends, max(x, to_x) + 2, max(y, to_y) - ends)
        for symbol in self.symbols:
            yield Box(min(symbol.start, symbol.stop), symbol.y - 2, max(symbol.start, symbol.stop), symbol.y + 2)

    @property
    def top(self) -> float:
        """Return how far up it reaches, below 0."""
        return min(box.top for box in (*self.boxes(), *self.wires()))

    @property
    def bottom(self) -> float:
        """Return how far down it reaches."""
        return max(box.bottom for box in (*self.boxes(), *self.wires()))

    @property
    def left(self) -> float:
        """Return how far to the left it reaches."""
        return min(box.left for box in (*self.boxes(), *self.wires()))

    @property
    def right(self) -> float:
        """Return how far to the right it reaches."""
        return max(box.right for box in (*self.boxes(), *self.wires()))

    def shifted(self, by: float) -> "Laid":
        """Return the same so much farther to the right."""
        return Laid(
            [replace(each, x=each.x + by, words=_moved(each.words, by)) for each in self.nodes],
            [
                replace(each, start=each.start + by, stop=each.stop + by, words=_moved(each.words, by))
                for each in self.symbols
            ],
            [(x + by, y, to_x + by, to_y) for x, y, to_x, to_y in self.lines],
        )

    def add(self, other: "Laid") -> None:
        """Take in what is laid out for something that hangs on it."""
        self.nodes += other.nodes
        self.symbols += other.symbols
        self.lines += other.lines


@dataclass(frozen=True, slots=True)
class Laying:
    """What laying out needs: names, and in which other rungs each node stands."""

    naming: Naming
    also: Mapping[str, str]

    def rung(
        self, rung: Rung, left: float, right: float, *, rails: tuple[bool, bool], within: tuple[float, float]
    ) -> Laid:
        """Return the rung between these places; `rails` says at which of its ends a rail stands.

        What hangs on it stays `within` these places.
        """
        at = dict(zip(rung.main.nodes, spread(rung.main, left, right), strict=True))
        laid = self._line(rung.main, list(at.values()), 0.0, rails)
        for symbol in list(laid.symbols):
            self._hang(laid, rung, symbol, within)
        for chain in rung.beside:
            self._beside(laid, chain, at, rung, within)
        return laid

    def _line(self, chain: Chain, places: Sequence[float], y: float, bare: tuple[bool, bool]) -> Laid:
        """Return a chain with its nodes at these places; `bare` says at which end the node stands elsewhere."""
        laid = Laid()
        last = len(places) - 1
        for place, (name, x) in enumerate(zip(chain.nodes, places, strict=True)):
            beside = [abs(x - places[n]) for n in (place - 1, place + 1) if 0 <= n <= last]
            room = min(beside, default=LEAST_CELL)
            plain = (place == 0 and bare[0]) or (place == last and bare[1])
            laid.nodes.append(self._node(name, x, y, room, plain=plain))
        for part, start, stop in zip(chain.parts, places, places[1:], strict=False):
            laid.symbols.append(self._symbol(part, start, stop, y))
        return laid

    def _node(self, name: str, x: float, y: float, room: float, *, plain: bool = False) -> Node:
        if plain:
            return Node(name, x, y, plain=True)
        test = name in self.naming.tests
        label = lines_of(self.naming.label(name), SMALL, room - _NODE_ROOM, heavy=test)
        also = lines_of(self.also.get(name, ""), SMALL, room - _NODE_ROOM)
        stacked = [(" ".join(word.text for word in line), False) for line in also]
        stacked += [(" ".join(word.text for word in line), test) for line in label]
        base = y - _ABOVE
        words = []
        for text, heavy in reversed(stacked):
            words.append(Words(x, base, text, heavy))
            base -= LINE
        return Node(name, x, y, tuple(words))

    def _symbol(self, part: Part | Leg, start: float, stop: float, y: float) -> Symbol:
        middle, room = (start + stop) / 2, abs(stop - start) - _NODE_ROOM
        anchor = "middle"
        if isinstance(part, Heater):
            # To the right of an element's words its sheath hangs.
            room = room / 2 + DROP - 5
            middle, anchor = middle + DROP - 5, "end"
        base = y + _BELOW
        words = []
        for place, told in enumerate(self.naming.part_lines(part)):
            for line in lines_of(told, SMALL, room, heavy=place == 0):
                words.append(Words(middle, base, " ".join(word.text for word in line), place == 0, anchor))
                base += LINE
        return Symbol(part, start, stop, y, tuple(words))

    def _hang(self, laid: Laid, rung: Rung, symbol: Symbol, within: tuple[float, float]) -> None:
        """Add the sheath of an element, and what hangs on it."""
        part = symbol.part
        if not isinstance(part, Heater):
            return
        chain = next((each for each in rung.hanging if each.nodes[0] == part.sheath), Chain((part.sheath,), ()))
        x = symbol.middle + DROP
        for level in range(_FIRST_LEVEL, _LAST_LEVEL, _STEP):
            for turn in (1, -1):
                places = [x + turn * LEAST_CELL * place for place in range(len(chain.nodes))]
                if max(places) > within[1] or min(places) < within[0]:
                    continue
                y = symbol.y + level
                found = self._line(chain, places, y, (False, False))
                found.nodes[0] = self._under(part.sheath, x, y, turn)
                found.lines.append((x, symbol.y + 15, x, y))
                if _free(laid, found):
                    laid.add(found)
                    return

    def _under(self, name: str, x: float, y: float, turn: int) -> Node:
        """Return a node at the foot of an upright line, its name on the side where nothing hangs."""
        told = [(self.naming.label(name), name in self.naming.tests), (self.also.get(name, ""), False)]
        side, anchor = x - turn * (TEST_RADIUS + 4), "end" if turn == 1 else "start"
        words = []
        base = y + 4
        for text, heavy in told:
            for line in lines_of(text, SMALL, LEAST_CELL - 8, heavy=heavy):
                words.append(Words(side, base, " ".join(word.text for word in line), heavy, anchor))
                base += LINE
        return Node(name, x, y, tuple(words))

    def _beside(
        self, laid: Laid, chain: Chain, at: Mapping[str, float], rung: Rung, within: tuple[float, float]
    ) -> None:
        """Add a chain that runs below the main line from one of its nodes to another."""
        places = spread(chain, at[chain.nodes[0]], at[chain.nodes[-1]])
        for level in range(_FIRST_LEVEL, _LAST_LEVEL, _STEP):
            found = self._line(chain, places, float(level), (True, True))
            found.nodes = found.nodes[1:-1]
            found.lines += [(x, 0.0, x, float(level)) for x in (places[0], places[-1])]
            if _free(laid, found):
                for symbol in list(found.symbols):
                    self._hang_later(laid, found, rung, symbol, within)
                laid.add(found)
                return

    def _hang_later(self, laid: Laid, found: Laid, rung: Rung, symbol: Symbol, within: tuple[float, float]) -> None:
        both = Laid([*laid.nodes, *found.nodes], [*laid.symbols, *found.symbols], [*laid.lines, *found.lines])
        before = len(both.nodes), len(both.symbols), len(both.lines)
        self._hang(both, rung, symbol, within)
        found.nodes += both.nodes[before[0] :]
        found.symbols += both.symbols[before[1] :]
        found.lines += both.lines[before[2] :]


def _free(laid: Laid, found: Laid) -> bool:
    """Return whether what is to be added stands on nothing; lines may cross lines."""
    boxes, wires = list(laid.boxes()), list(laid.wires())
    new, new_wires = [box.grown(_CLEAR) for box in found.boxes()], list(found.wires())
    return not (_any_meet(new, [*boxes, *wires]) or _any_meet(new_wires, boxes))


def _any_meet(ones: Iterable[Box], others: Sequence[Box]) -> bool:
    return any(one.meets(other) for one in ones for other in others)


def spread(chain: Chain, left: float, right: float) -> list[float]:
    """Return the places of a chain's nodes between these two."""
    weights = [_weight(part) for part in chain.parts]
    unit = (right - left) / (sum(weights) or 1)
    places = [left]
    for weight in weights:
        places.append(places[-1] + weight * unit)
    return places


def _weight(part: Part | Leg) -> float:
    """Return how wide a part is beside others."""
    if isinstance(part, Heater):
        return 1.4
    return 0.92 if isinstance(part, Wire) and part.ohm < LOAD_OHM else 1.04


def least_width(chain: Chain) -> float:
    """Return how wide a chain is at least, from its first node to its last."""
    return LEAST_CELL * (sum(map(_weight, chain.parts)) or 1)


def folded(chain: Chain, width: float) -> tuple[Chain, ...]:
    """Return the chain in pieces that are no wider than this, each beginning at the node where the last one ends."""
    pieces = max(1, math.ceil(least_width(chain) / width))
    size = math.ceil(len(chain.parts) / pieces)
    return tuple(
        Chain(chain.nodes[start : start + size + 1], chain.parts[start : start + size])
        for start in range(0, len(chain.parts), size)
    )
