"""Many networks of one layout, solved at once: one appliance with this fault or that, its knobs so or so.

The same star to mesh as in `network`, with the same promise: conductances are only ever added. What a layout fixes is
the order in which nodes are taken out, so every network of it is a column and each step of the arithmetic is one over
all columns. A column comes out the same to the last digit whichever others stand beside it: there is no sum over
columns and no complex product, whose rounding may depend on where it stands.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

_AT_ONCE = 2_048
"""Questions answered at once: more do not fit beside the processor. Measured, a flat optimum."""


@dataclass(frozen=True, slots=True)
class _Star:
    """A node as it is taken out: its neighbours, the paths to them, and the path between each two of them.

    `between` has the numbers of two neighbours in `neighbours`, and their path.
    """

    neighbours: tuple[int, ...]
    paths: tuple[int, ...]
    between: tuple[tuple[int, int, int], ...]


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
            stars.append(
                _Star(
                    neighbours=tuple(place[other] for other in around),
                    paths=tuple(self._path(at, place[other]) for other in around),
                    between=tuple(
                        (one, other, self._path(place[around[one]], place[around[other]]))
                        for one, other in combinations(range(len(around)), 2)
                    ),
                )
            )
            _take_out(joined, node)
        return stars

    def place(self, node: str) -> int:
        """Return the node's place in the order nodes are taken out; KeyError for one the layout does not have."""
        return self._place_of[node]

    def solve(self, siemens: Floats, driven_a: Floats | None = None) -> "Solution":
        """Return the networks solved, one a column of `siemens`, whose rows are the paths; 0 is open.

        `driven_a` is what the sources would drive along their paths, from first to second, if those were shorted:
        amperes rms, for each path of `driven` a row in phase and one across.
        """
        count = siemens.shape[1]
        paths = [np.zeros(count) for _ in self._paths]
        for path, row in zip(self._path_of, siemens, strict=True):
            paths[path] += row
        drives = self._drives(driven_a)
        totals: list[Floats] = []
        shares: list[list[Floats]] = []
        lifts: list[Floats | None] = []
        for star in self._stars:
            here = [paths[path] for path in star.paths]
            total = sum(here[1:], here[0]) if here else np.zeros(count)
            joined = total > 0.0
            if not joined.all():
                # A node with nothing around it keeps to itself.
                total = np.where(joined, total, math.inf)
            share = [each / total for each in here]
            for one, other, between in star.between:
                paths[between] += share[one] * here[other]
            totals.append(total)
            shares.append(share)
            lifts.append(_lift(star, drives, share, total))
        if driven_a is None:
            return Solution(self._stars, totals, shares, None)
        volts = np.zeros((len(self._stars), 2, count))
        for at in reversed(range(len(self._stars))):
            here_v, lift = volts[at], lifts[at]
            if lift is not None:
                here_v += lift
            for neighbour, to_it in zip(self._stars[at].neighbours, shares[at], strict=True):
                here_v += to_it * volts[neighbour]
        return Solution(self._stars, totals, shares, volts)

    def _drives(self, driven_a: Floats | None) -> dict[int, Floats]:
        """Return what is driven along each path that has a source, from the node that is taken out first."""
        found: dict[int, Floats] = {}
        for path, row in zip(self._driven, driven_a if driven_a is not None else (), strict=False):
            _drive(found, self._path_of[path], self._turned[path] * row)
        return found


class Solution:
    """Networks of one layout with their voltages worked out, made by `Layout.solve`.

    Questions come in arrays: the column of each network asked, and the places of the two nodes.
    """

    def __init__(
        self,
        stars: Sequence[_Star],
        totals: Sequence[Floats],
        shares: Sequence[Sequence[Floats]],
        volts: Floats | None,
    ) -> None:
        self._stars, self._totals, self._shares, self._volts = stars, totals, shares, volts

    def ohms(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the resistance between two nodes in ohms, `math.inf` where nothing joins them."""
        found = np.empty(len(columns))
        for begin in range(0, len(columns), _AT_ONCE):
            part = slice(begin, begin + _AT_ONCE)
            found[part] = self._ohms(columns[part], first[part], second[part])
        return found

    def volts(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the volts rms between two nodes without a meter, without their sign; 0 where no source is.

        Between nodes that nothing joins it says nothing.
        """
        if self._volts is None:
            return np.zeros(len(columns))
        apart = self._volts[first, :, columns] - self._volts[second, :, columns]
        return np.hypot(apart[:, 0], apart[:, 1])

    def _ohms(self, columns: Places, first: Places, second: Places) -> Floats:
        # As in `network`: what of one ampere reaches a node heats that node's star once. Where it comes to a node with
        # nothing left around it, it has either met the ampere that goes out, or there is no way from one to the other.
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
            total = self._totals[at][column]
            ohm[met] += np.where(np.isinf(total) & (np.abs(ampere) > 0.5), math.inf, ampere * ampere / total)
            for neighbour, share in zip(self._stars[at].neighbours, self._shares[at], strict=True):
                reaching[neighbour, met] += ampere * share[column]
        return ohm


def _lift(star: _Star, drives: dict[int, Floats], share: Sequence[Floats], total: Floats) -> Floats | None:
    """Hand what is driven along the paths of a node on to the paths that replace them; return its lift in volts."""
    driven = [drives.get(path) for path in star.paths]
    lift: Floats | None = None
    for each in driven:
        if each is not None:
            lift = each if lift is None else lift + each
    if lift is None:
        return None
    for one, other, between in star.between:
        from_one, from_other = driven[one], driven[other]
        if from_other is not None:
            _drive(drives, between, share[one] * from_other)
        if from_one is not None:
            _drive(drives, between, -(share[other] * from_one))
    return lift / total


def _drive(drives: dict[int, Floats], path: int, more: Floats) -> None:
    found = drives.get(path)
    drives[path] = more if found is None else found + more


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
