"""The circuit beside a procedure: its parts, knobs and points, and what its faults do, fit each other and the steps."""

from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step
from voicetech.authoring.findings import Keys
from voicetech.authoring.naming import instead, nearest
from voicetech.electrical.appliance import (
    Appliance,
    Bridged,
    Contact,
    Effect,
    Fed,
    Heater,
    Held,
    Lamp,
    Leaks,
    Motor,
    Opened,
    Platinum,
    ReadOff,
    Setup,
    Swapped,
    Welded,
    Wire,
    network_of,
)
from voicetech.electrical.element import rated_resistance_ohm
from voicetech.procedure import Inspect, Measure, Phase, Procedure
from voicetech.units import READ_OFF, Quantity

_TOP: Final = "circuit"
_RULE: Final = "circuit"
_NEARLY_IT: Final = 85.0


def measured_points(procedure: Procedure) -> Iterator[Breach]:
    """A step that says how the appliance stands measures at nodes of the circuit."""
    circuit = procedure.circuit
    if circuit is None:
        for keys, _section, step in every_step(procedure):
            if isinstance(step, Measure) and step.setup is not None:
                yield Breach((*keys, "setup"), "there is no circuit; write one, or leave `setup` out", _RULE)
        return
    nodes = circuit.nodes
    sound = not any(True for check in (circuit_parts, numbers) for _ in check(procedure))
    lost = _lost_nodes(procedure, circuit) if sound else {}
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.setup is None:
            continue
        for number, pair in enumerate(step.pairs):
            for at, point in enumerate((pair.first, pair.second)):
                if point not in procedure.points:
                    continue
                if point not in nodes:
                    yield _unknown((*keys, "between", number, at), "node", point, nodes)
                elif point in lost:
                    yield Breach(
                        (*keys, "between", number, at),
                        f"the node {point!r} is not in the circuit with {lost[point]}; give it a part that is there "
                        "with every answer",
                        _RULE,
                    )
        for name in sorted(step.setup.off - _part_names(circuit)):
            yield _unknown((*keys, "setup", "off"), "part", name, _part_names(circuit))
        if step.through is not None and step.through not in _part_names(circuit):
            yield _unknown((*keys, "through"), "part", step.through, _part_names(circuit))
        elif step.quantity is Quantity.CURRENT and step.through is None:
            message = "the circuit cannot tell a current without its part; name the part under `through`"
            yield Breach(keys, message, _RULE)
        for key, knobs in (("knobs", step.setup.knobs), ("left_on", step.setup.left_on)):
            for knob, position in knobs:
                yield from _position((*keys, "setup", key, knob), circuit, knob, position)


def _lost_nodes(procedure: Procedure, circuit: Appliance) -> dict[str, str]:
    """Return the nodes that are not there with some answer, each with such an answer."""
    asked = asked_fields(procedure)
    lost: dict[str, str] = {}
    for field in dict.fromkeys(field for wanted in circuit.only.values() for field in wanted):
        for answer in asked.get(field) or ():
            there = network_of(circuit, {field: answer}, (), Setup(live=False)).nodes
            lost |= dict.fromkeys(circuit.nodes - set(there), f"{field} {answer}")
    return lost


def missing_setups(procedure: Procedure) -> Iterator[Breach]:
    """A test with a meter says how the appliance stands, so that the circuit can tell what it reads."""
    for keys, section, step in every_step(procedure) if procedure.circuit is not None else ():
        test = section.phase is Phase.TEST and section.role is None
        if test and isinstance(step, Measure) and step.setup is None and step.quantity not in READ_OFF:
            yield Breach(keys, "the circuit says nothing of this reading; write `setup`, if only {}", "no-setup")


