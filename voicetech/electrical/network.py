"""What a meter shows anywhere in a network of resistances and sources of one frequency.

Volts and amperes are complex and rms. Nodes are taken out one by one, each replaced by what it is between its
neighbours (star to mesh, Rosen 1924, from memory), a source kept as what it drives along its own path. That is nodal
analysis with one difference that pays here, where a joint of a milliohm lies beside a path of a gigohm: conductances
are only ever added, never subtracted, so nothing is lost between the very small and the very large.
"""

import cmath
import heapq
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

METER_OHM = 10e6
"""Input resistance of a handheld digital meter on volts. Source: common practice, no source."""
SMALLEST_OHM = 1e-12
LARGEST_OHM = 1e18
"""Far outside what is met at work, and far enough inside what a float holds. Source: chosen, no source."""


class NetworkError(ValueError):
    """A network that cannot be, or a question it has no answer to; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance between two nodes; `math.inf` is open, and its nodes are there all the same."""

    name: str
    first: str
    second: str
    ohm: float

    def __post_init__(self) -> None:
        if not self.ohm > 0:
            raise NetworkError(
                f"branch '{self.name}' has {self.ohm} ohms; give a wire or a closed contact a small resistance, "
                "such as 0.001, and an open one math.inf"
            )
        if self.ohm != math.inf:
            _check_ohm(f"branch '{self.name}'", self.ohm)
        _check_ends(f"branch '{self.name}'", self.first, self.second)

    @property
    def is_open(self) -> bool:
        """Return whether nothing can flow through it."""
        return self.ohm == math.inf


@dataclass(frozen=True, slots=True)
class Source:
    """A voltage (complex, rms) from minus to plus, behind its inner resistance."""

    name: str
    plus: str
    minus: str
    volts: complex
    ohm: float

    def __post_init__(self) -> None:
        if not 0 < self.ohm < math.inf:
            raise NetworkError(
                f"source '{self.name}' has an inner resistance of {self.ohm} ohms; give a stiff supply a small one, "
                "such as 0.01, and leave out a source that is not connected"
            )
        _check_ohm(f"source '{self.name}'", self.ohm)
        if not cmath.isfinite(self.volts):
            raise NetworkError(f"source '{self.name}' has {self.volts} volts; give a finite voltage")
        _check_ends(f"source '{self.name}'", self.plus, self.minus)


@dataclass(frozen=True, slots=True)
class Network:
    """Branches and sources joined at nodes of the same name.

    `loose_nodes` are nodes that are there even where nothing is joined to them, such as the terminal that a wire was
    taken off. Raises NetworkError where two parts have the same name.
    """

    branches: tuple[Branch, ...]
    sources: tuple[Source, ...] = ()
    loose_nodes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for part in self.parts:
            if part.name in seen:
                raise NetworkError(f"two parts are called '{part.name}'; give every branch and source its own name")
            seen.add(part.name)

    @property
    def parts(self) -> tuple[Branch | Source, ...]:
        """Return the branches and then the sources."""
        return (*self.branches, *self.sources)

    @property
    def nodes(self) -> tuple[str, ...]:
        """Return the name of every node once, in the order of branches, sources and loose nodes."""
        named = dict.fromkeys(node for branch in self.branches for node in (branch.first, branch.second))
        named.update(dict.fromkeys(node for source in self.sources for node in (source.plus, source.minus)))
        named.update(dict.fromkeys(self.loose_nodes))
        return tuple(named)

    def without(self, *names: str) -> "Network":
        """Return the network with these branches and sources taken off, and every node still there.

        Raises NetworkError for a name that is not in the network.
        """
        for name in names:
            self._check_part(name)
        return Network(
            branches=tuple(branch for branch in self.branches if branch.name not in names),
            sources=tuple(source for source in self.sources if source.name not in names),
            loose_nodes=self.nodes,
        )

    def with_ohm(self, name: str, ohm: float) -> "Network":
        """Return the network with another resistance, in ohms, in this branch or inside this source.

        Raises NetworkError for a name that is not in the network and for a resistance that cannot be.
        """
        self._check_part(name)
        return replace(
            self,
            branches=tuple(replace(each, ohm=ohm) if each.name == name else each for each in self.branches),
            sources=tuple(replace(each, ohm=ohm) if each.name == name else each for each in self.sources),
        )

    def _check_part(self, name: str) -> None:
        names = [part.name for part in self.parts]
        if name not in names:
            raise NetworkError(_unknown("branch or source", name, names))


