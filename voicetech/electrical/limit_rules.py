"""Limits by the name of their rule, as a procedure's steps give it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from types import MappingProxyType

from voicetech.electrical.contact import (
    contact_drop_limits,
    contact_limits,
    earth_limits,
    lead_limits,
    open_contact_limits,
)
from voicetech.electrical.element import current_limits, element_limits, sheath_limits
from voicetech.electrical.limits import Limits
from voicetech.electrical.sensor import Curve, sensor_limits
from voicetech.electrical.service_voltage import limits_absent_of_voltage, supply_limits
from voicetech.units import Reading, Unit


@dataclass(frozen=True, slots=True)
class RuleNeeds:
    """The figures or answers a rule computes from: those it must have and those it may have."""

    must: tuple[str, ...] = ()
    may: tuple[str, ...] = ()


LIMIT_RULES: Mapping[str, RuleNeeds] = MappingProxyType(
    {
        "element": RuleNeeds(("watts", "volts")),
        "element-current": RuleNeeds(("watts", "volts", "measured_volts")),
        "sheath": RuleNeeds(),
        "contact": RuleNeeds(),
        "open-contact": RuleNeeds(),
        "contact-drop": RuleNeeds(),
        "leads": RuleNeeds(),
        "earth": RuleNeeds(),
        "earth-with-cord": RuleNeeds(),
        "sensor": RuleNeeds(("temperature",), ("curve",)),
        "supply": RuleNeeds(("nominal",)),
        "absence-of-voltage": RuleNeeds(),
        "span": RuleNeeds((), ("low", "high", "marginal_low", "marginal_high")),
    }
)
"""Every rule `limits_for` knows. `curve` is 3750 (taken where it is left out) or 3850."""


def limits_for(
    rule: str,
    figures: Mapping[str, Decimal],
    answers: Mapping[str, Reading],
    unit: Unit = Unit.OHM,
    source: str = "",
) -> Limits:
    """Return the limits of a named rule from a step's fixed figures and the answers recorded before.

    A figure outranks an answer of the same name. `unit` is the unit of a "span", whose figures are the
    limits themselves; `source` replaces the rule's own source where it is given. Raises ValueError for a
    rule that is not in `LIMIT_RULES`, and where a figure it needs is missing or cannot be.
    """
    if rule not in LIMIT_RULES:
        raise ValueError(f"no rule for limits is called {rule!r}; there are {', '.join(LIMIT_RULES)}")
    for name in LIMIT_RULES[rule].must:
        if name not in figures and name not in answers:
            raise ValueError(f"limits for {rule} need {name}; ask for it or give it as a figure")
    limits = _limits(rule, figures, answers, unit)
    return replace(limits, source=source) if source else limits


def _limits(rule: str, figures: Mapping[str, Decimal], answers: Mapping[str, Reading], unit: Unit) -> Limits:
    def value(name: str) -> Decimal:
        return figures[name] if name in figures else _number(name, answers[name])

    match rule:
        case "element":
            return element_limits(value("watts"), value("volts"))
        case "element-current":
            return current_limits(value("watts"), value("volts"), value("measured_volts"))
        case "sensor":
            return _sensor(figures, answers, value("temperature"))
        case "supply":
            return supply_limits(value("nominal"))
        case "span":
            return _span(figures, unit)
        case _:
            return _FIXED[rule]


_FIXED: Mapping[str, Limits] = MappingProxyType(
    {
        "sheath": sheath_limits(),
        "contact": contact_limits(),
        "open-contact": open_contact_limits(),
        "contact-drop": contact_drop_limits(),
        "leads": lead_limits(),
        "earth": earth_limits(with_cord=False),
        "earth-with-cord": earth_limits(with_cord=True),
        "absence-of-voltage": limits_absent_of_voltage(),
    }
)


def _number(name: str, reading: Reading) -> Decimal:
    if reading.value is None:
        raise ValueError(f"{name} was over range; a number is needed")
    return reading.value * 1000 if reading.unit is Unit.KILOWATT else reading.value


def _sensor(figures: Mapping[str, Decimal], answers: Mapping[str, Reading], temperature: Decimal) -> Limits:
    unit = Unit.CELSIUS if "temperature" in figures else answers["temperature"].unit
    if unit is None:
        raise ValueError("the temperature beside the sensor needs its unit, Fahrenheit or Celsius")
    named = str(figures.get("curve", Curve.PPM_3750))
    try:
        curve = Curve(named)
    except ValueError:
        raise ValueError(f"no sensor curve {named}; there are {', '.join(Curve)}") from None
    return sensor_limits(temperature, unit, curve)


def _span(figures: Mapping[str, Decimal], unit: Unit) -> Limits:
    low, high = figures.get("low"), figures.get("high")
    if low is None and high is None:
        raise ValueError("limits for span need low or high, or both")
    return Limits(
        low=low,
        high=high,
        marginal_low=figures.get("marginal_low"),
        marginal_high=figures.get("marginal_high"),
        unit=unit,
        expect_open=False,
        safety=False,
        source="as the procedure states",
        reason="by the procedure",
    )
