"""Many networks of one layout, solved at once: one appliance with this fault or that, its knobs so or so.

The same star to mesh as in `network`, with the same promise: conductances are only ever added. What a layout fixes is
the order in which nodes are taken out, so every network of it is a column and each step of the arithmetic is one over
all columns. A column comes out the same to the last digit whichever others stand beside it: there is no sum over
columns and no complex product, whose rounding may depend on where it stands.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

_AT_ONCE = 2_048
"""Questions answered at once: more do not fit beside the processor. Measured, a flat optimum."""


@dataclass(frozen=True, slots=True)
class _Star:
    """A node as it is taken out: the paths to its neighbours, and where what lay between two of them is added."""

    neighbours: Places
    paths: Places
    one: Places
    other: Places
    between: Places


class Layout:
    """Where paths may be: `ends` are the two nodes of each path, `driven` the paths that a source may drive along.

    Paths between the same nodes are taken together.
    """

    def __init__(self, nodes: Sequence[str], ends: Sequence[tuple[str, str]], driven: Sequence[int]) -> None:
        index = {node: number for number, node in enumerate(nodes)}
        joined: list[set[int]] = [set() for _ in nodes]
        for first, second in ends:
            joined[index[first]].add(index[second])
            joined[index[second]].add(index[first])
        order = _order([set(each) for each in joined])
        place = [0] * len(nodes)
        for at, node in enumerate(order):
            place[node] = at
        self._place_of: dict[str, int] = {node: place[number] for node, number in index.items()}
        self._paths: dict[tuple[int, int], int] = {}
        self._path_of = [self._path(self._place_of[first], self._place_of[second]) for first, second in ends]
        self._driven = tuple(driven)
        self._turned = [1.0 if self._place_of[first] < self._place_of[second] else -1.0 for first, second in ends]
        self._stars = self._taken_out(order, joined, place)

    def _path(self, one: int, other: int) -> int:
        return self._paths.setdefault((min(one, other), max(one, other)), len(self._paths))

    def _taken_out(self, order: Sequence[int], joined: list[set[int]], place: Sequence[int]) -> list[_Star]:
        stars: list[_Star] = []
        for at, node in enumerate(order):
            around = sorted(joined[node], key=lambda other: place[other])
            pairs = [(one, other) for one in range(len(around)) for other in range(one + 1, len(around))]
            stars.append(
                _Star(
                    neighbours=np.array([place[other] for other in around], dtype=np.intp),
                    paths=np.array([self._path(at, place[other]) for other in around], dtype=np.intp),
                    one=np.array([one for one, _ in pairs], dtype=np.intp),
                    other=np.array([other for _, other in pairs], dtype=np.intp),
                    between=np.array(
                        [self._path(place[around[one]], place[around[other]]) for one, other in pairs], dtype=np.intp
                    ),
                )
            )
            _take_out(joined, node)
        return stars

    def place(self, node: str) -> int:
        """Return the node's place in the order nodes are taken out; KeyError for one the layout does not have."""
        return self._place_of[node]

    def solve(self, siemens: Floats, driven_a: tuple[Floats, Floats] | None = None) -> "Solution":
        """Return the networks solved, one a column of `siemens`, whose rows are the paths; 0 is open.

        `driven_a` is what the sources would drive along their paths, from first to second, if those were shorted:
        amperes rms in phase and across, a row for each path of `driven`.
        """
        count = siemens.shape[1]
        paths = np.zeros((len(self._paths), count))
        for row, path in enumerate(self._path_of):
            paths[path] += siemens[row]
        totals: list[Floats] = []
        shares: list[Floats] = []
        islands = np.empty((len(self._stars), count), dtype=np.intp)
        drives = () if driven_a is None else tuple(self._drives(part, count) for part in driven_a)
        lifts: list[list[Floats]] = [[] for _ in drives]
        for star in self._stars:
            here = paths[star.paths]
            total = np.zeros(count)
            for each in here:
                total += each
            # A node with nothing around it keeps to itself, and no current meets a resistance there.
            total[total == 0.0] = math.inf
            share = here / total
            for drive, lift in zip(drives, lifts, strict=True):
                along = drive[star.paths]
                whole = np.zeros(count)
                for each in along:
                    whole += each
                lift.append(whole / total)
                drive[star.between] += share[star.one] * along[star.other] - share[star.other] * along[star.one]
            paths[star.between] += share[star.one] * here[star.other]
            totals.append(total)
            shares.append(share)
        volts = tuple(np.zeros((len(self._stars), count)) for _ in drives)
        for at in reversed(range(len(self._stars))):
            star, share = self._stars[at], shares[at]
            for part, lift in zip(volts, lifts, strict=True):
                part[at] = lift[at]
                for neighbour, to_it in zip(star.neighbours, share, strict=True):
                    part[at] += to_it * part[neighbour]
            island = np.full(count, at, dtype=np.intp)
            for neighbour, to_it in zip(star.neighbours, share, strict=True):
                np.copyto(island, islands[neighbour], where=to_it > 0.0)
            islands[at] = island
        return Solution(self._stars, totals, shares, islands, volts)

    def _drives(self, driven_a: Floats, count: int) -> Floats:
        found = np.zeros((len(self._paths), count))
        for row, path in enumerate(self._driven):
            found[self._path_of[path]] += self._turned[path] * driven_a[row]
        return found


