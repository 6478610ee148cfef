"""What steps would read with one fault or another, read off many networks at once."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from voicetech.electrical.appliance import Appliance, Fault, Setup, network_of
from voicetech.electrical.layout import Floats, Places
from voicetech.electrical.network import METER_OHM, Solved, solve
from voicetech.electrical.variants import SolvedVariants, Stand, Variant, Variants
from voicetech.procedure import Measure, Pair
from voicetech.units import Quantity

STEADY_PART = 0.8
"""A voltage that falls below this part of itself on a meter of a tenth of the resistance is only coupled."""
OVER_RANGE_OHM = 40e6
"""Where a handheld meter shows OL. Source: common practice, no source."""
ALIKE_PART = 1e-3
_NOTHING = 1e-6
"""Readings no further apart than this part of themselves, or this in the base unit, are the same."""
_METERS_OHM = (METER_OHM, METER_OHM / 10)
_BETWEEN_NODES = frozenset({Quantity.VOLTAGE, Quantity.RESISTANCE, Quantity.CONTINUITY})

Faults = tuple[Fault, ...]
Plate = tuple[tuple[str, str], ...]
Case = tuple[Plate, Faults]
"""Recorded answers, as pairs of field and value, and what is wrong."""
WHOLE: Final[Case] = ((), ())


@dataclass(frozen=True, slots=True)
class Predicted:
    """One reading to come, in the base unit; `math.inf` is over range. `loose` voltages are only coupled across."""

    value: float
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """What a step reads in each of some cases, to be worked out."""

    step: Measure
    setup: Setup
    cases: tuple[Case, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """What a step reads: a row for each pair, a column for each case."""

    values: Floats
    loose: npt.NDArray[np.bool_]

    def predicted(self, number: int) -> tuple[Predicted, ...]:
        """Return the readings of one case."""
        return tuple(map(Predicted, self.values[:, number].tolist(), self.loose[:, number].tolist()))

    def moved(self) -> list[bool]:
        """Return of each case whether it reads otherwise than the first."""
        whole = self.values[:, :1]
        with np.errstate(invalid="ignore"):
            room = np.maximum(ALIKE_PART * np.maximum(np.abs(self.values), np.abs(whole)), _NOTHING)
            near = np.abs(self.values - whole) <= room
        alike = (self.values == whole) | (near & np.isfinite(self.values) & np.isfinite(whole))
        return [not each for each in alike.all(axis=0).tolist()]


def shown_together(appliance: Appliance, variants: Variants, asked: Sequence[Asked]) -> list[Shown]:
    """Return what each of these reads, in their order. Set-ups are all live, or none is.

    Raises NetworkError where a step asks what its set-up has no answer to, such as ohms of a live circuit.
    """
    together = _Together(variants)
    columns = [together.columns(each) for each in asked]
    found = together.shown(asked, columns)
    for each, shown in zip(asked, found, strict=True):
        together.alone(appliance, each, shown)
    return found


def reading(solved: Solved, step: Measure, pair: Pair) -> float:
    """Return what the step reads at one of its pairs, in the base unit; `math.nan` of what a circuit does not have."""
    match step.quantity:
        case Quantity.VOLTAGE:
            return abs(solved.volts(pair.first, pair.second))
        case Quantity.RESISTANCE | Quantity.CONTINUITY:
            return solved.ohms(pair.first, pair.second)
        case Quantity.CURRENT if step.through is not None:
            return abs(solved.current(step.through))
        case _:
            return math.nan


def read_plainly(solved: Solved, step: Measure) -> tuple[Predicted, ...]:
    """Return what each pair of the step reads in one solved network."""
    return tuple(_pair(solved, step, pair) for pair in step.pairs)


def _pair(solved: Solved, step: Measure, pair: Pair) -> Predicted:
    value = reading(solved, step, pair)
    if step.quantity is not Quantity.VOLTAGE:
        return Predicted(math.inf if value > OVER_RANGE_OHM else value)
    loaded = abs(solved.volts(pair.first, pair.second, METER_OHM / 10))
    return Predicted(value, loose=value > 1 and loaded < value * STEADY_PART)


class _Together:
    """Networks to be solved at once, each set-up and case once."""

    def __init__(self, variants: Variants) -> None:
        self._variants = variants
        self._networks: list[Variant] = []
        self._columns: dict[Setup, dict[Case, int]] = {}
        self._unlike: set[tuple[Setup, Case]] = set()
        """What has no room in the layout."""

    def columns(self, asked: Asked) -> list[int]:
        """Return which of the networks each case is, taken in where it is new."""
        known = self._columns.setdefault(asked.setup, {})
        stand = self._variants.stand(asked.setup)
        return [known[case] if case in known else self._taken_in(stand, case, known) for case in asked.cases]

    def _taken_in(self, stand: Stand, case: Case, known: dict[Case, int]) -> int:
        plate, faults = case
        variant = self._variants.variant(plate, faults, stand)
        if variant is None:
            self._unlike.add((stand.setup, case))
        if case != WHOLE and (variant is None or variant.is_whole):
            known[case] = known[WHOLE] if WHOLE in known else self._taken_in(stand, WHOLE, known)
        elif variant is not None:
            known[case] = len(self._networks)
            self._networks.append(variant)
        return known[case]

    def shown(self, asked: Sequence[Asked], columns: Sequence[list[int]]) -> list[Shown]:
        """Return what each of these reads in its networks."""
        solved = self._variants.solve(self._networks)
        spread = [np.unique(np.array(each, dtype=np.intp), return_inverse=True) for each in columns]
        places = [
            [(self._variants.place(pair.first), self._variants.place(pair.second)) for pair in each.step.pairs]
            if self._is_like(each) and each.step.quantity in _BETWEEN_NODES
            else []
            for each in asked
        ]
        between = _between(solved, [different for different, _ in spread], places)
        found: list[Shown] = []
        for each, (different, again), pairs in zip(asked, spread, places, strict=True):
            values = np.full((len(each.step.pairs), len(different)), math.nan)
            loose = np.zeros(values.shape, dtype=np.bool_)
            for row in range(len(pairs)):
                bare_v, ohm = next(between)
                if each.step.quantity is Quantity.VOLTAGE:
                    values[row], loaded = (bare_v / (1 + ohm / meter_ohm) for meter_ohm in _METERS_OHM)
                    loose[row] = (values[row] > 1) & (loaded < values[row] * STEADY_PART)
                else:
                    values[row] = np.where(ohm > OVER_RANGE_OHM, math.inf, ohm)
            if each.step.quantity is Quantity.CURRENT and each.step.through is not None and self._is_like(each):
                values[:] = solved.amperes(different, each.step.through)
            found.append(Shown(values[:, again], loose[:, again]))
        return found

    def alone(self, appliance: Appliance, asked: Asked, shown: Shown) -> None:
        """Put in what could not be read together with the rest."""
        like = self._is_like(asked)
        for column, case in enumerate(asked.cases if self._unlike or not like else ()):
            if not like or (asked.setup, case) in self._unlike:
                plate, faults = case
                solved = solve(network_of(appliance, dict(plate), faults, asked.setup))
                for row, each in enumerate(read_plainly(solved, asked.step)):
                    shown.values[row, column], shown.loose[row, column] = each.value, each.loose

    def _is_like(self, asked: Asked) -> bool:
        """Return whether the step asks what the layout can answer."""
        step = asked.step
        if step.quantity is Quantity.CURRENT:
            return step.through is None or self._variants.has_part(step.through)
        if step.quantity in _BETWEEN_NODES:
            known = all(self._variants.has_node(node) for pair in step.pairs for node in (pair.first, pair.second))
            return known and (step.quantity is Quantity.VOLTAGE or not asked.setup.live)
        return True


def _between(
    solved: SolvedVariants, columns: Sequence[Places], places: Sequence[Sequence[tuple[int, int]]]
) -> Iterator[tuple[Floats, Floats]]:
    """Return volts without a meter and ohms of each pair of nodes in turn, asked for all at once."""
    blocks = [(mine, pair) for mine, pairs in zip(columns, places, strict=True) for pair in pairs]
    if not blocks:
        return
    lengths = [len(mine) for mine, _ in blocks]
    asked = np.concatenate([mine for mine, _ in blocks])
    first, second = (np.repeat(np.array([pair[end] for _, pair in blocks], dtype=np.intp), lengths) for end in (0, 1))
    volts, ohms = solved.volts(asked, first, second), solved.ohms(asked, first, second)
    begin = 0
    for length in lengths:
        yield volts[begin : begin + length], ohms[begin : begin + length]
        begin += length
