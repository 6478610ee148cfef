"""Mutants of what is measured: limits, units, points, how the appliance stands, and where limits come from."""

from collections.abc import Iterator
from typing import Any, Final

from tests.mutation.mutant import (
    Maker,
    Mutant,
    Table,
    another,
    chance_at,
    dropping,
    kind_of,
    listed,
    renamed,
    setting,
    steps_of,
    with_item,
    without_item,
)
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import MEASURED
from voicetech.limit_rules import RULES

_PROVING: Final = ("tester-before", "dead-pairs", "tester-after")
_BUZZED: Final = ("fuse", "closed-contact")
_OHMS: Final = ("resistance", "continuity")
_FACTORS: Final = (0.1, 0.5, 2, 10)
_UNITS: Final = {"watt": "kilowatt", "kilowatt": "watt", "fahrenheit": "celsius", "celsius": "fahrenheit",
                 "volt": "ampere", "ohm": "volt", "second": "volt"}  # fmt: skip


def limits(table: Table, seed: int) -> Iterator[Mutant]:
    """Limits are swapped, scaled or dropped, or computed by another rule; what is likely is reversed or scaled."""
    for keys, _section, step in steps_of(table):
        written = step.get("limits")
        if step.get("likely"):
            where = (*keys, "likely")
            low, high = step["likely"]
            yield Mutant("limit", False, where, "what is likely is reversed", setting(where, [high, low]))
        if not written:
            continue
        where = (*keys, "limits")
        low, high = written.get("low"), written.get("high")
        if low is not None and high is not None:
            swapped = {**written, "low": high, "high": low}
            yield Mutant("limit", False, where, "low and high are swapped", setting(where, swapped))
        for key in ("low", "high"):
            if written.get(key) is None:
                continue
            place = (*where, key)
            for factor in _FACTORS:
                value = float(written[key]) * factor
                # A limit that is wider lets pass what did not.
                wider = value > 0 and ((key == "high") == (factor > 1))
                if value != float(written[key]):
                    says = f"{key} {written[key]} becomes {value:g}"
                    yield Mutant("limit", wider, place, says, setting(place, f"{value:g}"))
            # Nothing reads below 0, so that a 0 says nothing.
            if low is not None and high is not None and float(written[key]):
                yield Mutant("limit", True, place, f"{key} is dropped", dropping(place))
        if step.get("role") is None:
            yield from _other_rules(keys, written, seed)


def _other_rules(keys: Keys, written: Table, seed: int) -> Iterator[Mutant]:
    chance = chance_at(seed, keys, "rule")
    place = (*keys, "limits", "rule")
    others = sorted(RULES - {"dead", "known-live", written.get("rule")})
    for other in chance.sample(others, min(4, len(others))):
        yield Mutant("limit", False, place, f"{written.get('rule')} becomes {other}", setting(place, other))


def units(table: Table, seed: int) -> Iterator[Mutant]:
    """A unit, a quantity, or the unit that limits are in is another."""
    for keys, _section, step in steps_of(table):
        unit = step.get("unit")
        # Who names watts or kilowatts, as the question asks, is understood either way.
        if unit in _UNITS and not (unit == "watt" and "kilowatt" in str(step.get("say"))):
            place = (*keys, "unit")
            yield Mutant("unit", False, place, f"{unit} becomes {_UNITS[unit]}", setting(place, _UNITS[unit]))
        if unit is not None:
            yield Mutant("unit", False, (*keys, "unit"), f"{unit} is dropped", dropping((*keys, "unit")))
        quantity = step.get("measure")
        if quantity and step.get("role") is None:
            chance = chance_at(seed, keys, "quantity")
            # Of a wire, a fuse or a closed contact ohms and a buzzer tell the same.
            alike = _OHMS if (step.get("limits") or {}).get("rule") in _BUZZED else (quantity,)
            other = another(chance, [each.value for each in MEASURED], quantity, *alike)
            place = (*keys, "measure")
            yield Mutant("unit", False, place, f"{quantity} becomes {other}", setting(place, other))
        written = step.get("limits") or {}
        for key, other in (("volt", "second"), ("second", "volt"), ("fahrenheit", "celsius"), ("watts", "volts")):
            if key in written:
                where = (*keys, "limits")
                named = {other if name == key else name: value for name, value in written.items()}
                yield Mutant("unit", False, (*where, key), f"{key} becomes {other}", setting(where, named))


def sources(table: Table, seed: int) -> Iterator[Mutant]:
    """A source is dropped."""
    for keys, _section, step in steps_of(table):
        if "source" in step:
            yield Mutant("source", False, (*keys, "source"), "the source is dropped", dropping((*keys, "source")))
        if "source" in (step.get("limits") or {}):
            where = (*keys, "limits", "source")
            yield Mutant("source", False, where, "the source is dropped", dropping(where))
    for name in ("warnings", "hand_overs", "danger_scripts"):
        for key, entry in (table.get(name) or {}).items():
            if "source" in entry:
                place = (name, key, "source")
                yield Mutant("source", False, place, "the source is dropped", dropping(place))


