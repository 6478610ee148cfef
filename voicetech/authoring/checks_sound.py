"""A sound appliance passes every test: what the circuit would read at each step, against the step's own limits."""

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from itertools import product
from typing import Final, cast

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step
from voicetech.authoring.checks_circuit import in_order, lone_nodes
from voicetech.authoring.ways import first_steps, reached_from
from voicetech.diagnosis.predictions import Plate, reading
from voicetech.dialogue.flow import holds
from voicetech.electrical.appliance import Appliance, Fault, Heater, Setup, Wire, is_there, network_of, read_off
from voicetech.electrical.network import NetworkError, solve
from voicetech.electrical.words import in_words
from voicetech.judge import HANDHELD, VerdictWord, judge_reading
from voicetech.limit_rules import RULES, limits_for
from voicetech.procedure import Condition, Inspect, Measure, Procedure, SafetyRole, Section
from voicetech.proof.shown import foresee, plate_of, readings
from voicetech.rehearsal.appliance_at_hand import MOVED_PART
from voicetech.units import READ_OFF, Reading, Unit, over_range

_PASSES: Final = frozenset({VerdictWord.WITHIN, VerdictWord.MARGINAL, VerdictWord.UNUSABLE})

_MOST_WAYS: Final = 60
_DIGITS: Final = 4


