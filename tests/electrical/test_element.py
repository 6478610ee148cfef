from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.element import (
    current_at_a,
    current_limits,
    element_limits,
    power_at_w,
    rated_resistance_ohm,
    sheath_limits,
    sound_span,
    two_circuit_limits,
)
from voicetech.electrical.meter import HANDHELD
from voicetech.judge import VerdictWord, judge_reading
from voicetech.units import Reading, Unit, over_range

PLATES = st.tuples(st.decimals(100, 20_000, places=0), st.sampled_from([Decimal(120), Decimal(208), Decimal(240)]))

# Watts at 240 V, ohms, amps, watts at 208 V, watts at 120 V (calculated by hand from V, W = V squared / R).
TABLE = [
    (1200, "48.0", "5.0", 901, 300),
    (1250, "46.1", "5.2", 939, 312),
    (1500, "38.4", "6.3", 1127, 375),
    (1800, "32.0", "7.5", 1352, 450),
    (2100, "27.4", "8.8", 1577, 525),
    (2400, "24.0", "10.0", 1803, 600),
    (2600, "22.2", "10.8", 1953, 650),
    (3000, "19.2", "12.5", 2253, 750),
    (3400, "16.9", "14.2", 2554, 850),
    (3600, "16.0", "15.0", 2704, 900),
    (4500, "12.8", "18.75", 3380, 1125),
    (5500, "10.5", "22.9", 4131, 1375),
]


@pytest.mark.parametrize(("watts", "ohm", "amps", "at_208", "at_120"), TABLE)
def test_element_table(watts: int, ohm: str, amps: str, at_208: int, at_120: int) -> None:
    rated = (Decimal(watts), Decimal(240))
    assert float(rated_resistance_ohm(*rated)) == pytest.approx(float(ohm), abs=0.051)
    assert float(current_at_a(*rated, Decimal(240))) == pytest.approx(float(amps), abs=0.051)
    assert float(power_at_w(*rated, Decimal(208))) == pytest.approx(at_208, abs=1)
    assert float(power_at_w(*rated, Decimal(120))) == pytest.approx(at_120, abs=1)


def test_water_heater_on_208_as_published() -> None:
    # Two public water-heater pages (read): 4500 W falls to 3380 W and 18.75 A to 16.25 A on 208 V.
    assert round(power_at_w(Decimal(4500), Decimal(240), Decimal(208))) == 3380
    assert current_at_a(Decimal(4500), Decimal(240), Decimal(208)) == Decimal("16.25")


def test_european_example_as_published() -> None:
    # A public repair forum (read): 2500 W at 230 V is 21.16 ohms.
    assert rated_resistance_ohm(Decimal(2500), Decimal(230)) == Decimal("21.16")


def test_208_volt_part_on_240_runs_a_third_over() -> None:
    # Calculated: 18.0 ohms marked 2400 W at 208 V makes 3.2 kW at 240 V.
    assert round(power_at_w(Decimal(2400), Decimal(208), Decimal(240)), -2) == 3200


def test_limits_are_the_trade_ten_and_twenty_percent() -> None:
    limits = element_limits(Decimal(2600), Decimal(240))
    assert (limits.marginal_low, limits.low, limits.high, limits.marginal_high) == tuple(
        Decimal(figure) for figure in ("17.7", "19.9", "24.4", "26.6")
    )
    assert limits.reason == "for a 2600 watt element at 240 volts"


@given(PLATES)
def test_no_sound_element_fails(plate: tuple[Decimal, Decimal]) -> None:
    # IEC 60335-1 clause 10.1 (from memory): +5 % / -10 % of rated power; cold over hot down to 1 / 1.10 (calculated).
    limits, span = element_limits(*plate), sound_span(*plate)
    assert limits.marginal_low is not None
    assert limits.marginal_high is not None
    assert limits.marginal_low <= span.low_ohm < span.high_ohm <= limits.marginal_high


@given(PLATES, st.decimals(1, 2000, places=0))
def test_more_watts_never_means_more_ohms(plate: tuple[Decimal, Decimal], more_w: Decimal) -> None:
    watts, volts = plate
    weaker, stronger = element_limits(watts, volts), element_limits(watts + more_w, volts)
    assert stronger.low is not None
    assert weaker.low is not None
    assert stronger.low <= weaker.low


@pytest.mark.parametrize(
    ("watts", "volts"),
    [("0", "240"), ("-5", "240"), ("2600", "0"), ("NaN", "240"), ("2600", "Infinity"), ("9E9", "240")],
)
def test_a_plate_that_cannot_be_is_refused(watts: str, volts: str) -> None:
    with pytest.raises(ValueError, match="read the plate again"):
        element_limits(Decimal(watts), Decimal(volts))


def test_current_limits_follow_the_measured_voltage() -> None:
    # Calculated: 5400 W at 240 V is 10.67 ohms; at 236 V that is 22.1 A.
    limits = current_limits(Decimal(5400), Decimal(240), Decimal(236))
    assert (limits.low, limits.high) == (Decimal("19.9"), Decimal("24.3"))
    assert limits.unit is Unit.AMPERE


def test_sheath_must_be_open_and_twelve_kilohms_is_ten_milliamps() -> None:
    limits = sheath_limits()
    assert limits.expect_open
    assert limits.safety
    assert limits.marginal_low == Decimal(120) / Decimal("0.010")


def test_two_circuits_are_judged_each_and_in_a_row() -> None:
    """1000 and 1400 watts at 240 volts: 57.6 and 41.1 ohms, 98.7 in a row, 2400 watts side by side (by hand)."""
    both = two_circuit_limits(Decimal(1000), Decimal(1400), Decimal(240))
    for limits, ohm in ((both.first, "57.6"), (both.second, "41.1"), (both.end_to_end, "98.7")):
        assert judge_reading(Reading(Decimal(ohm), Unit.OHM), limits, HANDHELD, None).word is VerdictWord.WITHIN
    assert both.both_w == 2400


def test_one_open_circuit_of_two_is_told_by_its_own_reading() -> None:
    both = two_circuit_limits(Decimal(1000), Decimal(1400), Decimal(240))
    assert judge_reading(over_range(), both.second, HANDHELD, None).word is VerdictWord.OVER_RANGE
    assert judge_reading(Reading(Decimal("57.6"), Unit.OHM), both.end_to_end, HANDHELD, None).word is VerdictWord.BELOW