def circuit_parts(procedure: Procedure) -> Iterator[Breach]:
    """Contacts and elements follow knobs that are there, and isolating turns such knobs."""
    circuit = procedure.circuit
    if circuit is None:
        return
    for part in circuit.parts:
        match part:
            case Contact(name=name, knob=knob, closed=closed):
                if not closed:
                    message = f"is never closed; name the positions of {knob} in which it is"
                    yield Breach((_TOP, "contacts", name, "closed"), message, _RULE)
                for position in sorted(closed) or ("",):
                    if position or knob not in circuit.knobs:
                        yield from _position((_TOP, "contacts", name), circuit, knob, position)
            case Heater(name=name, used=used) | Motor(name=name, used=used):
                kind = "heaters" if isinstance(part, Heater) else "motors"
                for knob, position in used.items():
                    yield from _position((_TOP, kind, name, "used"), circuit, knob, position)
            case _:
                pass
    for knob, position in circuit.isolated.items():
        yield from _position((_TOP, "isolated", knob), circuit, knob, position)
    asked = asked_fields(procedure)
    for name in circuit.read_off:
        if name not in asked:
            yield _unknown((_TOP, "timed", name), "recorded field", name, asked)
    for name, load in circuit.works.items():
        if name not in asked:
            yield _unknown((_TOP, "works", name), "question", name, asked)
        if load not in _load_names(circuit):
            yield _unknown((_TOP, "works", name), "element or motor", load, _load_names(circuit))
    for knob, position in circuit.in_use.items():
        yield from _position((_TOP, "in_use", knob), circuit, knob, position)
    for name in circuit.only:
        if name not in _part_names(circuit):
            yield _unknown((_TOP, "only", name), "part", name, _part_names(circuit))


def parts_apart(procedure: Procedure) -> Iterator[Breach]:
    """Each part has a name of its own, and lies between two nodes."""
    circuit = procedure.circuit
    first: dict[str, str] = {}
    for part in circuit.parts if circuit is not None else ():
        table = _TABLES[type(part)]
        other = first.setdefault(part.name, table)
        if other != table:
            message = f"{part.name} is one of the {other} already; give it a name of its own"
            yield Breach((_TOP, table, part.name), message, _RULE)
        if part.first == part.second:
            message = f"lies between {part.first} and itself; name two nodes"
            yield Breach((_TOP, table, part.name), message, _RULE)


_TABLES: Final = {
    Wire: "wires",
    Lamp: "lamps",
    Contact: "contacts",
    Heater: "heaters",
    Motor: "motors",
    Platinum: "sensors",
}


def numbers(procedure: Procedure) -> Iterator[Breach]:
    """A path to the sheath lies on the element; the supply has legs, and isolating cuts them off."""
    circuit = procedure.circuit
    if circuit is None:
        return
    if not circuit.legs:
        yield Breach((_TOP, "legs"), "has no source; write at least one leg of the supply", _RULE)
    if not circuit.isolated:
        message = "does not say how it is isolated; write where its plug or breaker stands then, under `isolated`"
        yield Breach((_TOP,), message, _RULE)
    for part in circuit.parts:
        if isinstance(part, Heater):
            try:
                rated_resistance_ohm(Decimal(str(part.watts)), Decimal(str(part.volts)))
            except ValueError as error:
                key = str(error).split()[0]
                message = f"is on no plate: {str(error).split(';')[0]}; correct it, or swap watts and volts"
                yield Breach((_TOP, "heaters", part.name, key), message, _RULE)
    for fault in circuit.faults:
        for effect in fault.effects:
            if isinstance(effect, Leaks) and not 0 <= effect.at <= 1:
                keys = (_TOP, "faults", fault.id, "leaks_hot" if effect.hot else "leaks", effect.part)
                message = f"{effect.at:g} is no place on the element; write 0 for its first end up to 1 for its second"
                yield Breach(keys, message, _RULE)


