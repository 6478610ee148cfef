"""A circuit taken apart into rungs: ways from left to right in which every part stands once.

First the ways of the supply, then a rung for each load, then what is left. A node that stands in several rungs is
joined there; that is how wiring diagrams of the trade are drawn, and how one circuit fits on paper.
"""

import heapq
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from voicetech.electrical.appliance import Appliance, Contact, Heater, Lamp, Leg, Motor, Part, Platinum, Wire, is_there
from voicetech.showing.wiring import COUPLED_OHM, LOAD_OHM, buses

_HUB: Final = 4
"""A node where so many parts meet ends a way, as a frame or a block does."""
_MOST_BESIDE: Final = 3
_MOST_HANGING: Final = 3
"""More than that on one rung is drawn as rungs of its own."""


class Group(StrEnum):
    """Where in the diagram a rung stands."""

    SUPPLY = "supply"
    LOADS = "loads"
    APART = "apart"


@dataclass(frozen=True, slots=True)
class Chain:
    """Parts one behind the other: `nodes` has one more than `parts`, and each part lies between two of them."""

    nodes: tuple[str, ...]
    parts: tuple[Part | Leg, ...]

    @property
    def ends(self) -> frozenset[str]:
        """Return the first and the last node."""
        return frozenset((self.nodes[0], self.nodes[-1]))


