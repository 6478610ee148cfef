"""From the written circuit of an appliance to its record."""

from collections.abc import Iterator

from voicetech.authoring.reading import Table
from voicetech.electrical.appliance import (
    Appliance,
    Bridged,
    Contact,
    Effect,
    Fault,
    Fed,
    Heater,
    Held,
    Joint,
    Lamp,
    Leaks,
    Leg,
    Motor,
    Opened,
    Platinum,
    ReadOff,
    Scaled,
    Swapped,
    Welded,
    Wire,
)

_JOINED = 3
_READ_OFF = ("timed", "degrees")
"""What is read off no meter: seconds of a stopwatch, degrees Fahrenheit of a thermometer."""


def built_circuit(table: Table) -> Appliance:
    """Return the circuit; what could not be read is noted and left out."""
    only = table.table("only")
    appliance = Appliance(
        legs=tuple(_legs(table)),
        parts=(
            *_joined(table, "wires", Wire),
            *_joined(table, "lamps", Lamp),
            *_contacts(table),
            *_heaters(table),
            *_motors(table),
            *_sensors(table),
        ),
        knobs=table.named_lists("knobs"),
        isolated=table.named_texts("isolated"),
        only={part: only.named_lists(part) for part in only.names()},
        usual=table.named_texts("usual"),
        read_off={name: float(value) for key in _READ_OFF for name, value in table.numbers(key).items()},
        in_use=table.named_texts("in_use"),
        works=table.named_texts("works"),
        faults=tuple(_fault(name, inner) for name, inner in table.tables("faults")),
    )
    table.done()
    return appliance


def _legs(table: Table) -> Iterator[Leg]:
    for name, inner in table.tables("legs"):
        plus, minus = _ends(inner)
        yield Leg(name, plus, minus, float(inner.number("volts")), float(inner.number("turn")))
        inner.done()


def _ends(table: Table) -> tuple[str, str]:
    ends = table.texts("between")
    if len(ends) != 2:
        table.note("needs two nodes; write [first, second]", "shape", "between")
        return "", " "
    return ends[0], ends[1]


def _joined(table: Table, key: str, kind: type[Wire] | type[Lamp]) -> Iterator[Wire | Lamp]:
    parts = table.table(key)
    for name in parts.names():
        given = parts.texts(name)
        if len(given) != _JOINED:
            parts.note("needs two nodes and ohms; write [first, second, 0.01]", "shape", name)
            continue
        yield kind(name, given[0], given[1], _ohm(parts, name, given[2]))


def _contacts(table: Table) -> Iterator[Contact]:
    for name, inner in table.tables("contacts"):
        first, second = _ends(inner)
        closed = frozenset(inner.texts("closed"))
        yield Contact(name, first, second, _number(inner, "ohm"), inner.text("knob"), closed)
        inner.done()


def _heaters(table: Table) -> Iterator[Heater]:
    for name, inner in table.tables("heaters"):
        first, second = _ends(inner)
        yield Heater(
            name,
            first,
            second,
            sheath=inner.text("sheath"),
            watts=_number(inner, "watts"),
            volts=_number(inner, "volts"),
            watts_field=inner.text("watts_field"),
            volts_field=inner.text("volts_field"),
            used=inner.named_texts("used"),
        )
        inner.done()


def _motors(table: Table) -> Iterator[Motor]:
    for name, inner in table.tables("motors"):
        first, second = _ends(inner)
        watts, volts, winding_ohm = (_above_zero(inner, key) for key in ("watts", "volts", "winding"))
        yield Motor(name, first, second, watts, volts, winding_ohm, inner.named_texts("used"))
        inner.done()


def _sensors(table: Table) -> Iterator[Platinum]:
    for name, inner in table.tables("sensors"):
        first, second = _ends(inner)
        yield Platinum(name, first, second, inner.text("fahrenheit_field"))
        inner.done()


def _fault(name: str, table: Table) -> Fault:
    fault = Fault(
        id=name,
        say=table.text("say"),
        cause=table.text("cause"),
        weight=_number(table, "weight"),
        effects=tuple(_effects(table)),
        seen=frozenset(table.texts("seen")),
        told=table.named_lists("told"),
        only=table.named_lists("only"),
        complaint=table.maybe("complaint"),
    )
    if not fault.effects:
        table.note("does nothing; write what it does, such as `opened: [fuse]`", "missing-key")
    table.done()
    return fault


def _effects(table: Table) -> Iterator[Effect]:
    yield from (Opened(part) for part in table.texts("opened"))
    yield from (Opened(part, hot=True) for part in table.texts("opened_hot"))
    for part, inner in table.tables("tripped"):
        yield from (Opened(part, until=(knob, inner.text(knob))) for knob in inner.names())
        inner.done()
    yield from (Welded(part) for part in table.texts("welded"))
    for part, (ohm, at_rest) in _pairs(table, "joints", "ohms under load and at rest"):
        yield Joint(part, ohm, at_rest)
    for part, (at, ohm) in _pairs(table, "leaks", "a place from 0 to 1 and ohms"):
        yield Leaks(part, at, ohm)
    for part, (at, ohm) in _pairs(table, "leaks_hot", "a place from 0 to 1 and ohms"):
        yield Leaks(part, at, ohm, hot=True)
    yield from (Scaled(part, float(factor)) for part, factor in table.numbers("scaled").items())
    for number, given in enumerate(table.lists("bridged")):
        if len(given) != _JOINED:
            table.note("needs two nodes and ohms; write [[first, second, 5]]", "shape", "bridged", number)
            continue
        yield Bridged(given[0], given[1], _ohm(table, "bridged", given[2]))
    for number, given in enumerate(table.lists("swapped")):
        if len(given) != 2:
            table.note("needs two parts; write [[one, other]]", "shape", "swapped", number)
            continue
        yield Swapped(given[0], given[1])
    for leg, inner in table.tables("fed"):
        turn = float(inner.number("turn")) if inner.has("turn") else None
        yield Fed(leg, turn, _number(inner, "factor") if inner.has("factor") else 1.0)
        inner.done()
    for key in _READ_OFF:
        yield from (ReadOff(name, float(value)) for name, value in table.numbers(key).items())
    yield from (Held(knob, position) for knob, position in table.named_texts("held").items())


def _pairs(table: Table, key: str, what: str) -> Iterator[tuple[str, tuple[float, float]]]:
    inner = table.table(key)
    for name in inner.names():
        given = inner.texts(name)
        if len(given) != 2:
            inner.note(f"needs {what}; write [one, other]", "shape", name)
            continue
        yield name, (_ohm(inner, name, given[0]), _ohm(inner, name, given[1]))


def _number(table: Table, key: str) -> float:
    return float(table.number(key))


def _above_zero(table: Table, key: str) -> float:
    return _ohm(table, key, table.text(key))


def _ohm(table: Table, key: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not value > 0:
        table.note(f"{text!r} is no number above 0; write one, such as 0.01", "not-a-number", key)
        return 1.0
    return value