def recorded_fields(procedure: Procedure) -> Iterator[Breach]:
    """Answers that the circuit looks at are asked for, and those that hold without can be given."""
    circuit = procedure.circuit
    if circuit is None:
        return
    asked = asked_fields(procedure)
    for part in circuit.parts:
        if isinstance(part, Platinum) and part.fahrenheit_field not in asked:
            yield _unknown((_TOP, "sensors", part.name, "fahrenheit_field"), "question", part.fahrenheit_field, asked)
        if isinstance(part, Heater):
            for key, field in (("watts_field", part.watts_field), ("volts_field", part.volts_field)):
                # An element that nobody tests need not have its plate recorded; a name nearly right is mistyped.
                guess = None if field in asked else nearest(field, asked, _NEARLY_IT)
                if guess is not None:
                    message = f"there is no question {field!r}; did you mean {guess}?"
                    yield Breach((_TOP, "heaters", part.name, key), message, _RULE)
    for part_name, wanted in circuit.only.items():
        for field, answers in wanted.items():
            yield from _answers((_TOP, "only", part_name, field), asked, field, answers)
    for field, answer in circuit.usual.items():
        yield from _answers((_TOP, "usual", field), asked, field, (answer,))


def _answers(
    keys: Keys, asked: Mapping[str, tuple[str, ...] | None], field: str, answers: Collection[str]
) -> Iterator[Breach]:
    if field not in asked:
        yield _unknown(keys, "question", field, asked)
        return
    known = asked[field]
    if not answers:
        yield Breach(keys, "names no answer; write at least one, or leave it out", _RULE)
    for answer in answers:
        if known and answer not in known:
            yield _unknown(keys, "answer", answer, known)


def lone_nodes(procedure: Procedure) -> Iterator[Breach]:
    """A node joins two parts, or is measured."""
    circuit = procedure.circuit
    if circuit is None:
        return
    met = [node for part in circuit.parts for node in (part.first, part.second)]
    met += [part.sheath for part in circuit.parts if isinstance(part, Heater)]
    met += [node for leg in circuit.legs for node in (leg.plus, leg.minus)]
    met += [node for fault in circuit.faults for node in _bridged(fault.effects)]
    met += [point for _, _, step in every_step(procedure) if isinstance(step, Measure) for point in _measured(step)]
    lone = {node for node in met if met.count(node) == 1}
    told: set[str] = set()
    for part in circuit.parts:
        for node in (part.first, part.second):
            if node not in lone:
                continue
            # The one it was mistyped for is often left alone by it.
            guess = nearest(node, sorted(lone - {node})) or nearest(node, sorted({*met} - {node}))
            if guess is not None and guess not in told:
                told.add(node)
                message = f"nothing else is joined to the node {node!r}, and nothing measures it; did you mean {guess}?"
                yield Breach((_TOP, _TABLES[type(part)], part.name), message, "circuit-node")


def _bridged(effects: Collection[Effect]) -> Iterator[str]:
    for effect in effects:
        if isinstance(effect, Bridged):
            yield from (effect.first, effect.second)


def _measured(step: Measure) -> Iterator[str]:
    for pair in step.pairs:
        yield from (pair.first, pair.second)


def complaints(procedure: Procedure) -> Iterator[Breach]:
    """What is out with a complaint are elements and motors of the circuit."""
    circuit = procedure.circuit
    for complaint in procedure.complaints.values():
        for name in complaint.out:
            if circuit is None or name not in _load_names(circuit):
                known = () if circuit is None else _load_names(circuit)
                yield _unknown(("complaints", complaint.id, "out"), "element or motor", name, known)


def faults(procedure: Procedure) -> Iterator[Breach]:
    """A fault changes parts that are there, is called by a cause, and is told by what is asked and looked at."""
    circuit = procedure.circuit
    if circuit is None:
        return
    looked_at = {step.part for _, _, step in every_step(procedure) if isinstance(step, Inspect)}
    asked = asked_fields(procedure)
    for fault in circuit.faults:
        keys: Keys = (_TOP, "faults", fault.id)
        if fault.cause not in procedure.causes:
            yield _unknown((*keys, "cause"), "cause", fault.cause, procedure.causes)
        if fault.complaint is not None and fault.complaint not in procedure.complaints:
            yield _unknown((*keys, "complaint"), "complaint", fault.complaint, procedure.complaints)
        for effect in fault.effects:
            yield from _effect(keys, circuit, effect)
        for part in sorted(fault.seen - looked_at):
            yield _unknown((*keys, "seen"), "inspected part", part, looked_at)
        for key, told in (("told", fault.told), ("only", fault.only)):
            for field, answers in told.items():
                yield from _answers((*keys, key, field), asked, field, answers)


