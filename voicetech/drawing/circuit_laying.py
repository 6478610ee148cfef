"""Where the parts, nodes and words of a rung are put, so that no word stands on another or on a line."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.drawing.circuit_layout import DROP, LEAST_CELL, LINE, TEST_RADIUS, Box, Laid, Node, Symbol, Words, spread
from voicetech.drawing.circuit_rungs import Chain, Rung
from voicetech.drawing.circuit_words import Naming
from voicetech.drawing.letters import lines_of
from voicetech.drawing.page import SMALL
from voicetech.electrical.appliance import Heater, Leg, Part

_NODE_ROOM: Final = 3.0
_ABOVE: Final = 19.0
_BELOW: Final = 30.0
_FIRST_LEVEL: Final = 54
_LAST_LEVEL: Final = 600
_STEP: Final = 6
_EDGE: Final = 38.0
"""How far beyond what hangs on a rung its nodes' names may reach."""
_CLEAR: Final = 3.0
"""How far words stand from others that are not of their own line."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A rung with everything at its place; `lost` are those of its chains for which there was none."""

    laid: Laid
    lost: tuple[Rung, ...]


@dataclass(frozen=True, slots=True)
class Laying:
    """What putting things to their places needs: names, and in which rungs each node stands."""

    naming: Naming
    also: Mapping[str, str]

    def rung(
        self, rung: Rung, left: float, right: float, *, rails: tuple[bool, bool], within: tuple[float, float]
    ) -> Placed:
        """Return the rung between these places; `rails` says at which of its ends a rail stands.

        What hangs on it stays `within` these places.
        """
        places = spread(rung.main, left, right)
        at = dict(zip(reversed(rung.main.nodes), reversed(places), strict=True))
        laid = self._line(rung.main, places, 0.0, rails, within)
        lost: list[Rung] = []
        for symbol in [each for each in laid.symbols if isinstance(each.part, Heater)]:
            tail = self._tail(rung, symbol)
            hung = self._hung(laid, symbol, tail, within)
            if hung is None and tail.parts:
                lost.append(Rung(rung.group, tail))
                hung = self._hung(laid, symbol, Chain(tail.nodes[:1], ()), within)
            laid.add(hung or self._below_all(laid, symbol, tail.nodes[0]))
        for chain in sorted(rung.beside, key=lambda each: at[each.nodes[-1]] - at[each.nodes[0]]):
            beside = self._beside(laid, chain, at, rung, within)
            if beside is None:
                tails = [each for each in rung.hanging if each.nodes[0] in _sheaths(chain)]
                lost.append(Rung(rung.group, chain, hanging=tuple(tails)))
            else:
                laid.add(beside)
        return Placed(laid, tuple(lost))

    def _line(
        self, chain: Chain, places: Sequence[float], y: float, bare: tuple[bool, bool], within: tuple[float, float]
    ) -> Laid:
        """Return a chain with its nodes at these places; `bare` says at which end the node stands elsewhere."""
        laid = Laid()
        last = len(places) - 1
        for place, (name, x) in enumerate(zip(chain.nodes, places, strict=True)):
            beside = [abs(x - places[n]) for n in (place - 1, place + 1) if 0 <= n <= last]
            to_edges = [2 * (x - within[0] + _EDGE), 2 * (within[1] + _EDGE - x)]
            room = min([*beside, *to_edges] if beside else [LEAST_CELL, *to_edges])
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

    def _tail(self, rung: Rung, symbol: Symbol) -> Chain:
        """Return what hangs at the sheath of an element: a chain, or the sheath alone."""
        if not isinstance(symbol.part, Heater):
            raise TypeError("only an element has a sheath")
        sheath = symbol.part.sheath
        return next((each for each in rung.hanging if each.nodes[0] == sheath), Chain((sheath,), ()))

    def _hung(self, laid: Laid, symbol: Symbol, tail: Chain, within: tuple[float, float]) -> Laid | None:
        """Return a tail at the first free place below its element, None where there is none."""
        x = symbol.middle + DROP
        kept = list(_kept_free(laid, symbol))
        for level in range(_FIRST_LEVEL, _LAST_LEVEL, _STEP):
            for turn in (1, -1):
                places = [x + turn * LEAST_CELL * place for place in range(len(tail.nodes))]
                if max(places) > within[1] or min(places) < within[0]:
                    continue
                y = symbol.y + level
                found = self._line(tail, places, y, (False, False), within)
                found.nodes[0] = self._under(tail.nodes[0], x, y, turn)
                found.lines.append((x, symbol.y + 15, x, y))
                if _free(laid, found, kept):
                    return found
        return None

    def _below_all(self, laid: Laid, symbol: Symbol, sheath: str) -> Laid:
        """Return a sheath below everything else, its line across what is between."""
        x, y = symbol.middle + DROP, laid.bottom + TEST_RADIUS + 4
        return Laid([self._under(sheath, x, y, 1)], [], [(x, symbol.y + 15, x, y)])

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
    ) -> Laid | None:
        """Return a chain below the main line from one of its nodes to another, None where there is no place."""
        places = spread(chain, at[chain.nodes[0]], at[chain.nodes[-1]])
        for level in range(_FIRST_LEVEL, _LAST_LEVEL, _STEP):
            found = self._line(chain, places, float(level), (True, True), within)
            found.nodes = found.nodes[1:-1]
            found.lines += [(x, 0.0, x, float(level)) for x in (places[0], places[-1])]
            if _free(laid, found) and self._with_tails(laid, found, rung, within):
                return found
        return None

    def _with_tails(self, laid: Laid, found: Laid, rung: Rung, within: tuple[float, float]) -> bool:
        """Add to what is found what hangs at its elements; False where there is no place for one."""
        for symbol in [each for each in found.symbols if isinstance(each.part, Heater)]:
            hung = self._hung(laid.joined(found), symbol, self._tail(rung, symbol), within)
            if hung is None:
                return False
            found.add(hung)
        return True


def _sheaths(chain: Chain) -> set[str]:
    return {part.sheath for part in chain.parts if isinstance(part, Heater)}


def _kept_free(laid: Laid, symbol: Symbol) -> Iterator[Box]:
    """Yield the room below other elements of the same line, where their own sheaths are going to hang."""
    for other in laid.symbols:
        if isinstance(other.part, Heater) and other is not symbol and other.y == symbol.y:
            x = other.middle + DROP
            yield Box(x - LEAST_CELL, other.y + 40, x + TEST_RADIUS + 3, other.y + 110)


def _free(laid: Laid, found: Laid, kept: Sequence[Box] = ()) -> bool:
    """Return whether what is to be added stands on nothing; lines may cross lines.

    `kept` is room that is kept free for others.
    """
    boxes, wires = list(laid.boxes()), list(laid.wires())
    new, new_wires = [box.grown(_CLEAR) for box in found.boxes()], list(found.wires())
    return not (_any_meet(new, [*boxes, *wires, *kept]) or _any_meet(new_wires, boxes))


def _any_meet(ones: Iterable[Box], others: Sequence[Box]) -> bool:
    return any(one.meets(other) for one in ones for other in others)
