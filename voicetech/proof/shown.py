"""What the steps of a section show of the sound appliance and of each fault, in the words of their outcomes."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final, cast

from voicetech.diagnosis.predictions import Faults, Predicted, Predictions
from voicetech.dialogue.measuring import SUPPLY_PAIRS
from voicetech.dialogue.outcomes import worst_of
from voicetech.electrical.appliance import Appliance, Platinum
from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE
from voicetech.electrical.supply import SupplyReadings, classify_supply
from voicetech.judge import judge_reading
from voicetech.limit_rules import limits_for
from voicetech.procedure import Measure
from voicetech.units import Reading, over_range

ROOM_F: Final = "72"
LOOSE_LEFT: Final = 0.02
"""Part of a voltage that is only coupled across which a low-impedance meter leaves. Judgement."""


@dataclass(frozen=True, slots=True)
class Idle:
    """What a supply read idle, by place, and whether nothing that draws was on it; empty where it was not measured."""

    volts: Mapping[str, Decimal] = field(default_factory=dict)
    alone: bool = False


def plate_of(circuit: Appliance) -> dict[str, str]:
    """Return the answers of an appliance that is what its circuit says: its plate, and the room's temperature."""
    room = {part.fahrenheit_field: ROOM_F for part in circuit.parts if isinstance(part, Platinum)}
    return {**circuit.plates, **room}


def predictions_of(circuit: Appliance) -> Predictions:
    """Return the circuit's predictions, kept beside it."""
    found = circuit.memory.get("proof")
    if found is None:
        found = circuit.memory["proof"] = Predictions(circuit)
    return cast(Predictions, found)


def _asked(step: Measure) -> str:
    """Return what the step asks of the circuit: what was worked out is kept by it, whichever procedure asks."""
    return repr((step.setup, step.quantity, step.through, step.pairs, step.field))


def foresee(circuit: Appliance, steps: Iterable[Measure], sets: Sequence[Faults], parts: Mapping[str, str]) -> None:
    """Work out together what these steps will be asked for; saves time and changes no result."""
    asked = [(_asked(step), step) for step in steps]
    predictions_of(circuit).foresee(asked, sets, tuple(sorted(parts.items())))


def readings(
    circuit: Appliance, step: Measure, faults: Faults, parts: tuple[tuple[str, str], ...], left_on: bool
) -> tuple[Predicted, ...]:
    """Return what each pair of the step reads; empty where the circuit cannot tell.

    `parts` are the answers that say which parts are there; with `left_on` knobs stand where they may have been left.
    """
    left = left_on and step.setup is not None and bool(step.setup.left_on)
    return predictions_of(circuit).of_step(_asked(step), step, faults, tuple(sorted(parts)), left_on=left)


def result_of(
    step: Measure, values: Sequence[Predicted], answers: Mapping[str, str], idle: Idle, again: bool
) -> str | None:
    """Return the outcome that these readings come to, or None where the circuit cannot tell.

    `answers` are those on record, `idle` what the supply read idle, `again` whether they are repeated, which for a
    supply is on a low-impedance meter.
    """
    if not values or any(math.isnan(each.value) for each in values):
        return None
    if step.judged_as != "each":
        return _together(step, values, idle, again)
    return worst_of(_verdict(step, number, each, answers) for number, each in enumerate(values))


def _verdict(step: Measure, number: int, predicted: Predicted, answers: Mapping[str, str]) -> str:
    limits = limits_for(step.limits, answers, step.pairs[number].label)
    value = predicted.value
    reading = over_range(step.unit) if value == math.inf else Reading(shown(value), step.unit)
    return judge_reading(reading, limits, HANDHELD, Decimal(0)).word.value


def shown(value: float) -> Decimal:
    """Return a value as a meter with enough digits shows it."""
    return Decimal(value).quantize(Decimal("0.001")) if value < 1e6 else Decimal(value).quantize(Decimal(1))


def volts_of(step: Measure, values: Sequence[Predicted], again: bool) -> dict[str, Decimal]:
    """Return the readings of a supply by place."""
    found: dict[str, Decimal] = {}
    for pair, each in zip(step.pairs, values, strict=True):
        place = SUPPLY_PAIRS.get(pair.label)
        if place is not None and math.isfinite(each.value):
            found[place] = shown(each.value * (LOOSE_LEFT if again and each.loose else 1.0))
    return found


def _together(step: Measure, values: Sequence[Predicted], idle: Idle, again: bool) -> str | None:
    before: Mapping[str, Decimal] = volts_of(step, values, again)
    loaded: Mapping[str, Decimal] | None = None
    alone = step.judged_as in ("supply-alone", "supply-unplugged")
    if step.judged_as == "supply-loaded" and "l1_l2" in idle.volts:
        before, loaded, alone = idle.volts, before, idle.alone
    if "l1_l2" not in before:
        return None
    return classify_supply(
        _readings(before),
        None if loaded is None or "l1_l2" not in loaded else _readings(loaded),
        HANDHELD_LOW_IMPEDANCE if again else HANDHELD,
        nothing_connected=alone,
    ).kind.value


def _readings(volts: Mapping[str, Decimal]) -> SupplyReadings:
    return SupplyReadings(
        volts["l1_l2"],
        volts.get("l1_n"),
        volts.get("l2_n"),
        volts.get("n_frame"),
        volts.get("l1_frame"),
        volts.get("l2_frame"),
    )
