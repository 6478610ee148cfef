"""The appliance of a rehearsal: what a meter, the eyes and the customer would tell of it."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Protocol

from voicetech.diagnosis.predictions import reading
from voicetech.electrical.appliance import (
    Appliance,
    Contact,
    Effect,
    Fault,
    Held,
    Leaks,
    Load,
    Setup,
    network_of,
    rated_watts,
    read_off,
)
from voicetech.electrical.meter import HANDHELD, Meter
from voicetech.electrical.network import Solved, solve
from voicetech.procedure import Ask, Inspect, Measure, Pair, Procedure, Section
from voicetech.units import READ_OFF, Quantity, Unit

CONNECTION = "connection"
"""The field under which it is recorded how the appliance is connected to its supply."""
LEADS_OHM = 0.2
"""Resistance of the test leads. Source: a public page on meter accuracy, 0.2 to 0.5 ohms (read)."""
LOW_IMPEDANCE_OHM = 3000.0
"""What a meter loads a circuit with in its low-impedance mode. Source: common practice, no source."""
TRIPS_FROM_A = 60.0
"""Current at which a breaker of 50 amperes or less is tripped in the end. Source: common practice, no source."""
BREAKER = "breaker"
"""The knob that is the breaker of the appliance's circuit; its first position is on."""
MOVED_PART = 0.05
"""Part of a reading, or of a volt or an ohm, by which a fault has to move it to be seen. Judgement, no source."""
COLD_SHARE = 0.6
"""Part of its power below which a customer calls an element or a motor out. Judgement, no source."""
WRONG_SHARE = (0.87, 1.12)
"""Part of its power outside which a customer calls the heat wrong. Judgement, no source."""


class Chance(Protocol):
    """A source of chance, such as `random.Random`."""

    def uniform(self, a: float, b: float) -> float:
        """Return a number between the two."""


@dataclass(frozen=True, slots=True)
class AtHand:
    """An appliance with faults that nobody told of; `plate` are its recorded answers."""

    procedure: Procedure
    circuit: Appliance
    faults: tuple[Fault, ...]
    plate: Mapping[str, str]
    meter: Meter = HANDHELD

    def without(self, causes: Iterable[str]) -> "AtHand":
        """Return the appliance with the faults of these causes mended."""
        mended = frozenset(causes)
        return replace(self, faults=tuple(fault for fault in self.faults if fault.cause not in mended))

    def shows(self, step: Measure, pair: Pair, chance: Chance, *, low_impedance: bool = False) -> Decimal | None:
        """Return what the meter shows at a pair of the step, within its accuracy; None is over range.

        Ohms are those of the part and the leads. With `low_impedance` a voltage that is only coupled across falls away.
        """
        if step.quantity in READ_OFF:
            return shown(read_off(self.circuit, self.faults, step.field or ""), step.unit, self.meter, chance)
        solved = self._solved(step)
        true = reading(solved, step, pair)
        if low_impedance and step.quantity is Quantity.VOLTAGE:
            true = abs(solved.volts(pair.first, pair.second, LOW_IMPEDANCE_OHM))
        if step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY):
            true += LEADS_OHM
        return shown(true, step.unit, self.meter, chance)

    def looks_bad(self, part: str) -> bool:
        """Return whether a look at the part finds damage."""
        return any(part in fault.seen for fault in self.faults)

    def tells(self, field: str) -> tuple[str, ...]:
        """Return the answers to a question that the faults bring about."""
        return tuple(answer for fault in self.faults for answer in fault.told.get(field, ())[:1])

    def fitted(self, field: str) -> tuple[str, ...]:
        """Return the answers without which a fault could not be."""
        return tuple(answer for fault in self.faults for answer in fault.only.get(field, ())[:1])

    @property
    def leaking(self) -> tuple[str, ...]:
        """Return the elements with a path to their sheath."""
        return tuple(effect.part for fault in self.faults for effect in fault.effects if isinstance(effect, Leaks))

    @property
    def has_tripped(self) -> bool:
        """Return whether the breaker is found tripped."""
        return self.trips or any(_holds_breaker(fault) for fault in self.faults)

    @property
    def trips(self) -> bool:
        """Return whether the breaker trips again once it is reset, with everything at rest: a leg touches the frame."""
        faults = [fault for fault in self.faults if not _holds_breaker(fault)]
        poles = [part for part in self.circuit.parts if isinstance(part, Contact) and part.knob == BREAKER]
        solved = solve(network_of(self.circuit, self.plate, faults, Setup(live=True)))
        return any(abs(solved.current(pole.name)) > TRIPS_FROM_A for pole in poles)

    def works(self) -> dict[str, float]:
        """Return what part of its power each element and motor takes, switched on by itself for a while.

        What would not work either if nothing were wrong is not there: the second element of a tank that has one.
        """
        whole = replace(self, faults=())
        there = [load for load in self.circuit.loads if whole._share(load) >= COLD_SHARE]
        return {load.name: self._share(load) for load in there}

    def shown_by(self, section: Section) -> bool:
        """Return whether one of the section's steps reads or looks otherwise because of the faults."""
        whole = replace(self, faults=())
        for step in section.steps:
            if isinstance(step, Inspect) and self.looks_bad(step.part):
                return True
            if isinstance(step, Measure) and step.quantity in READ_OFF:
                name = step.field or ""
                if _apart(read_off(self.circuit, self.faults, name), read_off(self.circuit, (), name)):
                    return True
            elif isinstance(step, Measure) and step.setup is not None:
                mine, sound = self._solved(step), whole._solved(step)
                if any(_apart(reading(mine, step, pair), reading(sound, step, pair)) for pair in step.pairs):
                    return True
        return any(self.procedure.causes[fault.cause].tested_by == section.id for fault in self.faults)

    def _solved(self, step: Measure) -> Solved:
        setup = step.setup or Setup(live=step.needs.power_on, knobs=tuple(self.circuit.in_use.items()))
        return solve(network_of(self.circuit, self.plate, self.faults, setup))

    def _share(self, load: Load) -> float:
        setup = Setup(live=True, knobs=tuple(load.used.items()), hot=True)
        network = network_of(self.circuit, self.plate, self.faults, setup)
        names = [branch.name for branch in network.branches if branch.name in _pieces(load)]
        solved = solve(network)
        return sum(solved.power(name) for name in names) / rated_watts(load, self.plate)


