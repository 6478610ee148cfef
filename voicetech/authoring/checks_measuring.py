"""Quantities, units and limits that fit each other, and what limits are computed from."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_references import unrecorded
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import ASKED, EACH, MEASURED
from voicetech.authoring.naming import nearest
from voicetech.authoring.recorded import Recording, every_recording, is_before, recordings
from voicetech.dialogue.measuring import SUPPLY_PAIRS
from voicetech.electrical.appliance import Contact, Heater, Wire
from voicetech.electrical.limits import Limits
from voicetech.language.meaning import Asking
from voicetech.limit_rules import RULES, limits_for
from voicetech.procedure import Ask, LimitRule, Measure, Procedure
from voicetech.showing.wiring import joined_by
from voicetech.units import UNITS_OF, Quantity, Unit

FIGURES: Final = "figures"
_NUMBERS: Final = {
    Asking.VOLTAGE: Quantity.VOLTAGE,
    Asking.POWER: Quantity.POWER,
    Asking.TEMPERATURE: Quantity.TEMPERATURE,
}
"""Questions for a number, by what it is a number of."""
_COLDEST: Final = {Unit.CELSIUS: Decimal("-273.15"), Unit.FAHRENHEIT: Decimal("-459.67")}
_BEEPS: Final = frozenset({"fuse", "closed-contact"})
NEEDED: Final[Mapping[str, tuple[str, ...]]] = {
    "element": ("watts", "volts"),
    "element-current": ("watts", "volts"),
    "leg-to-leg": ("volts",),
    "cycling-medium": ("on",),
    "sensor-harness": ("part",),
}
"""What a rule cannot do without."""
_KNOWS: Final[Mapping[str, tuple[str, ...]]] = {
    **NEEDED,
    "element-current": ("watts", "volts", "measured"),
    "sensor": ("fahrenheit", "celsius"),
    "sensor-harness": ("part", "fahrenheit", "celsius"),
    "earth": ("connection",),
    "strap": ("connection",),
    FIGURES: ("volt", "second", "fahrenheit"),
}
_AT_A_TEMPERATURE: Final = frozenset({"sensor", "sensor-harness"})
_TEMPERATURES: Final = ("fahrenheit", "celsius")
_HOLDS: Final[Mapping[str, tuple[tuple[str, ...], Unit | None]]] = {
    "watts": (("power",), Unit.WATT),
    "volts": (("voltage",), Unit.VOLT),
    "volt": (("voltage",), Unit.VOLT),
    "measured": (("voltage",), Unit.VOLT),
    "fahrenheit": (("temperature",), Unit.FAHRENHEIT),
    "celsius": (("temperature",), Unit.CELSIUS),
    "part": (("resistance",), Unit.OHM),
    "on": (("duration",), Unit.SECOND),
    "second": (("duration",), Unit.SECOND),
    "connection": (("choice",), None),
}
"""What the field behind each key of limits has to hold."""


def _measurements(procedure: Procedure) -> Iterator[tuple[Keys, Measure]]:
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Measure):
            yield keys, step


def limit_rules(procedure: Procedure) -> Iterator[Breach]:
    """A rule for limits fits what is measured, has what it computes from, and nothing that counts for nothing."""
    for keys, step in _measurements(procedure):
        limits = step.limits
        if limits.rule not in RULES:
            continue
        unit = _unit_of(limits)
        if unit is not step.unit and step.unit in UNITS_OF[step.quantity]:
            yield Breach((*keys, "limits", "rule"), _misfit(step, unit), "limits-quantity")
        known = _KNOWS.get(limits.rule, ())
        for key in limits.fields:
            if key not in known:
                guess = nearest(key, [each for each in known if each not in limits.fields])
                do = f"did you mean {guess}?" if guess else "remove it"
                message = f"the rule {limits.rule} has no use for `{key}`; {do}"
                yield Breach((*keys, "limits", key), message, "unknown-limits")
        for key in limits.figures if limits.rule != FIGURES else ():
            message = f"the rule {limits.rule} has no use for `{key}`; remove it, or write `rule: figures`"
            yield Breach((*keys, "limits", key), message, "unknown-limits")
        if limits.rule in _AT_A_TEMPERATURE and not set(_TEMPERATURES) & limits.fields.keys():
            message = "a sensor is judged by its temperature; name its field under `fahrenheit` or `celsius`"
            yield Breach((*keys, "limits"), message, "unknown-limits")


def _unit_of(limits: LimitRule) -> Unit:
    return computed_limits(limits.rule, frozenset(limits.fields) & frozenset(_KNOWS[FIGURES])).unit


@cache
def computed_limits(rule: str, fields: frozenset[str] = frozenset()) -> Limits:
    """Return the limits of a rule with nothing recorded; for figures only their unit says anything."""
    figures = {"low": Decimal(1), "high": Decimal(2)}
    return limits_for(LimitRule(rule, figures, dict.fromkeys(fields, ""), ""), {})


def _misfit(step: Measure, unit: Unit) -> str:
    quantity = step.quantity.value
    if step.limits.rule == FIGURES:
        key = {Unit.VOLT: "volt", Unit.SECOND: "second", Unit.FAHRENHEIT: "fahrenheit"}.get(step.unit)
        do = f"write `{key}:` beside them, with a field of such" if key else "take a rule that computes them"
        return f"figures are {unit.name.lower()}s here, and {quantity} is measured; {do}"
    fitting = sorted(rule for rule in RULES - {FIGURES} if computed_limits(rule).unit is step.unit)
    return f"the rule {step.limits.rule} limits {unit.name.lower()}s, and {quantity} is measured; " + (
        f"write one of {', '.join(fitting)}" if fitting else "measure something else"
    )


def limit_fields(procedure: Procedure) -> Iterator[Breach]:
    """Fields hold what limits are computed from, and hold it by then."""
    found = recordings(procedure)
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule not in RULES:
            continue
        for key, field in step.limits.fields.items():
            there = found.get(field, ())
            if key not in _KNOWS.get(step.limits.rule, ()):
                continue
            if not there:
                yield Breach((*keys, "limits", key), unrecorded(field, found), "unknown-field")
                continue
            wrong = next((each for each in there if not _fits(key, each)), None)
            if wrong is not None:
                yield Breach((*keys, "limits", key), _unfit(key, field, wrong), "limits-field")
                continue
            owed = key in NEEDED.get(step.limits.rule, ()) or (step.limits.rule != FIGURES and key in _TEMPERATURES)
            if owed and not any(is_before(procedure, each, section, step) for each in there):
                names = " and ".join(dict.fromkeys(each.step.id for each in there))
                message = (
                    f"{field} is not always known by then: {names} may come later, or be left out; "
                    "ask for it in front of this step, under no other conditions"
                )
                yield Breach((*keys, "limits", key), message, "limits-too-late")


def _fits(key: str, recording: Recording) -> bool:
    kinds, unit = _HOLDS[key]
    return recording.kind in kinds and (unit is None or recording.unit is unit)


def _unfit(key: str, field: str, recording: Recording) -> str:
    kinds, unit = _HOLDS[key]
    needed = f"{kinds[0]} in {unit.name.lower()}" if unit is not None else kinds[0]
    return f"{field} holds {recording.words} ({recording.step.id}), and `{key}` needs {needed}; name a field of that"


def question_units(procedure: Procedure) -> Iterator[Breach]:
    """A question for a number has a unit of what it asks for; no other has one."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Ask):
            continue
        quantity = _NUMBERS.get(step.asking)
        if quantity is None:
            for key, written in (("unit", step.unit), ("likely", step.likely)):
                if written is not None and step.asking in ASKED:
                    message = f"a question for {step.asking.value} has no use for `{key}`; remove it"
                    yield Breach((*keys, key), message, "unit-quantity")
        elif step.unit is None:
            units = " or ".join(unit.name.lower() for unit in UNITS_OF[quantity])
            yield Breach(keys, f"a question for {quantity.value} needs its `unit`; write {units}", "unit-quantity")
        elif step.unit not in UNITS_OF[quantity]:
            message = f"{step.unit.name.lower()} is no unit of {quantity.value}; correct one of them"
            yield Breach((*keys, "unit"), message, "unit-quantity")


