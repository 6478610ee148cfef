"""What is taken off for a reading: where it is measured, at both ends of an element, and again when it is repeated."""

from collections.abc import Collection, Iterator, Mapping
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_circuit import in_order
from voicetech.electrical.appliance import Appliance, Heater, Motor
from voicetech.procedure import FRAME, Measure, Procedure, Section
from voicetech.proof.ways import ends_of
from voicetech.units import Unit

_LEAKS: Final = frozenset({"open", "open-cold", "insulation"})


def off_elsewhere(procedure: Procedure) -> Iterator[Breach]:
    """What is taken off is in one string with what is measured, up to where the supply arrives."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    joined = {part.name: {part.first, part.second} for part in circuit.parts}
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.setup is None or step.setup.live:
            continue
        near = {end for pair in step.pairs for end in (pair.first, pair.second)} - _frames(procedure)
        apart = _supplied(procedure) - near
        while more := {end for ends in joined.values() if ends & near for end in ends} - apart - near:
            near |= more
        for name in sorted(step.setup.off):
            if name in joined and not joined[name] & near:
                message = f"{name} is in no string with what is measured, so that it may as well stay on; correct it"
                yield Breach((*keys, "setup", "off"), message, "off-elsewhere")


def off_again(procedure: Procedure) -> Iterator[Breach]:
    """Where a test measures the same points once more, what was off is off again."""
    for section in procedure.sections:
        before: list[Measure] = []
        for step in _dead(section):
            for other in before:
                if ends_of(other) != ends_of(step) or other.setup is None or step.setup is None:
                    continue
                left = sorted(other.setup.off - step.setup.off)
                if left:
                    message = f"{other.id} measures the same with {' and '.join(left)} off; take that off here too"
                    yield Breach(("sections", section.id, "steps", step.id, "setup"), message, "off-again")
                    break
            before.append(step)


def _dead(section: Section) -> Iterator[Measure]:
    for step in section.steps:
        if isinstance(step, Measure) and step.setup is not None and not step.setup.live and step.unit is Unit.OHM:
            yield step


def _leak_tests(procedure: Procedure) -> Iterator[tuple[Section, Measure, Collection[str]]]:
    """Yield the steps that measure for a leak, each with its section and what is taken off for it."""
    for section in procedure.sections:
        for step in _dead(section):
            if step.limits.rule in _LEAKS and step.setup is not None:
                yield section, step, step.setup.off


def one_end_on(procedure: Procedure) -> Iterator[Breach]:
    """Where an element is measured for a leak its wires are off at both ends."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    supplied, joined = _supplied(procedure), _joined(circuit)
    for section, step, off in _leak_tests(procedure):
        for heater in circuit.heaters:
            ends = {heater.first, heater.second}
            if not any(len(ends & {pair.first, pair.second}) == 1 for pair in step.pairs):
                continue
            on = next((end for end in sorted(ends) if _reached(joined, off, end) & supplied), None)
            if on is not None:
                message = (
                    f"{heater.name} is measured for a leak, and from {on} the meter reads on into the appliance; "
                    "take its wire off there too"
                )
                yield Breach(("sections", section.id, "steps", step.id, "setup"), message, "one-end-on")


def left_unmeasured(procedure: Procedure) -> Iterator[Breach]:
    """Where several are measured for a leak, what is taken off altogether for it is measured too."""
    circuit = in_order(procedure)
    if circuit is None:
        return
    supplied, joined = _supplied(procedure), _joined(circuit)
    for section, step, off in _leak_tests(procedure):
        measured = {end for pair in step.pairs for end in (pair.first, pair.second)}
        for part in circuit.parts:
            if not isinstance(part, (Heater, Motor)):
                continue
            ends = part.first, part.second
            left = set().union(*(_reached(joined, off, end) for end in ends))
            if left & (supplied | measured):
                continue
            if all(_reached(joined, (), end) & supplied for end in ends):
                message = f"{part.name} is taken off at both ends for this and is not measured; measure it too"
                yield Breach(("sections", section.id, "steps", step.id, "between"), message, "left-unmeasured")


def _joined(circuit: Appliance) -> Mapping[str, tuple[tuple[str, str], ...]]:
    """Return for each node the wires, contacts and motors at it, each with the node at its other end."""
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for part in circuit.parts:
        for end, other in ((part.first, part.second), (part.second, part.first)):
            if not isinstance(part, Heater):
                found[end] = (*found.get(end, ()), (part.name, other))
    return found


def _reached(joined: Mapping[str, tuple[tuple[str, str], ...]], off: Collection[str], start: str) -> set[str]:
    """Return what a meter reads into from here through what is on, contacts closed or not."""
    found, owed = {start}, [start]
    while owed:
        for name, other in joined.get(owed.pop(), ()):
            if name not in off and other not in found:
                found.add(other)
                owed.append(other)
    return found


def _supplied(procedure: Procedure) -> set[str]:
    """Return the points at which the supply arrives, the frame among them."""
    return {point.id for point in procedure.points.values() if point.label in procedure.supply}


def _frames(procedure: Procedure) -> set[str]:
    return {point.id for point in procedure.points.values() if point.label == FRAME}


ADVICE: Final[tuple[Check, ...]] = (off_elsewhere, off_again, one_end_on, left_unmeasured)
"""What is told by the check alone."""