def _holds_breaker(fault: Fault) -> bool:
    return any(isinstance(effect, Held) and effect.knob == BREAKER for effect in fault.effects)


def connections(procedure: Procedure) -> tuple[str, ...]:
    """Return the ways the appliance may be connected, in the order the procedure asks for them; none if it does not."""
    return answers_of(procedure, CONNECTION)


def answers_of(procedure: Procedure, field: str) -> tuple[str, ...]:
    """Return the answers to choose from at the first question with this field; none where there is no such question."""
    for section in procedure.sections:
        for step in section.steps:
            if isinstance(step, Ask) and step.field == field:
                return tuple(choice.key for choice in step.choices)
    return ()


def possible_faults(circuit: Appliance, plate: Mapping[str, str]) -> tuple[Fault, ...]:
    """Return the faults that an appliance with these recorded answers can have."""
    return tuple(fault for fault in circuit.faults if fault.can_be(plate))


def _apart(one: float, other: float) -> bool:
    told = not (math.isnan(one) and math.isnan(other))
    return told and one != other and not math.isclose(one, other, rel_tol=MOVED_PART, abs_tol=MOVED_PART)


def _pieces(load: Load) -> tuple[str, str]:
    return load.name, f"{load.name}, second part"


def shown(true: float, unit: Unit, meter: Meter, chance: Chance) -> Decimal | None:
    """Return what a meter shows of a value: off by no more than its accuracy, in its range's last digit."""
    if true == math.inf:
        return None
    if math.isnan(true):
        true = 0.0
    span = meter.range_for(Decimal(true), unit)
    if span is None:
        return Decimal(round(true, 1))
    if Decimal(true) > span.full_scale:
        return None
    half_width = float(span.percent) / 100 * abs(true) + span.counts * float(span.resolution)
    off = true + chance.uniform(-half_width, half_width)
    value = max(Decimal(off), Decimal(0)).quantize(span.resolution)
    return None if value > span.full_scale else value


def touches(effects: Iterable[Effect], name: str) -> bool:
    """Return whether one of the effects is on this part."""
    return any(getattr(effect, "part", None) == name for effect in effects)