@dataclass(frozen=True, slots=True)
class Solved:
    """A network with its voltages worked out, made by `solve`; asking it for a reading is cheap.

    Nodes are kept by their place in the order they were taken out. The last of each island is its reference.
    """

    network: Network
    _parts: Mapping[str, Branch | Source] = field(repr=False)
    _places: Mapping[str, int] = field(repr=False)
    _volts: tuple[complex, ...] = field(repr=False)
    _islands: tuple[int, ...] = field(repr=False)
    _siemens: tuple[float, ...] = field(repr=False)
    """What a node had to all its neighbours together when it was taken out."""
    _shares: tuple[tuple[tuple[int, float], ...], ...] = field(repr=False)
    """The part of that which led to each of these neighbours."""

    def volts(self, first: str, second: str, meter_ohm: float = METER_OHM) -> complex:
        """Return what a meter of this input resistance shows at the first node against the second, volts rms.

        Between islands it is 0, because nothing flows through a meter without a way back. A meter of `math.inf` ohms
        shows the voltage as it is without one. Raises NetworkError for an unknown node and a meter without resistance.
        """
        if not meter_ohm > 0:
            raise NetworkError(f"a meter of {meter_ohm} ohms shows no voltage; give it more than 0, mostly 10 megohms")
        place, other = self._place(first), self._place(second)
        if place == other or self._islands[place] != self._islands[other]:
            return 0j
        return (self._volts[place] - self._volts[other]) / (1 + self._ohm_between(place, other) / meter_ohm)

    def ohms(self, first: str, second: str) -> float:
        """Return the resistance between two nodes in ohms, `math.inf` where nothing joins them.

        Raises NetworkError for a network with sources and for an unknown node.
        """
        if self.network.sources:
            names = ", ".join(source.name for source in self.network.sources)
            raise NetworkError(f"ohms are never read on a live circuit; take the sources off first ({names})")
        place, other = self._place(first), self._place(second)
        if self._islands[place] != self._islands[other]:
            return math.inf
        return self._ohm_between(place, other)

    def current(self, name: str) -> complex:
        """Return the amperes rms from first to second through a branch, or out of the plus of a source.

        Raises NetworkError for a name that is not in the network.
        """
        match self._part(name):
            case Source(plus=plus, minus=minus, volts=volts, ohm=ohm):
                return (volts - self._difference(plus, minus)) / ohm
            case Branch(first=first, second=second, ohm=ohm) as branch:
                return 0j if branch.is_open else self._difference(first, second) / ohm

    def power(self, name: str) -> float:
        """Return the watts that a branch turns into heat.

        Raises NetworkError for a source and for a name that is not in the network.
        """
        part = self._part(name)
        if isinstance(part, Source):
            raise NetworkError(f"'{name}' is a source; power is asked of a branch, current of either")
        if part.is_open:
            return 0.0
        across = self._difference(part.first, part.second)
        return (across.real * across.real + across.imag * across.imag) / part.ohm

    def _part(self, name: str) -> Branch | Source:
        part = self._parts.get(name)
        if part is None:
            raise NetworkError(_unknown("branch or source", name, self._parts))
        return part

    def _place(self, node: str) -> int:
        place = self._places.get(node)
        if place is None:
            raise NetworkError(_unknown("node", node, self._places))
        return place

    def _difference(self, first: str, second: str) -> complex:
        return self._volts[self._places[first]] - self._volts[self._places[second]]

    def _ohm_between(self, place: int, other: int) -> float:
        # One ampere in at one node and out at the other. What of it reaches a node heats that node's star once, and
        # that heat is the resistance: a sum of squares, so the way back through the factors is not needed.
        reaching = [0.0] * len(self._volts)
        reaching[place] += 1.0
        reaching[other] -= 1.0
        ohm = 0.0
        for each in range(min(place, other), len(reaching)):
            ampere = reaching[each]
            if ampere != 0.0 and self._shares[each]:
                ohm += ampere * ampere / self._siemens[each]
                for neighbour, share in self._shares[each]:
                    reaching[neighbour] += ampere * share
        return ohm


@dataclass(frozen=True, slots=True)
class _Star:
    """A node as it was when it was taken out: its neighbours then, and how far the sources lift it over them."""

    node: int
    siemens: float
    shares: tuple[tuple[int, float], ...]
    lift_v: complex


