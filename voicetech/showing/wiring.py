"""The way of the current past two test points, found in the circuit as it is wired and set for one step."""

import heapq
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations
from typing import Final

from voicetech.electrical.appliance import (
    Appliance,
    Contact,
    Heater,
    Lamp,
    Leg,
    Motor,
    Part,
    Plate,
    Platinum,
    Setup,
    Wire,
    is_there,
    knobs_at,
)
from voicetech.procedure import Measure, Pair
from voicetech.units import Quantity

LOAD_OHM: Final = 5.0
"""From here on a wire of the circuit is no conductor but a load that is always on."""
COUPLED_OHM: Final = 1e5
"""From here on it is nothing that is wired at all: what a cable couples across."""
_STEPS: Final = {Wire: 1, Contact: 1, Heater: 4, Platinum: 4, Motor: 4, Lamp: 4, Leg: 4}
_OPEN: Final = 30
"""What an open contact counts for: a way through closed ones is the one that current takes."""
_BY_NEUTRAL: Final = 10


@dataclass(frozen=True, slots=True)
class Stretch:
    """One part on the way, walked from `start` to `end`; `closed` is false for a contact that is open.

    `off` is true where the part is taken off in this step, `tested` where it lies between the two points.
    """

    part: Part | Leg
    start: str
    end: str
    closed: bool = True
    off: bool = False
    tested: bool = False


@dataclass(frozen=True, slots=True)
class Way:
    """What lies before the first point, between the two and behind the second; `before` ends at the first point.

    `sheath` is the point that is no end of the way but the sheath of the one part between, "" where neither is.
    """

    before: tuple[Stretch, ...]
    between: tuple[Stretch, ...]
    after: tuple[Stretch, ...]
    sheath: str = ""


def way_past(circuit: Appliance, step: Measure, pair: Pair, plate: Plate, points: Collection[str]) -> Way | None:
    """Return the way past the pair with these recorded answers, None where the circuit joins the two in no way."""
    if not {pair.first, pair.second} <= circuit.nodes:
        return None
    wiring = _Wiring(circuit, step, plate, frozenset(points))
    beside = wiring.beside_sheath(pair)
    if beside is not None:
        return beside
    between = wiring.through(step.through, pair) if step.quantity is Quantity.CURRENT else wiring.between(pair)
    if between is None:
        return None
    before, after = wiring.beyond(pair.first, pair.second, between)
    return Way(before, between, after)


def rails(circuit: Appliance, plate: Plate) -> tuple[frozenset[str], ...]:
    """Return the nodes of each leg, in order, and last those of neutral and ground, joined by conductors alone."""
    main = [part for part in circuit.parts if is_there(circuit, part, plate) and _is_main(circuit, part)]
    starts = [*((leg.plus,) for leg in circuit.legs), tuple(leg.minus for leg in circuit.legs)]
    return tuple(joined_by(main, start) for start in starts)


def buses(circuit: Appliance, plate: Plate, points: Collection[str]) -> tuple[str | None, ...]:
    """Return the test point of each rail from which its loads are fed: the one where most parts meet."""
    there = [part for part in circuit.parts if is_there(circuit, part, plate)]
    return tuple(_bus(circuit, there, rail, points) for rail in rails(circuit, plate))


def _bus(circuit: Appliance, there: Iterable[Part], rail: frozenset[str], points: Collection[str]) -> str | None:
    joined: dict[str, int] = {}
    loads: dict[str, None] = {}
    for part in there:
        if isinstance(part, Wire) and part.ohm >= COUPLED_OHM:
            continue
        for end in (part.first, part.second):
            if end in rail and end in points:
                joined[end] = joined.get(end, 0) + 1
                if not _is_main(circuit, part):
                    loads[end] = None
    return max(loads or joined, key=lambda node: joined[node], default=None)


def _is_main(circuit: Appliance, part: Part) -> bool:
    return (isinstance(part, Wire) and part.ohm < LOAD_OHM) or (
        isinstance(part, Contact) and part.knob in circuit.isolated
    )