def faults_of_parts_there(procedure: Procedure) -> Iterator[Breach]:
    """A fault can be with such answers only with which the parts it changes are there."""
    circuit = procedure.circuit
    if circuit is None:
        return
    for fault in circuit.faults:
        changed = (part for effect in fault.effects for part in _parts_of(effect))
        for part in dict.fromkeys(changed):
            for field, answers in circuit.only.get(part, {}).items():
                possible = fault.only.get(field, ())
                if not possible or not set(possible) <= set(answers):
                    yield Breach(
                        (_TOP, "faults", fault.id),
                        f"changes {part!r}, which is there only with {field} {' or '.join(answers)}; "
                        f"write only: {{{field}: [{', '.join(answers)}]}} or some of these",
                        _RULE,
                    )


def _parts_of(effect: Effect) -> tuple[str, ...]:
    match effect:
        case Swapped(part=part, other=other):
            return part, other
        case Bridged() | Fed() | Held() | ReadOff():
            return ()
        case _:
            return (effect.part,)


def _effect(keys: Keys, circuit: Appliance, effect: Effect) -> Iterator[Breach]:
    parts = _part_names(circuit)
    if isinstance(effect, Opened) and effect.until is not None:
        yield from _position((*keys, "tripped", effect.part), circuit, *effect.until)
    match effect:
        case Bridged(first=first, second=second):
            for node in (first, second):
                if node not in circuit.nodes:
                    yield _unknown((*keys, "bridged"), "node", node, circuit.nodes)
        case Fed(leg=leg):
            legs = {each.name for each in circuit.legs}
            if leg not in legs:
                yield _unknown((*keys, "fed", leg), "leg", leg, legs)
        case ReadOff(name=name):
            if name not in circuit.read_off:
                yield _unknown(keys, "time or temperature", name, circuit.read_off)
        case Held(knob=knob, position=position):
            yield from _position((*keys, "held", knob), circuit, knob, position)
        case Swapped(part=part, other=other):
            for name in (part, other):
                if name not in parts:
                    yield _unknown((*keys, "swapped"), "part", name, parts)
        case Welded(part=part):
            contacts = {each.name for each in circuit.parts if isinstance(each, Contact)}
            if part not in contacts:
                yield _unknown((*keys, "welded"), "contact", part, contacts)
        case _:
            if effect.part not in parts:
                yield _unknown(keys, "part", effect.part, parts)


def _position(keys: Keys, circuit: Appliance, knob: str, position: str) -> Iterator[Breach]:
    if knob not in circuit.knobs:
        yield _unknown(keys, "knob", knob, circuit.knobs)
    elif position not in circuit.knobs[knob]:
        yield _unknown(keys, f"position of {knob}", position, circuit.knobs[knob])


def _part_names(circuit: Appliance) -> frozenset[str]:
    return frozenset(part.name for part in circuit.parts)


def _load_names(circuit: Appliance) -> frozenset[str]:
    return frozenset(load.name for load in circuit.loads)


def _unknown(keys: Keys, what: str, name: str, known: Collection[str]) -> Breach:
    return Breach(keys, f"there is no {what} {name!r}; {instead(name, sorted(known), 'one that is there')}", _RULE)


CHECKS: Final[tuple[Check, ...]] = (
    measured_points,
    circuit_parts,
    parts_apart,
    numbers,
    recorded_fields,
    complaints,
    faults,
    faults_of_parts_there,
)
ADVICE: Final[tuple[Check, ...]] = (lone_nodes, missing_setups)
"""What is told by the check alone."""


def in_order(procedure: Procedure) -> Appliance | None:
    """Return the procedure's circuit, None where there is none or these checks tell what is wrong with it."""
    circuit = procedure.circuit
    if circuit is None or any(True for check in CHECKS for _ in check(procedure)):
        return None
    return circuit
