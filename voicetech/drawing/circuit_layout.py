"""The places of parts, nodes and words of a rung, and the room that they take."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Final

from voicetech.drawing.circuit_rungs import Chain
from voicetech.drawing.letters import width_of
from voicetech.drawing.page import SMALL
from voicetech.electrical.appliance import Heater, Leg, Part, Wire
from voicetech.showing.wiring import LOAD_OHM

LEAST_CELL: Final = 72.0
"""How wide a part is drawn at least, with the line on both sides of it: an element more, a wire less."""
LINE: Final = 12.0
TEST_RADIUS: Final = 9.0
DROP: Final = 27.0
"""How far beside the middle of an element its sheath's terminal hangs."""


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

    def joined(self, other: "Laid") -> "Laid":
        """Return both together."""
        return Laid([*self.nodes, *other.nodes], [*self.symbols, *other.symbols], [*self.lines, *other.lines])

    def add(self, other: "Laid") -> None:
        """Take in what is laid out for something that hangs on it."""
        self.nodes += other.nodes
        self.symbols += other.symbols
        self.lines += other.lines


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