class Solution:
    """Networks of one layout with their voltages worked out, made by `Layout.solve`.

    Questions come in arrays: the column of each network asked, and the places of the two nodes.
    """

    def __init__(
        self,
        stars: Sequence[_Star],
        totals: Sequence[Floats],
        shares: Sequence[Floats],
        islands: Places,
        volts: tuple[Floats, ...],
    ) -> None:
        self._stars, self._totals, self._shares, self._islands, self._volts = stars, totals, shares, islands, volts

    def ohms(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the resistance between two nodes in ohms, `math.inf` where nothing joins them."""
        found = np.empty(len(columns))
        for begin in range(0, len(columns), _AT_ONCE):
            part = slice(begin, begin + _AT_ONCE)
            found[part] = self._ohms(columns[part], first[part], second[part])
        found[self._islands[first, columns] != self._islands[second, columns]] = math.inf
        return found

    def volts(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the volts rms between two nodes without a meter; 0 between islands and where no source is."""
        if not self._volts:
            return np.zeros(len(columns))
        found = np.hypot(*(part[first, columns] - part[second, columns] for part in self._volts))
        found[self._islands[first, columns] != self._islands[second, columns]] = 0.0
        return found

    def _ohms(self, columns: Places, first: Places, second: Places) -> Floats:
        # As in `network`: what of one ampere reaches a node heats that node's star once.
        reaching = np.zeros((len(self._stars), len(columns)))
        each = np.arange(len(columns))
        reaching[first, each] += 1.0
        reaching[second, each] -= 1.0
        ohm = np.zeros(len(columns))
        begin = int(min(first.min(), second.min())) if len(columns) else 0
        for at in range(begin, len(self._stars)):
            ampere = reaching[at]
            met = np.flatnonzero(ampere)
            if not len(met):
                continue
            ampere, column = ampere[met], columns[met]
            ohm[met] += ampere * ampere / self._totals[at][column]
            for neighbour, share in zip(self._stars[at].neighbours, self._shares[at], strict=True):
                reaching[neighbour, met] += ampere * share[column]
        return ohm


def _order(joined: list[set[int]]) -> list[int]:
    """Return the nodes as they are taken out, always one with the fewest neighbours, the first of several."""
    order: list[int] = []
    left = set(range(len(joined)))
    while left:
        node = min(left, key=lambda each: (len(joined[each]), each))
        left.discard(node)
        order.append(node)
        _take_out(joined, node)
    return order


def _take_out(joined: list[set[int]], node: int) -> None:
    around = joined[node]
    for other in around:
        joined[other] |= around
        joined[other] -= {node, other}
    joined[node] = set()
