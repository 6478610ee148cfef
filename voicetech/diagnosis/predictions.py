"""What each measuring step would read with each fault, from the circuit of the appliance."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from voicetech.electrical.appliance import Appliance, Fault, Joint, Opened, Scaled, Setup, network_of
from voicetech.electrical.network import METER_OHM, Solved, Source, solve
from voicetech.procedure import Measure, Pair
from voicetech.units import Quantity

STEADY_PART = 0.8
"""A voltage that falls below this part of itself on a meter of a tenth of the resistance is only coupled."""
OVER_RANGE_OHM = 40e6
"""Where a handheld meter shows OL. Source: common practice, no source."""
_NOTHING = 1e-6
OHMMETER_OHM = 100.0
NOTHING_A = 1e-9
"""An ohmmeter of one volt behind so many ohms, and a current of it that is none."""

Faults = tuple[Fault, ...]
Plate = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Predicted:
    """One reading to come, in the base unit; `math.inf` is over range. `loose` voltages are only coupled across."""

    value: float
    loose: bool = False


class Predictions:
    """The readings of one appliance, worked out once each and kept.

    What a fault changes nothing at with one plate it changes nothing at with another, as long as the same parts are
    there: figures of a plate that become known cost only the readings they change.
    """

    def __init__(self, appliance: Appliance) -> None:
        self._appliance = appliance
        self._known: dict[tuple[_Reading, Plate, Faults], tuple[Predicted, ...]] = {}
        self._fields: dict[_Reading, frozenset[str]] = {}
        self._moved_by: dict[tuple[_Reading, Plate, str], bool] = {}
        self._carrying: dict[tuple[_Reading, Plate], frozenset[str]] = {}
        self._of_parts = frozenset(name for wanted in appliance.only.values() for name in wanted)

    def of_step(
        self, section: str, step: Measure, faults: Faults, plate: Plate, *, left_on: bool = False
    ) -> tuple[Predicted, ...]:
        """Return what each pair of the step would read with these faults; empty where the circuit cannot tell.

        `plate` are the recorded answers that the circuit uses, as pairs of field and value. With `left_on` the knobs
        stand where they may have been left.
        """
        setup = step.setup
        if setup is None:
            return ()
        if left_on:
            setup = replace(setup, knobs=(*setup.knobs, *setup.left_on))
        return self._of(_Reading(section, step.id, left_on), step, setup, faults, plate)

    def _of(
        self, reading: "_Reading", step: Measure, setup: Setup, faults: Faults, plate: Plate
    ) -> tuple[Predicted, ...]:
        plate = self._that_counts(reading, step, setup, plate)
        key = (reading, plate, faults)
        found = self._known.get(key)
        if found is None:
            parts = tuple(pair for pair in plate if pair[0] in self._of_parts)
            moving = tuple(fault for fault in faults if self._moves(reading, step, setup, fault, parts))
            if len(moving) < len(faults):
                # Only that two faults together show what neither shows alone is lost by this.
                found = self._of(reading, step, setup, moving, plate)
            else:
                found = self._solved(step, setup, faults, plate)
            self._known[key] = found
        return found

    def _moves(self, reading: "_Reading", step: Measure, setup: Setup, fault: Fault, parts: Plate) -> bool:
        """Return whether the fault changes what the step reads with the parts that are there."""
        found = self._moved_by.get((reading, parts, fault.id))
        if found is None:
            found = self._may_move(reading, step, setup, fault, parts)
            if found:
                whole = self._of(reading, step, setup, (), parts)
                found = not _alike(self._solved(step, setup, (fault,), parts), whole)
            self._moved_by[reading, parts, fault.id] = found
        return found

    def _may_move(self, reading: "_Reading", step: Measure, setup: Setup, fault: Fault, parts: Plate) -> bool:
        """Return False where the fault only changes parts that carry nothing of an ohmmeter's current."""
        if setup.live or not all(isinstance(effect, (Opened, Joint, Scaled)) for effect in fault.effects):
            return True
        carrying = self._carrying.get((reading, parts))
        if carrying is None:
            carrying = self._carrying[reading, parts] = self._carries(step, setup, parts)
        return any(effect.part in carrying for effect in fault.effects if isinstance(effect, (Opened, Joint, Scaled)))

    def _carries(self, step: Measure, setup: Setup, parts: Plate) -> frozenset[str]:
        """Return the parts through which an ohmmeter at one of the step's pairs drives a current."""
        network = network_of(self._appliance, dict(parts), (), setup)
        found: set[str] = set()
        for pair in step.pairs:
            meter = Source("ohmmeter", pair.first, pair.second, 1.0, OHMMETER_OHM)
            solved = solve(replace(network, sources=(meter,)))
            found |= {branch.name for branch in network.branches if abs(solved.current(branch.name)) > NOTHING_A}
        return frozenset(found)

    def _that_counts(self, reading: "_Reading", step: Measure, setup: Setup, plate: Plate) -> Plate:
        """Return the part of the plate that the step's readings depend on.

        Which parts are there always counts where it is not as usual: a sound appliance may read alike with them and
        without, and a fault of it not.
        """
        if not plate:
            return plate
        fields = self._fields.get(reading)
        if fields is None:
            fields = self._fields[reading] = frozenset(self._fields_of(step, setup))
        usual = self._appliance.usual
        return tuple(
            (name, value)
            for name, value in plate
            if (value != usual.get(name) if name in self._of_parts else name in fields)
        )

    def _fields_of(self, step: Measure, setup: Setup) -> Iterator[str]:
        whole = self._solved(step, setup, (), ())
        for name, values in self._appliance.plate_values.items():
            if name in self._of_parts:
                continue
            if any(not _alike(self._solved(step, setup, (), ((name, value),)), whole) for value in values):
                yield name

    def _solved(self, step: Measure, setup: Setup, faults: Faults, plate: Plate) -> tuple[Predicted, ...]:
        return _read(solve(network_of(self._appliance, dict(plate), faults, setup)), step)


@dataclass(frozen=True, slots=True)
class _Reading:
    """Which readings are meant: those of one step, as asked or with knobs left on."""

    section: str
    step: str
    left_on: bool


def _alike(these: Iterable[Predicted], those: Iterable[Predicted]) -> bool:
    return all(
        one.value == other.value or math.isclose(one.value, other.value, rel_tol=1e-3, abs_tol=_NOTHING)
        for one, other in zip(these, those, strict=True)
    )


def _read(solved: Solved, step: Measure) -> tuple[Predicted, ...]:
    return tuple(_pair(solved, step, pair) for pair in step.pairs)


def _pair(solved: Solved, step: Measure, pair: Pair) -> Predicted:
    value = reading(solved, step, pair)
    if step.quantity is not Quantity.VOLTAGE:
        return Predicted(math.inf if value > OVER_RANGE_OHM else value)
    loaded = abs(solved.volts(pair.first, pair.second, METER_OHM / 10))
    return Predicted(value, loose=value > 1 and loaded < value * STEADY_PART)


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