def asked_not_measured(procedure: Procedure) -> Iterator[Breach]:
    """What a meter shows of a circuit is measured; a question asks for what a plate or a person tells."""
    measured = {quantity.value for quantity in MEASURED}
    for keys, _section, step in every_step(procedure):
        match step:
            case Ask(asking=asking) if asking not in ASKED:
                do = f"write `measure: {asking.value}` with its limits" if asking.value in measured else _one_of_asked()
                yield Breach((*keys, "ask"), f"{asking.value} is not asked for; {do}", "asked-not-measured")
            case Measure(quantity=quantity) if quantity not in MEASURED:
                message = f"no limits judge {quantity.value}; write `ask: {quantity.value}`"
                yield Breach((*keys, "measure"), message, "asked-not-measured")
            case _:
                pass


def _one_of_asked() -> str:
    return f"write one of {', '.join(asking.value for asking in ASKED)}"


def kinds_of_answer(procedure: Procedure) -> Iterator[Breach]:
    """A field holds one kind of answer, wherever it is recorded."""
    first: dict[str, Recording] = {}
    for field, recording in every_recording(procedure):
        before = first.setdefault(field, recording)
        if (before.kind, before.unit) != (recording.kind, recording.unit):
            keys = ("sections", recording.section.id, "steps", recording.step.id, "field")
            message = f"{field} is {before.words} in {before.step.id} and {recording.words} here; name one otherwise"
            yield Breach(keys, message, "two-kinds-of-answer")
        elif (other := _without_a_common_answer(before, recording)) is not None:
            keys = ("sections", recording.section.id, "steps", recording.step.id, "field")
            message = f"{field} has other answers in {other}, and each would wipe out the other; name one otherwise"
            yield Breach(keys, message, "two-kinds-of-answer")


