"""What a step should read, for paper: figures where what they depend on is told, else the rule and its cases."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from voicetech.electrical.element import MARGINAL_PART, PASS_PART
from voicetech.electrical.limits import Limits
from voicetech.electrical.recorded import figure
from voicetech.electrical.sensor import DRIFT_OHM, HARNESS_OHM
from voicetech.electrical.words import plain, rounded
from voicetech.limit_rules import limits_for, no_pass_yet
from voicetech.procedure import LimitRule, Measure
from voicetech.showing.sketch import SIGNS
from voicetech.units import Unit

BLANK: Final = "\N{NO-BREAK SPACE}" * 12
"""Room for a figure to be written into."""
_NBSP: Final = "\N{NO-BREAK SPACE}"
_MEGOHM_FROM: Final = Decimal(1_000_000)
_KILOHM_FROM: Final = Decimal(10_000)
_FAHRENHEIT: Final = tuple(range(50, 101, 10))
_CELSIUS: Final = tuple(range(10, 41, 5))
_ON_S: Final = (5, 10, 15, 20, 30)
Answers = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Case:
    """What may be read where `when` holds, "" where there is but one case."""

    when: str
    limits: Limits


@dataclass(frozen=True, slots=True)
class ToldLimits:
    """What a reading should be: its cases, and the rule they come from where a figure of it is not told.

    `short` says the rule in a few words. `sum_of` is the arithmetic with room for the figures that are not told.
    """

    cases: tuple[Case, ...]
    rule: str = ""
    short: str = ""
    sum_of: str = ""


def told_limits(rule: LimitRule, answers: Answers, label: str) -> ToldLimits:
    """Return what the pair of that label should read with what is told; KeyError for a rule that there is not."""
    by_rule = _BY_RULE.get(rule.rule)
    told = None if by_rule is None else by_rule(rule, answers)
    return told or ToldLimits((Case("", limits_for(rule, answers, label)),))


def short_limits(step: Measure, answers: Answers) -> str:
    """Return in a few words what a step should read; of several pairs only what they have in common."""
    if step.judged_as != "each":
        return "judged together"
    told = {_short(told_limits(step.limits, answers, pair.label)) for pair in step.pairs}
    return told.pop() if len(told) == 1 else "by the pair"


def _short(told: ToldLimits) -> str:
    if told.short:
        return told.short
    return "; ".join(f"{case.when}: {span(case.limits)}" if case.when else span(case.limits) for case in told.cases)


def figure_words(value: Decimal, unit: Unit) -> str:
    """Return a figure to four digits with its sign: "21.8 Ω", "12 kΩ"."""
    prefix = ""
    if unit is Unit.OHM and abs(value) >= _MEGOHM_FROM:
        value, prefix = value.scaleb(-6), "M"
    elif unit is Unit.OHM and abs(value) >= _KILOHM_FROM:
        value, prefix = value.scaleb(-3), "k"
    step = Decimal(1).scaleb(min(0, value.adjusted() - 3))
    return f"{plain(rounded(value, str(step)))}{_NBSP}{prefix}{SIGNS.get(unit, '')}"


def span(limits: Limits) -> str:
    """Return what passes: "19.9 to 24.4 Ω", "at most 1 Ω", "open (OL)"."""
    if limits.expect_open:
        return "open (OL)"
    return _between(limits.low, limits.high, limits.unit)


def _between(low: Decimal | None, high: Decimal | None, unit: Unit) -> str:
    if low is not None and high is not None and low > 0:
        first, last = figure_words(low, unit), figure_words(high, unit)
        sign = last.partition(_NBSP)[2]
        return f"{first.removesuffix(f'{_NBSP}{sign}')} to {last}"
    if high is not None:
        return f"at most {figure_words(high, unit)}"
    return "no figure" if low is None else f"at least {figure_words(low, unit)}"


def marginal_span(limits: Limits) -> str:
    """Return how far marginal reaches: "marginal from 17.7 to 26.6 Ω"; "" where nothing is."""
    low, high = limits.marginal_low, limits.marginal_high
    if low is None and high is None:
        return ""
    if limits.expect_open and low is not None:
        told = f"marginal from {figure_words(low, limits.unit)}"
        return told if limits.open_proves else f"{told}, and OL too"
    if low is not None and high is not None and low > 0:
        return f"marginal from {_between(low, high, limits.unit)}"
    if high is not None:
        return f"marginal to {figure_words(high, limits.unit)}"
    return f"marginal from {figure_words(low, limits.unit)}" if low is not None else ""


def _percent(part: Decimal) -> str:
    return f"{plain(part * 100)}{_NBSP}%"


def _known(rule: LimitRule, answers: Answers, *names: str) -> tuple[Decimal | None, ...]:
    return tuple(figure(answers, rule.fields.get(name)) for name in names)


def _or_blank(value: Decimal | None, unit: str) -> str:
    return f"{BLANK if value is None else plain(value)}{_NBSP}{unit}"


_EITHER_WAY: Final = f"within {_percent(PASS_PART)} either way, to {_percent(MARGINAL_PART)} marginal"


def _element(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    watts, volts = _known(rule, answers, "watts", "volts")
    if watts is not None and volts is not None:
        return None
    volt = _or_blank(volts, "V")
    return ToldLimits(
        (Case("where no plate can be read", limits_for(rule, {})),),
        f"The volts of its plate squared, over its watts; {_EITHER_WAY}.",
        f"V² ÷ W of its plate, {_percent(PASS_PART)} either way",
        f"{volt} × {volt} ÷ {_or_blank(watts, 'W')} = {BLANK}{_NBSP}Ω",
    )


def _current(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    watts, volts, measured = _known(rule, answers, "watts", "volts", "measured")
    if watts is not None and volts is not None and (measured is not None or "measured" not in rule.fields):
        return None
    across = _or_blank(measured, "V measured")
    return ToldLimits(
        (Case("where no plate can be read", limits_for(rule, {})),),
        f"The volts that were measured times the watts of its plate, over the plate's volts squared; {_EITHER_WAY}.",
        f"V × W ÷ V² of its plate, {_percent(PASS_PART)} either way",
        f"{across} × {_or_blank(watts, 'W')} ÷ {_or_blank(volts, 'V')} ÷ {_or_blank(volts, 'V')} = {BLANK}{_NBSP}A",
    )


def _leg_to_leg(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    name = rule.fields.get("volts", "volts")
    if _known(rule, answers, "volts") != (None,):
        return None
    fields = LimitRule(rule.rule, rule.figures, {**rule.fields, "volts": name}, rule.source)
    return ToldLimits(
        tuple(Case(f"{volts} volts on the plate", limits_for(fields, {name: volts})) for volts in ("240", "208"))
    )


def _by_connection(rule: LimitRule, answers: Answers, cases: Mapping[str, str]) -> ToldLimits | None:
    name = rule.fields.get("connection", "connection")
    if answers.get(name):
        return None
    return ToldLimits(tuple(Case(when, limits_for(rule, {name: value})) for value, when in cases.items()))


def _earth(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    return _by_connection(rule, answers, {"hard-wired": "hard wired", "cord-4": "with its cord"})


def _strap(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    return _by_connection(rule, answers, {"cord-4": "four wires", "cord-3": "three wires"})


def _sensor(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    if no_pass_yet(rule, answers) is None:
        return None
    celsius = "celsius" in rule.fields
    name = rule.fields.get("celsius") or rule.fields.get("fahrenheit") or "fahrenheit"
    fields = LimitRule(rule.rule, rule.figures, {"celsius" if celsius else "fahrenheit": name}, rule.source)
    sign, degrees = ("°C", _CELSIUS) if celsius else ("°F", _FAHRENHEIT)
    return ToldLimits(
        tuple(Case(f"at {at}{_NBSP}{sign}", limits_for(fields, {name: str(at)})) for at in degrees),
        "By the temperature measured beside it, which is taken first: without one these ohms pass nothing. The maker's "
        "own table outranks these.",
        "by its temperature",
    )


def _sensor_harness(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    if _known(rule, answers, "part") != (None,):
        return None
    return ToldLimits(
        (),
        f"What the sensor read at its own plug, within {figure_words(HARNESS_OHM, Unit.OHM)} either way; to "
        f"{figure_words(DRIFT_OHM, Unit.OHM)} marginal.",
        f"as at its own plug, {figure_words(HARNESS_OHM, Unit.OHM)} either way",
    )


def _cycling(rule: LimitRule, answers: Answers) -> ToldLimits | None:
    name = rule.fields.get("on")
    if name is None or _known(rule, answers, "on") != (None,):
        return None
    return ToldLimits(
        tuple(Case(f"{on} seconds on", limits_for(rule, {name: str(on)})) for on in _ON_S),
        "By how long it was on: the longer on, the longer off.",
        "by the seconds it was on",
    )


_BY_RULE: Final[Mapping[str, Callable[[LimitRule, Answers], ToldLimits | None]]] = {
    "element": _element,
    "element-current": _current,
    "leg-to-leg": _leg_to_leg,
    "earth": _earth,
    "strap": _strap,
    "sensor": _sensor,
    "sensor-harness": _sensor_harness,
    "cycling-medium": _cycling,
}
