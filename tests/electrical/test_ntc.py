"""Thermistors by their table, against the B equation worked out here and against the kind of table sheets print."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.meter import HANDHELD
from voicetech.electrical.ntc import ntc_limits, ntc_ohm
from voicetech.judge import VerdictWord, judge_reading
from voicetech.units import Reading, Unit

B_3950_K = 3950.0


def by_b(celsius: float) -> float:
    """Return the ohms of a 10 kilohm thermistor of B 3950 kelvin at a temperature (IEC 60539-1, from memory)."""
    return 10_000 * math.exp(B_3950_K * (1 / (celsius + 273.15) - 1 / 298.15))


TWO_POINTS = {Decimal(celsius): Decimal(str(by_b(celsius))) for celsius in (0, 100)}


@given(st.floats(min_value=-40, max_value=300))
def test_two_points_of_one_b_give_every_other(celsius: float) -> None:
    found = float(ntc_ohm(TWO_POINTS, Decimal(str(celsius))))
    assert math.isclose(found, by_b(celsius), rel_tol=1e-6)


def test_the_usual_ten_kilohm_part_at_fifty_degrees() -> None:
    """About 3.59 kilohms at 50 degrees Celsius: tables of 10 kilohm, B 3950 parts print 3588 to 3603 (from memory)."""
    assert 3580 < ntc_ohm(TWO_POINTS, Decimal(50)) < 3610


def test_a_point_of_the_table_is_kept() -> None:
    table = {Decimal(25): Decimal(10_000), Decimal(60): Decimal(2_500), Decimal(100): Decimal(680)}
    assert [round(ntc_ohm(table, at)) for at in table] == [10_000, 2_500, 680]


@pytest.mark.parametrize(
    ("off_c", "word"),
    [(0, VerdictWord.WITHIN), (4, VerdictWord.WITHIN), (8, VerdictWord.MARGINAL), (14, VerdictWord.BELOW)],
)
def test_it_is_judged_in_degrees(off_c: int, word: VerdictWord) -> None:
    limits = ntc_limits(TWO_POINTS, Decimal(25), Unit.CELSIUS)
    shown = Reading(Decimal(round(by_b(25 + off_c))), Unit.OHM)
    assert judge_reading(shown, limits, HANDHELD, None).word is word


def test_fahrenheit_and_celsius_agree() -> None:
    assert (
        ntc_limits(TWO_POINTS, Decimal(77), Unit.FAHRENHEIT).low
        == ntc_limits(TWO_POINTS, Decimal(25), Unit.CELSIUS).low
    )


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({Decimal(25): Decimal(10_000)}, "at least two points"),
        ({Decimal(25): Decimal(1_000), Decimal(100): Decimal(1_380)}, "have to fall"),
        ({Decimal(25): Decimal(0), Decimal(100): Decimal(-1)}, "cannot be"),
        ({Decimal(25): Decimal(10_000), Decimal(900): Decimal(1)}, "outside -60 to 650"),
    ],
)
def test_a_table_that_cannot_be_is_told(table: dict[Decimal, Decimal], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        ntc_ohm(table, Decimal(25))