def _without_a_common_answer(before: Recording, recording: Recording) -> str | None:
    one, other = before.step, recording.step
    if not isinstance(one, Ask) or not isinstance(other, Ask) or not one.choices or not other.choices:
        return None
    known = {choice.key for choice in one.choices}
    return one.id if known.isdisjoint(choice.key for choice in other.choices) else None


def likely_values(procedure: Procedure) -> Iterator[Breach]:
    """What is likely can be, and some of it is within the limits."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, (Ask, Measure)) or step.likely is None:
            continue
        low, high = step.likely
        coldest = _COLDEST.get(step.unit or Unit.OHM, Decimal(0))
        if low < coldest:
            unit = f" {step.unit.name.lower()}" if step.unit else ""
            message = f"nothing is below {coldest}{unit}; write the lowest a sound or faulty part can show"
            yield Breach((*keys, "likely"), message, "likely")
        elif isinstance(step, Measure) and step.limits.rule in RULES and low <= high:
            within = _within(step)
            if within is not None and (high < within[0] or low > within[1]):
                message = "nothing that is likely is within the limits; correct one of the two"
                yield Breach((*keys, "likely"), message, "likely")


def likely_plate(procedure: Procedure) -> Iterator[Breach]:
    """What is likely of a plate takes in the watts and volts that the circuit's element has."""
    circuit = procedure.circuit
    heaters = [part for part in circuit.parts if isinstance(part, Heater)] if circuit is not None else []
    plate = [
        (field, circuit.usual.get(field, f"{figure:g}"), heater.name)
        for heater in heaters
        for field, figure in ((heater.watts_field, heater.watts), (heater.volts_field, heater.volts))
        if circuit is not None
    ]
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Ask) or step.likely is None or step.unit is None or step.likely[0] > step.likely[1]:
            continue
        low, high = step.likely
        for field, value, heater_name in plate:
            # One is what stands in for a figure that could not be read.
            if field == step.field and value.isdecimal() and Decimal(value) > 1 and not low <= Decimal(value) <= high:
                units = f"{step.unit.name.lower()}s"
                message = (
                    f"the circuit has {heater_name} of {value} {units}, which this takes for unlikely; write what is "
                    f"likely in {units}"
                )
                yield Breach((*keys, "likely"), message, "likely")
                break