def solve(network: Network) -> Solved:
    """Return the network with its voltages worked out, each island (what hangs together) against its own reference."""
    names = network.nodes
    stars = _taken_out(network, names)
    place_of = [0] * len(names)
    for place, star in enumerate(stars):
        place_of[star.node] = place
    shares = tuple(tuple((place_of[node], share) for node, share in star.shares) for star in stars)
    volts = [0j] * len(stars)
    islands = list(range(len(stars)))
    for place in reversed(range(len(stars))):
        if shares[place]:
            volts[place] = stars[place].lift_v + sum(share * volts[other] for other, share in shares[place])
            islands[place] = islands[shares[place][0][0]]
    return Solved(
        network=network,
        _parts={part.name: part for part in network.parts},
        _places=dict(zip(names, place_of, strict=True)),
        _volts=tuple(volts),
        _islands=tuple(islands),
        _siemens=tuple(star.siemens for star in stars),
        _shares=shares,
    )


def _taken_out(network: Network, names: tuple[str, ...]) -> list[_Star]:
    """Return the nodes as they are taken out, always one with the fewest neighbours, so that few new paths arise."""
    index = {name: number for number, name in enumerate(names)}
    siemens: list[dict[int, float]] = [{} for _ in names]
    driven_a: list[dict[int, complex]] = [{} for _ in names]
    for branch in network.branches:
        if not branch.is_open:
            _join(siemens, index[branch.first], index[branch.second], 1 / branch.ohm)
    for source in network.sources:
        plus, minus = index[source.plus], index[source.minus]
        _join(siemens, plus, minus, 1 / source.ohm)
        _drive(driven_a, plus, minus, source.volts / source.ohm)

    stars: list[_Star] = []
    taken = [False] * len(names)
    counted = [len(neighbours) for neighbours in siemens]
    queue = [(count, node) for node, count in enumerate(counted)]
    heapq.heapify(queue)
    while queue:
        count, node = heapq.heappop(queue)
        if taken[node] or count != counted[node]:
            continue
        taken[node] = True
        neighbours = siemens[node]
        total = sum(neighbours.values())
        shares = tuple([(other, to_other / total) for other, to_other in neighbours.items()])
        lift_v = _mesh_of_drives(driven_a, node, shares, total) if driven_a[node] else 0j
        stars.append(_Star(node, total, shares, lift_v))
        for number, (other, share) in enumerate(shares, start=1):
            paths = siemens[other]
            del paths[node]
            for another, _ in shares[number:]:
                siemens[another][other] = paths[another] = paths.get(another, 0.0) + share * neighbours[another]
        for other in neighbours:
            count = len(siemens[other])
            if count != counted[other]:
                counted[other] = count
                heapq.heappush(queue, (count, other))
    return stars


def _join(siemens: list[dict[int, float]], node: int, other: int, more: float) -> None:
    siemens[node][other] = siemens[other][node] = siemens[node].get(other, 0.0) + more


def _drive(driven_a: list[dict[int, complex]], node: int, other: int, more: complex) -> None:
    driven_a[node][other] = driven_a[node].get(other, 0j) + more
    driven_a[other][node] = driven_a[other].get(node, 0j) - more


def _mesh_of_drives(
    driven_a: list[dict[int, complex]], node: int, shares: tuple[tuple[int, float], ...], total: float
) -> complex:
    """Hand what is driven along the paths of this node on to the paths that replace them; return its lift in volts.

    What a source would drive along its path if that were shorted stays with the path. Booked at its two ends instead,
    it would be kiloamperes whose difference is looked for far away.
    """
    drives = driven_a[node]
    for other in drives:
        del driven_a[other][node]
    for number, (other, share) in enumerate(shares, start=1):
        from_other = drives.get(other, 0j)
        for another, another_share in shares[number:]:
            between = share * drives.get(another, 0j) - another_share * from_other
            if between:
                _drive(driven_a, other, another, between)
    return sum(drives.values()) / total


def _check_ohm(what: str, ohm: float) -> None:
    if not SMALLEST_OHM <= ohm <= LARGEST_OHM:
        raise NetworkError(
            f"{what} has {ohm} ohms; give from {SMALLEST_OHM} to {LARGEST_OHM}, and math.inf to a branch that is open"
        )


def _check_ends(what: str, first: str, second: str) -> None:
    if first == second:
        raise NetworkError(f"{what} has both ends at '{first}'; give it two nodes, or leave it out")


def _unknown(what: str, name: str, names: Iterable[str]) -> str:
    spelled = {known.casefold(): known for known in names}
    near = get_close_matches(name.casefold(), spelled, n=3, cutoff=0.5)
    if near:
        return f"there is no {what} '{name}'; did you mean {' or '.join(repr(spelled[each]) for each in near)}?"
    return f"there is no {what} '{name}'; the network has {', '.join(spelled.values()) or 'none'}"