def sound_fails(procedure: Procedure) -> Iterator[Breach]:
    """A sound appliance, however it is connected, reads within the limits of every step."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    ways = tuple(_ways(procedure, circuit))
    failed: set[str] = set()
    for section in procedure.sections:
        for way in ways if any(isinstance(step, Measure) for step in section.steps) else ():
            for step in _steps_with(circuit, section, way):
                told = _told(circuit, step, way) if step.id not in failed else None
                if told:
                    failed.add(step.id)
                    keys = ("sections", section.id, "steps", step.id, "between", told[0])
                    yield Breach(keys, told[1], "sound-fails")
        failed.clear()


def _ways(procedure: Procedure, circuit: Appliance) -> Iterator[Mapping[str, str]]:
    """Return the answers with which the appliance has other parts, each with what is usual besides."""
    asked = asked_fields(procedure)
    fields = dict.fromkeys(field for wanted in circuit.only.values() for field in wanted)
    answers = [tuple(asked.get(field) or (circuit.usual.get(field, ""),)) for field in fields]
    usual = {**circuit.usual, **plate_of(circuit)}
    for number, values in enumerate(product(*answers)):
        if number < _MOST_WAYS:
            yield {**usual, **dict(zip(fields, values, strict=True))}


def _steps_with(circuit: Appliance, section: Section, way: Mapping[str, str]) -> Iterator[Measure]:
    """Return the measurements for the circuit that the section can come to with this connection.

    Other answers are taken to be as the conditions want them.
    """
    if not _holds(section.when, way):
        return
    there = replace(section, steps=tuple(step for step in section.steps if _holds(step.when, way)))
    first = first_steps(there)
    reached = first.union(*(reached_from(there, step_id) for step_id in first))
    for step in there.steps:
        if isinstance(step, Measure) and step.id in reached and step.limits.rule in RULES and _can_tell(circuit, step):
            yield step


def _can_tell(circuit: Appliance, step: Measure) -> bool:
    """Return whether the circuit tells what the step reads; where it should and cannot, other rules say why."""
    if step.quantity in READ_OFF:
        return True
    if step.setup is None or (step.setup.live and step.unit is Unit.OHM):
        return False
    return all(point in circuit.nodes for pair in step.pairs for point in (pair.first, pair.second))


def _holds(conditions: tuple[Condition, ...], way: Mapping[str, str]) -> bool:
    return holds(tuple(condition for condition in conditions if condition.field in way), way)


def _told(circuit: Appliance, step: Measure, way: Mapping[str, str]) -> tuple[int, str] | None:
    """Return the first pair at which the sound appliance fails, and that in words, or None."""
    for pair, (number, value) in zip(step.pairs, enumerate(_reads(circuit, step, way)), strict=False):
        if math.isnan(value):
            continue
        try:
            limits = limits_for(step.limits, way, pair.label)
        except ValueError:
            # Figures that are missing or out of order are told by rules of their own.
            return None
        span = None if value == math.inf else HANDHELD.range_for(Decimal(value), step.unit)
        beyond = value == math.inf or (span is not None and value > span.full_scale)
        shown = over_range(step.unit) if beyond else Reading(Decimal(f"{value:.{_DIGITS}g}"), step.unit)
        if limits.unit is step.unit and judge_reading(shown, limits, HANDHELD, Decimal(0)).word not in _PASSES:
            words = "over range" if shown.value is None else in_words(shown.value, step.unit)
            with_it = " and ".join(f"{field} {way[field]}" for field in _telling(circuit))
            told = f"a sound appliance reads {words} here{f' with {with_it}' if with_it else ''}, which fails"
            return number, f"{told}; correct the points, the setup, the limits or the circuit"
    return None


def _reads(circuit: Appliance, step: Measure, way: Mapping[str, str]) -> tuple[float, ...]:
    """Return what each pair of the step reads on the sound appliance, up to where the circuit cannot tell.

    What was worked out is kept beside the circuit.
    """
    if step.quantity in READ_OFF:
        return (read_off(circuit, (), step.field or ""),) * len(step.pairs)
    if step.setup is None:
        return ()
    ends = tuple((pair.first, pair.second) for pair in step.pairs)
    key = "sound", step.setup, step.quantity, step.through, ends, tuple(way.items())
    if key not in circuit.memory:
        found: list[float] = []
        with suppress(NetworkError, KeyError):
            solved = solve(network_of(circuit, way, (), step.setup))
            found.extend(reading(solved, step, pair) for pair in step.pairs)
        circuit.memory[key] = tuple(found)
    return cast(tuple[float, ...], circuit.memory[key])


_LEAST_FED, _MOST_FED = 0.8, 1.2
"""Of its own volts, what an element gets where it heats. Source: the supply's 10 percent either way, and as much again
for cable and joints (judgement)."""


def fed_as_rated(procedure: Procedure) -> Iterator[Breach]:
    """Each element of the circuit gets the volts it is made for where its knobs stand so that it heats."""
    circuit = in_order(procedure)
    if circuit is None or any(lone_nodes(procedure)):
        return
    for heater in circuit.parts:
        if not isinstance(heater, Heater) or not heater.used:
            continue
        setup = Setup(live=True, knobs=tuple(heater.used.items()))
        volts: list[float] = []
        for way in _ways(procedure, circuit):
            with suppress(NetworkError, KeyError):
                solved = solve(network_of(circuit, way, (), setup))
                volts += [abs(solved.volts(heater.first, heater.second))] if is_there(circuit, heater, way) else []
        if volts and not any(_LEAST_FED <= each / heater.volts <= _MOST_FED for each in volts):
            message = (
                f"is made for {heater.volts:g} volts and gets {max(volts):.0f} where its knobs stand as under `used`; "
                "correct its wires, the legs, its volts, or `used`"
            )
            yield Breach(("circuit", "heaters", heater.name), message, "heater-volts")


_CLOSED_OHM: Final = 1
"""Up to so many ohms a contact, fuse or wire counts as closed, leads nulled: common practice, no source."""
_LOAD_V: Final = 50
"""What a load that is always on has across it at the least; a wire has next to nothing. Judgement."""
_COUPLED_OHM: Final = 1000
"""From so many ohms on two nodes are only coupled."""


def wire_ohms(procedure: Procedure) -> Iterator[Breach]:
    """A wire of the circuit has less than an ohm, or is a load across the supply, or only couples."""
    circuit = in_order(procedure)
    if circuit is None or any(lone_nodes(procedure)):
        return
    high = [part for part in circuit.parts if isinstance(part, Wire) and _CLOSED_OHM < part.ohm < _COUPLED_OHM]
    if not high:
        return
    with suppress(NetworkError, KeyError):
        solved = solve(network_of(circuit, {**circuit.usual, **plate_of(circuit)}, (), Setup(live=True)))
        for wire in high:
            if not abs(solved.volts(wire.first, wire.second)) > _LOAD_V:
                message = f"{wire.ohm:g} ohms are no wire, and it is no load either; correct its ohms, or where it lies"
                yield Breach(("circuit", "wires", wire.name), message, "wire-ohms")


_DEAD_V: Final = 1


def isolated_is_dead(procedure: Procedure) -> Iterator[Breach]:
    """Where the circuit stands as it is isolated, nothing is left at the points of the proof of dead."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    setup = Setup(live=True, knobs=tuple(circuit.isolated.items()))
    pairs = [
        pair
        for _keys, _section, step in every_step(procedure)
        if isinstance(step, Measure) and step.role is SafetyRole.DEAD_PAIRS
        for pair in step.pairs
        if pair.first in circuit.nodes and pair.second in circuit.nodes
    ]
    for way in _ways(procedure, circuit):
        with suppress(NetworkError, KeyError):
            solved = solve(network_of(circuit, way, (), setup))
            live = [pair for pair in pairs if abs(solved.volts(pair.first, pair.second)) > _DEAD_V]
            if live:
                message = (
                    f"{live[0].label} still has voltage where it stands like this; write the position of the plug or "
                    "breaker that cuts it off"
                )
                yield Breach(("circuit", "isolated"), message, "isolation")
                return


