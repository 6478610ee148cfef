from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.meter import HANDHELD, Meter, MeterRange, uncertainty
from voicetech.units import Unit


def one_range(unit: Unit, percent: str, counts: int, resolution: str) -> Meter:
    span = MeterRange(unit, Decimal(1000), Decimal(resolution), Decimal(percent), counts)
    return replace(HANDHELD, ranges=(span,))


@pytest.mark.parametrize(
    ("shown", "low", "high", "meter"),
    [
        # Worked example on a public introduction to multimeter accuracy (read): 1 % + 2 counts at 100.0 V.
        ("100.0", "98.8", "101.2", one_range(Unit.VOLT, "1", 2, "0.1")),
        # Worked example on a public trade forum (read): 0.7 % + 2 counts, 120 V shown.
        ("120.0", "118.96", "121.04", one_range(Unit.VOLT, "0.7", 2, "0.1")),
    ],
)
def test_half_width_spans_the_published_examples(shown: str, low: str, high: str, meter: Meter) -> None:
    a = uncertainty(Decimal(shown), Unit.VOLT, meter).half_width
    assert Decimal(shown) - a == Decimal(low)
    assert Decimal(shown) + a == Decimal(high)


@pytest.mark.parametrize(
    ("shown", "unit", "half_width", "expanded"),
    [
        # Worked by hand with 0.9 % + 2 counts (ohms) and 1.0 % + 3 counts (volts): a, then 2 a / sqrt 3.
        ("24.0", Unit.OHM, "0.42", "0.48"),
        ("0.5", Unit.OHM, "0.20", "0.24"),
        ("1086", Unit.OHM, "10.8", "12.4"),
        ("240.0", Unit.VOLT, "2.7", "3.1"),
        ("120.0", Unit.VOLT, "1.5", "1.7"),
    ],
)
def test_default_meter_on_worked_examples(shown: str, unit: Unit, half_width: str, expanded: str) -> None:
    found = uncertainty(Decimal(shown), unit, HANDHELD)
    assert found.half_width.quantize(Decimal(half_width)) == Decimal(half_width)
    assert found.expanded.quantize(Decimal(expanded)) == Decimal(expanded)


def test_standard_uncertainty_is_of_a_rectangle() -> None:
    # JCGM 100 (from memory): u = a / sqrt 3, U = 2 u.
    found = uncertainty(Decimal("24.0"), Unit.OHM, HANDHELD)
    assert float(found.standard) == pytest.approx(float(found.half_width) / 3**0.5)
    assert found.expanded == 2 * found.standard


def test_a_unit_without_a_stated_figure_has_no_uncertainty() -> None:
    assert uncertainty(Decimal(60), Unit.HERTZ, HANDHELD).expanded == 0


def test_value_beyond_the_highest_range_uses_the_highest() -> None:
    span = HANDHELD.range_for(Decimal(5000), Unit.VOLT)
    assert span is not None
    assert span.full_scale == 1000


@given(st.decimals(0, 10**8, places=2), st.sampled_from([Unit.OHM, Unit.VOLT, Unit.AMPERE]))
def test_sign_does_not_matter_and_uncertainty_is_positive(value: Decimal, unit: Unit) -> None:
    assert uncertainty(value, unit, HANDHELD) == uncertainty(-value, unit, HANDHELD)
    assert uncertainty(value, unit, HANDHELD).expanded > 0
