from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.sensor import Curve, resistance_ohm, sensor_limits, temperature_c, to_celsius
from voicetech.units import Unit

# IEC 60751 reference table for 100 ohm at 0 degrees (from memory; the coefficients were read at second hand in
# public drivers that name the standard). Ten times the ohms for a 1000 ohm sensor.
IEC_60751 = [
    (-50, "80.31"),
    (-20, "92.16"),
    (0, "100.00"),
    (20, "107.79"),
    (25, "109.73"),
    (50, "119.40"),
    (100, "138.51"),
    (150, "157.33"),
    (200, "175.86"),
    (250, "194.10"),
    (260, "197.71"),
    (300, "212.05"),
    (400, "247.09"),
]

# Oven sensor table published on a public repair page (read); its end points are repeated in a second public thread.
OVEN_TABLE_F = [(100, 1143), (200, 1350), (300, 1553), (350, 1654), (400, 1753), (500, 1949)]

# How far IEC 60751 would put a good sensor off, in degrees Celsius (calculated from the same table).
IEC_ERROR_C = {100: "-1.0", 200: "-2.6", 300: "-4.3", 350: "-5.0", 400: "-6.0", 500: "-7.8"}


@pytest.mark.parametrize(("celsius", "ohm"), IEC_60751)
def test_iec_60751_table(celsius: int, ohm: str) -> None:
    assert float(resistance_ohm(Decimal(celsius), Curve.PPM_3850, Decimal(100))) == pytest.approx(float(ohm), abs=0.006)


@pytest.mark.parametrize(("fahrenheit", "ohm"), OVEN_TABLE_F)
def test_published_oven_table_lies_on_the_3750_curve(fahrenheit: int, ohm: int) -> None:
    celsius = to_celsius(Decimal(fahrenheit), Unit.FAHRENHEIT)
    assert abs(resistance_ohm(celsius, Curve.PPM_3750) - ohm) <= Decimal("1.05")


@pytest.mark.parametrize(("fahrenheit", "ohm"), OVEN_TABLE_F)
def test_published_oven_table_read_by_iec_60751_looks_cold(fahrenheit: int, ohm: int) -> None:
    read_as = temperature_c(Decimal(ohm), Curve.PPM_3850)
    assert read_as is not None
    error_c = read_as - to_celsius(Decimal(fahrenheit), Unit.FAHRENHEIT)
    assert float(error_c) == pytest.approx(float(IEC_ERROR_C[fahrenheit]), abs=0.15)


def test_mean_coefficient_is_what_the_curve_is_named_after() -> None:
    # By definition the ppm figure is the mean slope from 0 to 100 degrees Celsius.
    for curve in Curve:
        rise = resistance_ohm(Decimal(100), curve) - resistance_ohm(Decimal(0), curve)
        assert float(rise) == pytest.approx(float(curve) / 10, abs=0.1)


@pytest.mark.parametrize(
    ("fahrenheit", "ohm"),
    [
        # A common trade figure for a warm kitchen (several public pages, read): 1080 to 1090 ohms at room temperature.
        ("70", "1080"),
        # By the 3750 curve: 1084.4 ohms at 72 degrees Fahrenheit (calculated).
        ("72", "1084.4"),
    ],
)
def test_room_temperature_figures(fahrenheit: str, ohm: str) -> None:
    celsius = to_celsius(Decimal(fahrenheit), Unit.FAHRENHEIT)
    assert abs(resistance_ohm(celsius, Curve.PPM_3750) - Decimal(ohm)) < 1


@given(st.decimals(-59, 649, places=2), st.sampled_from(Curve))
def test_there_and_back(celsius: Decimal, curve: Curve) -> None:
    back = temperature_c(resistance_ohm(celsius, curve), curve)
    assert back is not None
    assert abs(back - celsius) <= Decimal("0.001")


@given(st.decimals(-59, 648, places=2), st.sampled_from(Curve))
def test_resistance_rises_with_heat(celsius: Decimal, curve: Curve) -> None:
    assert resistance_ohm(celsius + 1, curve) > resistance_ohm(celsius, curve)


@given(st.decimals(allow_nan=True, allow_infinity=True), st.sampled_from(Curve))
def test_no_ohms_raise(ohm: Decimal, curve: Curve) -> None:
    found = temperature_c(ohm, curve)
    assert found is None or -60 <= found <= 650


def test_limits_hold_the_curve_and_five_degrees() -> None:
    limits = sensor_limits(Decimal(75), Unit.FAHRENHEIT)
    at_c = to_celsius(Decimal(75), Unit.FAHRENHEIT)
    assert limits.low == round(resistance_ohm(at_c - 5, Curve.PPM_3750))
    assert limits.high == round(resistance_ohm(at_c + 5, Curve.PPM_3750))
    assert "75 degrees Fahrenheit" in limits.reason


def test_the_same_warmth_in_either_unit_gives_the_same_limits() -> None:
    fahrenheit = sensor_limits(Decimal(212), Unit.FAHRENHEIT)
    celsius = sensor_limits(Decimal(100), Unit.CELSIUS)
    assert (fahrenheit.low, fahrenheit.high) == (celsius.low, celsius.high)


@pytest.mark.parametrize("temperature", [Decimal(700), Decimal(-80), Decimal("NaN"), Decimal("Infinity")])
def test_a_temperature_no_oven_has_is_refused(temperature: Decimal) -> None:
    with pytest.raises(ValueError, match="give the temperature at the sensor"):
        sensor_limits(temperature, Unit.CELSIUS)


def test_a_unit_that_is_no_temperature_is_refused() -> None:
    with pytest.raises(ValueError, match="Fahrenheit or Celsius"):
        sensor_limits(Decimal(70), Unit.OHM)
