"""From a procedure's named limit rules to limits: the one place where names in `dialogs/` meet the physics."""

from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Final

from voicetech.electrical.contact import (
    contact_drop_limits,
    contact_limits,
    earth_limits,
    lead_limits,
    open_contact_limits,
    strap_limits,
)
from voicetech.electrical.cycling import LONGEST_S, off_limits
from voicetech.electrical.element import (
    current_limits,
    element_limits,
    insulation_limits,
    sheath_limits,
    sheath_limits_when_cold,
)
from voicetech.electrical.limits import Limits
from voicetech.electrical.recorded import figure
from voicetech.electrical.sensor import (
    HIGHEST_C,
    LOWEST_C,
    MARGINAL_C,
    sensor_harness_limits,
    sensor_limits,
    to_celsius,
    whole_sensor_limits,
)
from voicetech.electrical.service_voltage import (
    NEUTRAL_TO_FRAME_HIGH_V,
    limits_absent_of_voltage,
    supply_limits,
    supply_pair_limits,
    touch_voltage_limits,
)
from voicetech.procedure import LimitRule
from voicetech.units import Unit

KNOWN_LIVE_LOW_V: Final = Decimal(90)
KNOWN_LIVE_HIGH_V: Final = Decimal(264)
"""What a tester must show on a known live source: any outlet from a sagging 120 to a high 240 volts.

Source: common practice, no source.
"""

NO_TEMPERATURE: Final = (
    "nobody has measured the temperature at the sensor, and without one these ohms say nothing; "
    "begin the test again by its name and give it, or skip this"
)

_Answers = Mapping[str, str]


def _element(rule: LimitRule, answers: _Answers) -> Limits:
    watts = figure(answers, rule.fields.get("watts"))
    volts = figure(answers, rule.fields.get("volts"))
    if watts is None or volts is None:
        return Limits(
            low=Decimal(8),
            high=Decimal(125),
            marginal_low=Decimal(5),
            marginal_high=Decimal(200),
            unit=Unit.OHM,
            safety=False,
            source="common practice, no source: without a nameplate only open and shorted can be told",
            reason="for a heating element whose nameplate is not known",
        )
    return element_limits(watts, volts)


def _current(rule: LimitRule, answers: _Answers) -> Limits:
    watts = figure(answers, rule.fields.get("watts"))
    volts = figure(answers, rule.fields.get("volts"))
    measured = figure(answers, rule.fields.get("measured")) or volts
    if watts is None or volts is None or measured is None:
        return _numbers(Decimal("0.5"), Decimal(50), Unit.AMPERE, rule, "for an element whose nameplate is not known")
    return current_limits(watts, volts, measured)


def _leg_to_leg(rule: LimitRule, answers: _Answers) -> Limits:
    return supply_limits(figure(answers, rule.fields.get("volts")) or Decimal(240))


def _leg_to_neutral(_rule: LimitRule, _answers: _Answers) -> Limits:
    return supply_limits(Decimal(120))


CORDED: Final = "cord-"
THREE_WIRES: Final = "-3"
"""How the names of connections begin where there is a plug, and end where the neutral grounds the frame: cord-3."""


def _earth(rule: LimitRule, answers: _Answers) -> Limits:
    return earth_limits(with_cord=answers.get(rule.fields.get("connection", "connection"), "").startswith(CORDED))


def _strap(rule: LimitRule, answers: _Answers) -> Limits:
    connection = answers.get(rule.fields.get("connection", "connection"), "")
    return strap_limits(four_wire=not connection.endswith(THREE_WIRES))


def _temperature(rule: LimitRule, answers: _Answers) -> tuple[Decimal, Unit] | None:
    """Return the temperature recorded under `fahrenheit` or `celsius`, or None where none can be a sensor's."""
    for key, unit in (("fahrenheit", Unit.FAHRENHEIT), ("celsius", Unit.CELSIUS)):
        try:
            value = Decimal(answers.get(rule.fields.get(key, ""), ""))
        except InvalidOperation:
            continue
        if value.is_finite() and LOWEST_C + MARGINAL_C <= to_celsius(value, unit) <= HIGHEST_C - MARGINAL_C:
            return value, unit
    return None


def _sensor(rule: LimitRule, answers: _Answers) -> Limits:
    at = _temperature(rule, answers)
    return whole_sensor_limits() if at is None else sensor_limits(*at)