@dataclass(frozen=True, slots=True)
class Rung:
    """A chain, and what hangs on it.

    `rails` are the two it runs between, None where it does not. `beside` are chains from one of its nodes to another,
    left to right, `hanging` such that begin at the sheath of one of its elements and end elsewhere.
    """

    group: Group
    main: Chain
    rails: tuple[str, str] | None = None
    beside: tuple[Chain, ...] = ()
    hanging: tuple[Chain, ...] = ()

    @property
    def chains(self) -> tuple[Chain, ...]:
        """Return all of its chains, the main one first."""
        return (self.main, *self.beside, *self.hanging)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Return its nodes, those of the sheaths of its elements too, each once."""
        found = [node for chain in self.chains for node in chain.nodes]
        found += [part.sheath for chain in self.chains for part in chain.parts if isinstance(part, Heater)]
        return tuple(dict.fromkeys(found))


def rungs_of(circuit: Appliance, points: Collection[str]) -> tuple[Rung, ...]:
    """Return the rungs of the circuit in the order they are drawn in; every part is in one of them, once."""
    taking = _Taking(circuit, points)
    taking.supply()
    taking.loads()
    taking.rest()
    return tuple(rung for group in Group for rung in taking.rungs if rung.group is group)


class _Taking:
    """The rungs so far, and the parts that are in none yet."""

    def __init__(self, circuit: Appliance, points: Collection[str]) -> None:
        self.rungs: list[Rung] = []
        self._circuit = circuit
        self._ends = buses(circuit, circuit.usual, points)
        self._buses = [bus for bus in self._ends if bus is not None]
        self._left: dict[str, Part | Leg] = {part.name: part for part in (*circuit.legs, *circuit.parts)}
        self._usual = {part.name for part in circuit.parts if is_there(circuit, part, circuit.usual)}
        self._drawn: set[str] = set()
        self._meet: dict[str, int] = {}
        for part in circuit.parts:
            if part.name in self._usual and not _is_coupling(part):
                for node in ends_of(part):
                    self._meet[node] = self._meet.get(node, 0) + 1

    def supply(self) -> None:
        """Take the way of each leg from its source to where its loads are fed, then that of the neutral."""
        for number, leg in enumerate(self._circuit.legs):
            source = Chain((leg.minus, leg.plus), (leg,))
            self._take(Group.SUPPLY, _behind(source, self._conductors(leg.plus, self._ends[number])))
        for minus in dict.fromkeys(leg.minus for leg in self._circuit.legs):
            way = self._conductors(minus, self._ends[-1])
            if way.parts:
                self._take(Group.SUPPLY, way)

    def _conductors(self, start: str, end: str | None) -> Chain:
        """Return the way between the two that is not drawn yet, of the start alone where there is none."""
        way = None if end is None else self._shortest(start, {end}, knobs=self._circuit.isolated)
        if way is None:
            return Chain((start,), ())
        new = next((n for n, part in enumerate(way.parts) if part.name not in self._left), len(way.parts))
        return Chain(way.nodes[: new + 1], way.parts[:new])

    def loads(self) -> None:
        """Take a rung for each load: between two rails where the circuit joins it to them."""
        loads: list[Part] = [part for part in self._circuit.parts if isinstance(part, (Heater, Motor, Lamp, Platinum))]
        loads += [part for part in self._circuit.parts if isinstance(part, Wire) and LOAD_OHM <= part.ohm < COUPLED_OHM]
        for load in loads:
            if load.name in self._left:
                self._take_new(self._past(load), load)

    def _take_new(self, way: Chain, load: Part) -> None:
        """Take the piece of the way round the load that is not drawn yet, longer where it ends in the open."""
        at = way.parts.index(load)
        start, stop = at, at + 1
        while start and way.parts[start - 1].name in self._left:
            start -= 1
        while stop < len(way.parts) and way.parts[stop].name in self._left:
            stop += 1
        chain = self._lengthened(Chain(way.nodes[start : stop + 1], way.parts[start:stop]))
        first, last = chain.nodes[0], chain.nodes[-1]
        on_rails = (first, last) if first in self._buses and last in self._buses and first != last else None
        self._take(Group.LOADS if on_rails else self._group_of(chain), chain, on_rails)

    def _past(self, load: Part) -> Chain:
        """Return the way from one rail through the load to another, the load alone where there is none."""
        ways: list[Chain] = []
        for start, end in (ends_of(load), ends_of(load)[::-1]):
            for number, first in enumerate(self._buses):
                for last in self._buses[number + 1 :]:
                    to = self._shortest(start, {first}, shut={*self._buses, end} - {start})
                    on = self._shortest(end, {last}, shut={*self._buses, start} - {end})
                    if to is not None and on is not None and not set(to.parts) & set(on.parts):
                        ways.append(_behind(_behind(_backwards(to), Chain((start, end), (load,))), on))
        return min(ways, key=lambda way: len(way.parts), default=Chain(ends_of(load), (load,)))

    def _lengthened(self, chain: Chain) -> Chain:
        """Return the chain with what lies behind its ends, as long as there is but one way on."""
        for _ in range(2):
            while (more := self._only_way_on(chain)) is not None:
                chain = Chain((*chain.nodes, other_end(more, chain.nodes[-1])), (*chain.parts, more))
            chain = _backwards(chain)
        return chain

    def _only_way_on(self, chain: Chain) -> Part | None:
        end = chain.nodes[-1]
        if self._ends_ways(end):
            return None
        ahead = [part for part in self._there() if part not in chain.parts and end in ends_of(part)]
        if len(ahead) != 1 or isinstance(ahead[0], Heater) or other_end(ahead[0], end) in chain.nodes:
            return None
        return ahead[0]

    def _ends_ways(self, node: str) -> bool:
        return node in self._drawn or node in self._buses or self._meet.get(node, 0) >= _HUB

    def rest(self) -> None:
        """Take what is left, the longest ways first, and last the parts that are there with other answers only."""
        while self._left:
            there = list(self._there()) or [part for part in self._left.values() if not isinstance(part, Leg)]
            chain = self._longest(there)
            self._take(self._group_of(chain), chain)

    def _group_of(self, chain: Chain) -> Group:
        settled = all(self._ends_ways(node) for node in chain.ends)
        on = {rung.group for rung in self.rungs if chain.ends & set(rung.nodes)}
        if settled and on:
            load = any(isinstance(part, (Heater, Motor, Lamp)) for part in chain.parts)
            return Group.SUPPLY if Group.SUPPLY in on and not load else Group.LOADS
        return Group.APART

    def _longest(self, there: Sequence[Part]) -> Chain:
        """Return the longest way through these parts that passes no node that is drawn already and no hub.

        One between two such nodes comes before one that ends in the open.
        """
        starts = dict.fromkeys(node for part in there for node in ends_of(part))
        ways = [way for start in starts for way in self._ways_from(start, there)]

        def rank(way: Chain) -> tuple[int, int, bool]:
            return sum(map(self._ends_ways, way.ends)), len(way.parts), way.nodes[0] in self._drawn

        return max(ways, key=rank)

    def _ways_from(self, start: str, there: Sequence[Part]) -> Iterator[Chain]:
        ahead = [Chain((start,), ())]
        seen = {start}
        while ahead:
            chain = ahead.pop(0)
            end = chain.nodes[-1]
            if chain.parts:
                yield chain
                if self._ends_ways(end):
                    continue
            for part in there:
                if end in ends_of(part) and other_end(part, end) not in seen:
                    seen.add(other_end(part, end))
                    ahead.append(Chain((*chain.nodes, other_end(part, end)), (*chain.parts, part)))

    def _there(self) -> Iterator[Part]:
        """Yield the parts that are in no rung yet and are there with the usual answers."""
        for part in self._left.values():
            if not isinstance(part, Leg) and part.name in self._usual:
                yield part

    def _take(self, group: Group, chain: Chain, on_rails: tuple[str, str] | None = None) -> None:
        for part in chain.parts:
            del self._left[part.name]
        if not (on_rails is None and self._hung(chain)):
            self.rungs.append(Rung(group, chain, on_rails))
        self._drawn |= {node for rung in self.rungs for node in rung.nodes}

    def _hung(self, chain: Chain) -> bool:
        """Return whether the chain is part of a rung now, because it begins and ends on it or at one of its sheaths."""
        for number, rung in enumerate(self.rungs):
            nodes = rung.main.nodes
            if chain.ends <= set(nodes) and len(chain.ends) == 2:
                there = chain if nodes.index(chain.nodes[0]) < nodes.index(chain.nodes[-1]) else _backwards(chain)
                room = nodes.index(there.nodes[-1]) - nodes.index(there.nodes[0])
                if room >= len(there.parts) and len(rung.beside) < _MOST_BESIDE:
                    self.rungs[number] = replace(rung, beside=(*rung.beside, there))
                    return True
            if any(isinstance(part, Heater) for part in chain.parts):
                continue
            sheaths = {part.sheath for part in _all_parts(rung) if isinstance(part, Heater)}
            sheaths = {sheath for sheath in sheaths if self._meet.get(sheath, 0) < _HUB}
            for there in (chain, _backwards(chain)):
                hangs = there.nodes[0] in sheaths - set(nodes) and there.nodes[-1] not in nodes
                taken = {other.nodes[0] for other in rung.hanging}
                if hangs and there.nodes[0] not in taken and len(there.parts) <= _MOST_HANGING:
                    self.rungs[number] = replace(rung, hanging=(*rung.hanging, there))
                    return True
        return False

    def _shortest(
        self, start: str, goals: Collection[str], *, shut: Collection[str] = (), knobs: Collection[str] | None = None
    ) -> Chain | None:
        """Return the way of fewest parts past no load and no node that is shut; None where there is none.

        Of contacts only those of the named knobs are gone through, all where none are named.
        """
        order = 0
        ahead = [(0, order, Chain((start,), ()))]
        seen: set[str] = set()
        while ahead:
            cost, _, chain = heapq.heappop(ahead)
            node = chain.nodes[-1]
            if node in goals:
                return chain
            if node in seen:
                continue
            seen.add(node)
            for part in self._circuit.parts:
                if part.name not in self._usual or node not in ends_of(part) or not _conducts(part, knobs):
                    continue
                following = other_end(part, node)
                if following not in seen and (following in goals or following not in shut):
                    order += 1
                    longer = Chain((*chain.nodes, following), (*chain.parts, part))
                    heapq.heappush(ahead, (cost + 1, order, longer))
        return None


def _all_parts(rung: Rung) -> Iterator[Part | Leg]:
    for chain in rung.chains:
        yield from chain.parts


def ends_of(part: Part | Leg) -> tuple[str, str]:
    """Return the two nodes of a part; the plus of a leg comes first."""
    return (part.plus, part.minus) if isinstance(part, Leg) else (part.first, part.second)


def other_end(part: Part | Leg, node: str) -> str:
    """Return the node at the other end of a part."""
    first, second = ends_of(part)
    return second if node == first else first


def _conducts(part: Part, knobs: Collection[str] | None) -> bool:
    if isinstance(part, Contact):
        return knobs is None or part.knob in knobs
    return isinstance(part, Wire) and part.ohm < LOAD_OHM


def _is_coupling(part: Part) -> bool:
    return isinstance(part, Wire) and part.ohm >= COUPLED_OHM


def _behind(one: Chain, other: Chain) -> Chain:
    return Chain((*one.nodes, *other.nodes[1:]), (*one.parts, *other.parts))


def _backwards(chain: Chain) -> Chain:
    return Chain(chain.nodes[::-1], chain.parts[::-1])
