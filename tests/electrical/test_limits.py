from dataclasses import replace
from decimal import Decimal

import pytest

from voicetech.electrical.contact import contact_limits, open_contact_limits
from voicetech.electrical.words import between, in_words, plain, rounded
from voicetech.units import Unit


def test_figures_out_of_order_are_refused() -> None:
    with pytest.raises(ValueError, match="out of order"):
        replace(contact_limits(), low=Decimal(2))


def test_limits_that_limit_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="low or a high"):
        replace(contact_limits(), low=None, high=None)
    assert open_contact_limits().expect_open


def test_a_figure_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        replace(contact_limits(), high=Decimal("NaN"))


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        ("21.8", Unit.OHM, "21.8 ohms"),
        ("1.00", Unit.OHM, "1 ohm"),
        ("85000", Unit.OHM, "85 kilohms"),
        ("2200000", Unit.OHM, "2.2 megohms"),
        ("9999", Unit.OHM, "9999 ohms"),
        ("240", Unit.VOLT, "240 volts"),
        ("1", Unit.AMPERE, "1 amp"),
        ("-0", Unit.VOLT, "0 volts"),
        ("1E+2", Unit.WATT, "100 watts"),
    ],
)
def test_figures_in_words(value: str, unit: Unit, words: str) -> None:
    assert in_words(Decimal(value), unit) == words


def test_a_span_says_its_unit_once() -> None:
    assert between(Decimal("19.9"), Decimal("24.4"), Unit.OHM) == "19.9 to 24.4 ohms"


def test_a_number_too_large_to_round_stays() -> None:
    assert rounded(Decimal("1E+40"), "0.1") == Decimal("1E+40")
    assert plain(Decimal("20.0")) == "20"