def _sensor_harness(rule: LimitRule, answers: _Answers) -> Limits:
    part_ohm = figure(answers, rule.fields.get("part"))
    return _sensor(rule, answers) if part_ohm is None else sensor_harness_limits(part_ohm)


def _known_live(rule: LimitRule, _answers: _Answers) -> Limits:
    return _numbers(KNOWN_LIVE_LOW_V, KNOWN_LIVE_HIGH_V, Unit.VOLT, rule, "for a tester on a known live source")


def _neutral_to_frame(rule: LimitRule, _answers: _Answers) -> Limits:
    return _numbers(Decimal(0), NEUTRAL_TO_FRAME_HIGH_V, Unit.VOLT, rule, "between neutral and frame")


def _cycling(rule: LimitRule, answers: _Answers) -> Limits:
    on_s = figure(answers, rule.fields.get("on"))
    return off_limits(on_s if on_s is None or 0 < on_s <= LONGEST_S else None)


def _figures(rule: LimitRule, _answers: _Answers) -> Limits:
    unit = next((unit for name, unit in _FIGURES_IN.items() if name in rule.fields), Unit.OHM)
    return _numbers(rule.figures.get("low"), rule.figures.get("high"), unit, rule, "by the procedure")


def _numbers(low: Decimal | None, high: Decimal | None, unit: Unit, rule: LimitRule, reason: str) -> Limits:
    return Limits(
        low=low,
        high=high,
        unit=unit,
        safety=False,
        source=rule.source,
        reason=reason,
        guarded=False,
    )


_FIGURES_IN: Final = {"volt": Unit.VOLT, "second": Unit.SECOND, "fahrenheit": Unit.FAHRENHEIT}

_RULES: Final[dict[str, Callable[[LimitRule, _Answers], Limits]]] = {
    "element": _element,
    "element-current": _current,
    "insulation": lambda _rule, _answers: insulation_limits(),
    "open-cold": lambda _rule, _answers: sheath_limits_when_cold(),
    "touch-voltage": lambda _rule, _answers: touch_voltage_limits(),
    "open": lambda _rule, _answers: sheath_limits(),
    "must-open": lambda _rule, _answers: open_contact_limits(),
    "closed-contact": lambda _rule, _answers: contact_limits(),
    "fuse": lambda _rule, _answers: contact_limits(),
    "contact-drop": lambda _rule, _answers: contact_drop_limits(),
    "leads": lambda _rule, _answers: lead_limits(),
    "earth": _earth,
    "strap": _strap,
    "sensor": _sensor,
    "sensor-harness": _sensor_harness,
    "sensor-whole": lambda _rule, _answers: whole_sensor_limits(),
    "dead": lambda _rule, _answers: limits_absent_of_voltage(),
    "known-live": _known_live,
    "leg-to-leg": _leg_to_leg,
    "leg-to-neutral": _leg_to_neutral,
    "neutral-to-frame": _neutral_to_frame,
    "cycling-medium": _cycling,
    "figures": _figures,
}

_WANT_TEMPERATURE: Final = frozenset({"sensor", "sensor-harness"})

SUPPLY_PAIRS: Final = "supply-pairs"
"""The one rule whose limits go by the pair: leg to leg, leg to neutral, neutral to frame."""

RULES: Final = frozenset({*_RULES, SUPPLY_PAIRS})
"""Every name a procedure may use for its limits."""


def limits_for(rule: LimitRule, answers: _Answers, label: str = "L1-L2") -> Limits:
    """Return the limits a rule gives with what is recorded, for the pair of that label; KeyError for an unknown rule.

    A nameplate or a temperature that is not known gives limits so wide that only an open or shorted part is told.
    """
    if rule.rule == SUPPLY_PAIRS:
        first, _, second = label.partition("-")
        return supply_pair_limits(first, second)
    return _RULES[rule.rule](rule, answers)


def no_pass_yet(rule: LimitRule, answers: _Answers) -> str | None:
    """Return why a reading inside these limits passes nothing with what is recorded, or None where it may pass.

    A sensor is never judged good without its temperature, or at the board without its reading at its own plug.
    """
    known = figure(answers, rule.fields.get("part")) or _temperature(rule, answers)
    return NO_TEMPERATURE if rule.rule in _WANT_TEMPERATURE and known is None else None