def joined_by(parts: Iterable[Part], start: Iterable[str]) -> frozenset[str]:
    """Return the nodes that these parts join to the start, itself among them."""
    joined: dict[str, list[str]] = {}
    for part in parts:
        joined.setdefault(part.first, []).append(part.second)
        joined.setdefault(part.second, []).append(part.first)
    found = set(start)
    ahead = list(found)
    while ahead:
        for node in joined.get(ahead.pop(), ()):
            if node not in found:
                found.add(node)
                ahead.append(node)
    return frozenset(found)


class _Wiring:
    """The circuit with its knobs set and its parts taken off for one step."""

    def __init__(self, circuit: Appliance, step: Measure, plate: Plate, points: frozenset[str]) -> None:
        self._circuit = circuit
        self._points = points
        self._plate = plate
        setup = step.setup or Setup(live=step.needs.power_on)
        self._off = setup.off
        self._knobs = knobs_at(circuit, (), setup)
        self._there = [part for part in circuit.parts if is_there(circuit, part, plate)]
        self._at: dict[str, list[Stretch]] = {}
        for part in self._there:
            if not isinstance(part, Wire) or part.ohm < LOAD_OHM:
                self._add(self._stretch(part, part.first, part.second))
        for leg in circuit.legs:
            self._add(Stretch(leg, leg.plus, leg.minus))

    def _add(self, stretch: Stretch) -> None:
        self._at.setdefault(stretch.start, []).append(stretch)
        self._at.setdefault(stretch.end, []).append(_turned(stretch))

    def _stretch(self, part: Part, start: str, end: str) -> Stretch:
        closed = not isinstance(part, Contact) or self._knobs[part.knob] in part.closed
        closed = closed and not (isinstance(part, Wire) and part.ohm >= LOAD_OHM)
        return Stretch(part, start, end, closed, part.name in self._off)

    @cached_property
    def _rails(self) -> tuple[frozenset[str], ...]:
        return rails(self._circuit, self._plate)

    @cached_property
    def _buses(self) -> tuple[str | None, ...]:
        return buses(self._circuit, self._plate, self._points)

    def beside_sheath(self, pair: Pair) -> Way | None:
        """Return the way through the element of which one point is an end and the other the sheath."""
        for heater in self._circuit.heaters:
            for end, other in ((heater.first, heater.second), (heater.second, heater.first)):
                if {end, heater.sheath} == {pair.first, pair.second} and heater.name not in self._off:
                    between = (_tested(self._stretch(heater, end, other)),)
                    before, after = self.beyond(end, other, between)
                    return Way(before, between, after, heater.sheath)
        return None

    def between(self, pair: Pair) -> tuple[Stretch, ...] | None:
        """Return the parts between the two; two that different rails feed are joined by the supply alone."""
        mine, other = self._rails_of(pair.first), self._rails_of(pair.second)
        by_supply = bool(mine) and bool(other) and not mine & other
        found = self._shortest(pair.first, {pair.second}, legs=by_supply, loads=not by_supply)
        if found is None:
            # What never conducts when it is sound, like a contact that closes hot, joins the two all the same.
            found = next(
                (
                    (self._stretch(part, pair.first, pair.second),)
                    for part in self._there
                    if {part.first, part.second} == {pair.first, pair.second}
                ),
                None,
            )
        return None if found is None else tuple(_tested(stretch) for stretch in found)

    def _rails_of(self, node: str) -> frozenset[int]:
        return frozenset(number for number, rail in enumerate(self._rails) if node in rail)

    def through(self, name: str | None, pair: Pair) -> tuple[Stretch, ...] | None:
        """Return the parts between the two on the way through the one whose current is read."""
        part = next((part for part in self._there if part.name == name), None)
        if part is None:
            return None
        ways = []
        for start, end in ((part.first, part.second), (part.second, part.first)):
            to = self._shortest(pair.first, {start}, shut=frozenset({end, pair.second}))
            on = self._shortest(end, {pair.second}, shut=frozenset({start, pair.first}))
            if to is not None and on is not None:
                ways.append((*to, _tested(self._stretch(part, start, end)), *on))
        return min(ways, key=_cost, default=None)

    def beyond(
        self, first: str, second: str, between: tuple[Stretch, ...]
    ) -> tuple[tuple[Stretch, ...], tuple[Stretch, ...]]:
        """Return the ways from a rail to the first point and from the second to another rail, empty where none is."""
        mine, other = self._rails_of(first), self._rails_of(second)
        neutral = len(self._rails) - 1
        if any(isinstance(stretch.part, Leg) for stretch in between) or (neutral in mine and neutral in other):
            return (), ()
        inside = frozenset(node for stretch in between for node in (stretch.start, stretch.end))
        best: tuple[float, tuple[Stretch, ...], tuple[Stretch, ...]] | None = None
        ends = [(number, bus) for number, bus in enumerate(self._buses) if bus is not None]
        for (from_number, from_bus), (to_number, to_bus) in permutations(ends, 2):
            shut = inside | {bus for _, bus in ends}
            to = self._shortest(first, {from_bus}, shut=shut - {first, from_bus}, off=True)
            on = self._shortest(second, {to_bus}, shut=shut - {second, to_bus}, off=True)
            if to is None or on is None:
                continue
            shared = {stretch.part.name for stretch in to} & {stretch.part.name for stretch in on}
            by_neutral = _BY_NEUTRAL if neutral in (from_number, to_number) else 0
            cost = _cost(to) + _cost(on) + by_neutral
            if not shared and (best is None or cost < best[0]):
                best = cost, to, on
        if best is not None:
            return _backwards(best[1]), best[2]
        return _backwards(self._next_point(first, inside)), self._next_point(second, inside)

    def _next_point(self, node: str, inside: frozenset[str]) -> tuple[Stretch, ...]:
        """Return the conductors from the node to the next test point that no rail feeds."""
        goals = set(self._points) - inside - {node} - set().union(*self._rails)
        return self._shortest(node, goals, shut=inside - {node}, off=True, loads=False) or ()

    def _shortest(
        self,
        start: str,
        goals: Collection[str],
        *,
        shut: frozenset[str] = frozenset(),
        off: bool = False,
        legs: bool = False,
        loads: bool = True,
    ) -> tuple[Stretch, ...] | None:
        """Return the way of fewest parts to the nearest goal, past no node that is shut."""
        order = 0
        ahead: list[tuple[int, int, str, tuple[Stretch, ...]]] = [(0, order, start, ())]
        seen: set[str] = set()
        while ahead:
            cost, _, node, way = heapq.heappop(ahead)
            if node in goals:
                return way
            if node in seen:
                continue
            seen.add(node)
            for stretch in self._at.get(node, ()):
                fits = (off or not stretch.off) and (legs or not isinstance(stretch.part, Leg))
                fits = fits and (loads or not isinstance(stretch.part, (Heater, Platinum, Motor, Lamp)))
                if fits and stretch.end not in shut and stretch.end not in seen:
                    order += 1
                    heapq.heappush(ahead, (cost + _cost_of(stretch), order, stretch.end, (*way, stretch)))
        return None


def _cost_of(stretch: Stretch) -> int:
    return _STEPS[type(stretch.part)] if stretch.closed else _OPEN


def _cost(way: Iterable[Stretch]) -> int:
    return sum(_cost_of(stretch) for stretch in way)


def _turned(stretch: Stretch) -> Stretch:
    return Stretch(stretch.part, stretch.end, stretch.start, stretch.closed, stretch.off, stretch.tested)


def _tested(stretch: Stretch) -> Stretch:
    return Stretch(stretch.part, stretch.start, stretch.end, stretch.closed, stretch.off, tested=True)


def _backwards(way: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    return tuple(_turned(stretch) for stretch in reversed(way))