def loosely_closed(procedure: Procedure) -> Iterator[Breach]:
    """What is closed in a sound appliance is not judged by figures that pass a bad contact."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    usual = {**circuit.usual, **plate_of(circuit)}
    for keys, section, step in every_step(procedure):
        high = step.limits.figures.get("high") if isinstance(step, Measure) else None
        if not isinstance(step, Measure) or step.limits.rule != "figures" or step.unit is not Unit.OHM:
            continue
        if high is None or high <= _CLOSED_OHM or section.role is not None or not _can_tell(circuit, step):
            continue
        read = _reads(circuit, step, usual)
        if read and all(value < _CLOSED_OHM for value in read):
            message = (
                f"a sound one is closed here, and {high} ohms would pass; closed is under {_CLOSED_OHM} ohm, so write "
                "`rule: closed-contact`, or `rule: fuse`"
            )
            yield Breach((*keys, "limits", "high"), message, "loose-limits")


def _telling(circuit: Appliance) -> tuple[str, ...]:
    return tuple(dict.fromkeys(field for wanted in circuit.only.values() for field in wanted))


def untold_faults(procedure: Procedure) -> Iterator[Breach]:
    """Every fault of the circuit makes some step read, look or be answered otherwise than a sound appliance does."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    steps = [step for _keys, _section, step in every_step(procedure)]
    measured = [step for step in steps if isinstance(step, Measure)]
    if any(step.setup is not None and not _can_tell(circuit, step) for step in measured):
        # A test that has to be mended first may be the one that shows it.
        return
    looked_at = {step.part for step in steps if isinstance(step, Inspect)}
    asked = asked_fields(procedure)
    with suppress(NetworkError):
        foresee(circuit, measured, [(), *((fault,) for fault in circuit.faults)], {})
    for fault in circuit.faults:
        if fault.seen & looked_at or fault.told.keys() & asked.keys():
            continue
        plate = tuple((field, answers[0]) for field, answers in fault.only.items() if answers)
        if not any(_moves(circuit, step, fault, plate) for step in measured):
            message = (
                "reads, looks and is answered like a sound appliance in every step, so nothing can find it; "
                "measure where it shows, or write `seen` or `told`"
            )
            yield Breach(("circuit", "faults", fault.id), message, "untold-fault")


def _moves(circuit: Appliance, step: Measure, fault: Fault, plate: Plate) -> bool:
    if step.setup is None and step.quantity not in READ_OFF:
        return False
    try:
        sound, faulty = (readings(circuit, step, faults, plate, left_on=False) for faults in ((), (fault,)))
    except NetworkError:
        return False
    return any(_apart(one.value, other.value) for one, other in zip(sound, faulty, strict=True))


def _apart(one: float, other: float) -> bool:
    known = not (math.isnan(one) or math.isnan(other))
    return known and one != other and not math.isclose(one, other, rel_tol=MOVED_PART, abs_tol=MOVED_PART)


ADVICE: Final[tuple[Check, ...]] = (
    sound_fails,
    untold_faults,
    fed_as_rated,
    wire_ohms,
    isolated_is_dead,
    loosely_closed,
)
"""What is told by the check alone."""