def points(table: Table, seed: int) -> Iterator[Mutant]:
    """A test point is another where it is measured, or is called by another's name; a pair is not measured."""
    known = table.get("points") or {}
    for keys, _section, step in steps_of(table):
        # A watch and a thermometer have no probes: their points only say where to look.
        pairs = (step.get("between") or []) if step.get("measure") not in ("duration", "temperature") else []
        for number, pair in enumerate(pairs):
            for end in (0, 1):
                where = (*keys, "between", number, end)
                other = another(chance_at(seed, where, "point"), list(known), pair[0], pair[1])
                if other is not None:
                    proving = step.get("role") in _PROVING
                    yield Mutant("point", proving, where, f"{pair[end]} becomes {other}", setting(where, other))
            if len(pairs) > 1 and step.get("role") is None:
                where = (*keys, "between", number)
                yield Mutant("pair dropped", False, where, f"{pair[0]} to {pair[1]} is dropped", dropping(where))
    for name, point in known.items():
        where = ("points", name, "label")
        other = another(chance_at(seed, where, "label"), [each["label"] for each in known.values()], point["label"])
        if other is not None:
            yield Mutant("point", False, where, f"it is labelled {other}", setting(where, other))
        yield Mutant("point", False, ("points", name), "it has another name", renamed(("points", name), f"{name}-x"))
        yield Mutant("point", False, ("points", name), "it is dropped", dropping(("points", name)))


def setups(table: Table, seed: int) -> Iterator[Mutant]:
    """A knob stands elsewhere, a part that is off stays on or is another, or a wire is said to stay on."""
    circuit = table.get("circuit") or {}
    knobs: dict[str, list[str]] = circuit.get("knobs") or {}
    parts = [name for kind in ("wires", "contacts", "heaters", "sensors", "motors") for name in circuit.get(kind) or {}]
    for keys, _section, step in steps_of(table):
        if step.get("one_wire_off"):
            place = (*keys, "one_wire_off")
            yield Mutant("wire off", False, place, "one_wire_off is dropped", dropping(place))
        setup = step.get("setup")
        if setup is None:
            continue
        where = (*keys, "setup")
        yield Mutant("setup", False, where, "it is dropped", dropping(where))
        for key in ("knobs", "left_on"):
            for knob, position in (setup.get(key) or {}).items():
                yield from _knob((*where, key, knob), knobs, knob, position, seed)
        for number, part in enumerate(listed(setup.get("off"))):
            place = (*where, "off")
            yield Mutant("setup", False, place, f"{part} stays on", without_item(place, number))
            other = another(chance_at(seed, (*place, number), "off"), parts, *listed(setup["off"]))
            if other is not None:
                says = f"{other} is off for {part}"
                yield Mutant("setup", False, place, says, with_item(place, number, other))
        if setup.get("hot"):
            yield Mutant("setup", False, (*where, "hot"), "it is read cold", dropping((*where, "hot")))
        if step.get("through"):
            place = (*keys, "through")
            other = another(chance_at(seed, place, "through"), parts, step["through"])
            yield Mutant("setup", False, place, f"{step['through']} becomes {other}", setting(place, other))


def _knob(place: Keys, knobs: dict[str, list[str]], knob: str, position: str, seed: int) -> Iterator[Mutant]:
    yield Mutant("setup", False, place, f"{knob} is at rest", dropping(place))
    other = another(chance_at(seed, place, "knob"), listed(knobs.get(knob)), position)
    if other is not None:
        yield Mutant("setup", False, place, f"{position} becomes {other}", setting(place, other))


def readings(table: Table, seed: int) -> Iterator[Mutant]:
    """A supply is judged otherwise, or a beep counts."""
    for keys, _section, step in steps_of(table):
        judged: Any = step.get("judged_as")
        if judged:
            place = (*keys, "judged_as")
            yield Mutant("judged otherwise", False, place, f"{judged} is dropped", dropping(place))
            other = "supply-idle" if judged != "supply-idle" else "supply-loaded"
            yield Mutant("judged otherwise", False, place, f"{judged} becomes {other}", setting(place, other))
        buzzed = (step.get("limits") or {}).get("rule") in _BUZZED
        if kind_of(step) == "measure" and not step.get("accepts_beep") and not buzzed:
            place = (*keys, "accepts_beep")
            yield Mutant("judged otherwise", False, place, "a beep is taken for a number", setting(place, "yes"))


MAKERS: Final[tuple[Maker, ...]] = (limits, units, sources, points, setups, readings)
