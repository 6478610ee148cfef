"""What a step should read, on paper: in figures where they are told, by the rule where they are not."""

from decimal import Decimal

import pytest

from tests.dialogue.talker import shipped
from voicetech.drawing.limits_told import BLANK, figure_words, marginal_span, short_limits, span, told_limits
from voicetech.limit_rules import RULES, limits_for
from voicetech.procedure import LimitRule, Measure
from voicetech.units import Unit

FIELDS = {"watts": "w", "volts": "v", "measured": "m", "on": "on", "part": "p", "fahrenheit": "f"}
ANSWERS = {"w": "2600", "v": "240", "m": "238", "on": "12", "p": "1080", "f": "72", "connection": "cord-4"}


def rule(name: str) -> LimitRule:
    return LimitRule(name, {"low": Decimal(1), "high": Decimal(2)}, FIELDS, "somewhere")


@pytest.mark.parametrize("name", sorted(RULES))
def test_with_everything_told_it_is_the_figures_that_are_judged_by(name: str) -> None:
    told = told_limits(rule(name), ANSWERS, "L1-N")
    assert [case.limits for case in told.cases] == [limits_for(rule(name), ANSWERS, "L1-N")]
    assert (told.rule, told.sum_of) == ("", "")


@pytest.mark.parametrize("name", sorted(RULES))
def test_with_nothing_told_every_rule_says_something(name: str) -> None:
    told = told_limits(rule(name), {}, "L1-N")
    assert told.rule or told.cases
    assert all(span(case.limits) != "no figure" for case in told.cases)


def test_an_element_without_its_plate_is_arithmetic_with_room_for_it() -> None:
    told = told_limits(rule("element"), {"v": "240"}, "a-b")
    assert told.sum_of.replace("\N{NO-BREAK SPACE}", " ").startswith("240 V × 240 V ÷ ")
    assert told.sum_of.count(BLANK) == 2
    assert "10" in told.rule
    assert "20" in told.rule


def test_what_goes_by_the_connection_or_the_temperature_has_a_case_for_each() -> None:
    assert [case.when for case in told_limits(rule("earth"), {}, "").cases] == ["hard wired", "with its cord"]
    four, three = told_limits(rule("strap"), {}, "").cases
    assert (four.when, span(four.limits), three.when) == ("four wires", "open (OL)", "three wires")
    sensor = told_limits(LimitRule("sensor", {}, {"celsius": "c"}, ""), {}, "")
    assert [case.when.split("\N{NO-BREAK SPACE}")[1] for case in sensor.cases] == ["°C"] * len(sensor.cases)
    lows = [case.limits.low for case in sensor.cases]
    assert lows == sorted(lows, key=lambda low: low or Decimal(0))
    assert "temperature" in sensor.rule


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [("21.75", Unit.OHM, "21.75 Ω"), ("12000", Unit.OHM, "12 kΩ"), ("1e6", Unit.OHM, "1 MΩ"),
     ("0.5", Unit.VOLT, "0.5 V"), ("6000000", Unit.OHM, "6 MΩ"), ("1082.4444", Unit.OHM, "1082 Ω"),
     ("0", Unit.VOLT, "0 V")],
)  # fmt: skip
def test_figures_are_written_as_a_meter_shows_them(value: str, unit: Unit, told: str) -> None:
    assert figure_words(Decimal(value), unit).replace("\N{NO-BREAK SPACE}", " ") == told


def test_spans_say_their_unit_once_and_marginal_is_told_beside_them() -> None:
    element = limits_for(rule("element"), ANSWERS)
    assert span(element).replace("\N{NO-BREAK SPACE}", " ") == "19.9 to 24.4 Ω"
    assert marginal_span(element).replace("\N{NO-BREAK SPACE}", " ") == "marginal from 17.7 to 26.6 Ω"
    assert marginal_span(limits_for(rule("must-open"), {})) == ""
    assert "and OL too" in marginal_span(limits_for(rule("open-cold"), {})), "open cold clears nothing"


def test_a_drawing_has_it_in_a_few_words() -> None:
    ohms, pairs = shipped().step("bake", "bake-ohms"), shipped().step("supply", "supply-idle")
    assert isinstance(ohms, Measure)
    assert isinstance(pairs, Measure)
    assert short_limits(ohms, {}).startswith("V² ÷ W")
    assert short_limits(ohms, {"bake_watts": "2600", "plate_volts": "240"}).startswith("19.9 to 24.4")
    assert short_limits(pairs, {}) == "judged together"