def _within(step: Measure) -> tuple[Decimal, Decimal] | None:
    limits = step.limits
    if limits.rule == FIGURES:
        low, high = limits.figures.get("low"), limits.figures.get("high")
    else:
        computed = computed_limits(limits.rule)
        if computed.expect_open or computed.unit is not step.unit:
            return None
        low, high = computed.low, computed.high
    return low or Decimal(0), Decimal("1e12") if high is None else high


def beeps_and_wires(procedure: Procedure) -> Iterator[Breach]:
    """A beep passes nothing but a wire or a fuse; a wire is off only where ohms are read."""
    for keys, step in _measurements(procedure):
        if step.accepts_beep and (step.unit is not Unit.OHM or step.limits.rule not in _BEEPS):
            message = (
                f"a beep is no {step.quantity.value} to judge; only the rules {' and '.join(sorted(_BEEPS))} take one"
            )
            yield Breach((*keys, "accepts_beep"), message, "beep")
        if step.one_wire_off and step.unit is not Unit.OHM:
            message = f"{step.quantity.value} is read with every wire on; remove it"
            yield Breach((*keys, "one_wire_off"), message, "one-wire-off")


def beeps_at_contacts(procedure: Procedure) -> Iterator[Breach]:
    """A beep passes no contact: a switch or thermostat that the circuit has between the points is judged by ohms."""
    circuit = procedure.circuit
    for keys, step in _measurements(procedure) if circuit is not None else ():
        if circuit is None or not step.accepts_beep or step.limits.rule not in _BEEPS:
            continue
        for pair in step.pairs:
            off = frozenset() if step.setup is None else step.setup.off
            on = [part for part in circuit.parts if part.name not in off and isinstance(part, (Wire, Contact))]
            wires = [part for part in on if isinstance(part, Wire)]
            by_wires, by_any = (joined_by(parts, (pair.first,)) for parts in (wires, on))
            if pair.second in by_any - by_wires:
                message = "there is a contact between these points, and a beep is no proof of one; take its ohms"
                yield Breach((*keys, "accepts_beep"), message, "beep")
                break


def pairs(procedure: Procedure) -> Iterator[Breach]:
    """Each pair of a step is measured once and has a label of its own; a supply is judged by pairs that tell it."""
    for point in procedure.points.values():
        if "-" in point.label:
            message = f"a pair is written with a hyphen, as in L1-N, and {point.label!r} has one of its own; remove it"
            yield Breach(("points", point.id, "label"), message, "label")
    for keys, step in _measurements(procedure):
        seen: dict[frozenset[str], int] = {}
        labels: dict[str, int] = {}
        for number, pair in enumerate(step.pairs):
            other = seen.setdefault(frozenset({pair.first, pair.second}), number)
            same = labels.setdefault(pair.label, number)
            if other != number or same != number:
                message = (
                    f"is the {min(other, same) + 1}. pair once more, {pair.label}; keep one, or label its points apart"
                )
                yield Breach((*keys, "between", number), message, "pair-twice")
        if step.judged_as != EACH and not any(SUPPLY_PAIRS.get(label) == "l1_l2" for label in labels):
            message = "a supply is told by leg to leg; measure L1 to L2, or X to Y, too"
            yield Breach((*keys, "between"), message, "supply-pairs")
        if step.judged_as != EACH and step.quantity is not Quantity.VOLTAGE:
            message = f"a supply is judged by volts, and {step.quantity.value} is measured; write `measure: voltage`"
            yield Breach((*keys, "judged_as"), message, "supply-pairs")


def currents(procedure: Procedure) -> Iterator[Breach]:
    """What a clamp is round is said only where a current is read."""
    for keys, step in _measurements(procedure):
        if step.through is not None and step.quantity is not Quantity.CURRENT:
            message = f"a clamp reads a current, and {step.quantity.value} is measured; remove it"
            yield Breach((*keys, "through"), message, "unit-quantity")


CHECKS: Final[tuple[Check, ...]] = (
    limit_rules,
    limit_fields,
    question_units,
    asked_not_measured,
    kinds_of_answer,
    likely_values,
    likely_plate,
    beeps_at_contacts,
    beeps_and_wires,
    pairs,
    currents,
)
