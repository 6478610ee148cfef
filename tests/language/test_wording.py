"""Read-back: what is spoken parses back to the same value."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.language.meaning import Asking, Question, ReadingSaid, Unclear
from voicetech.language.understand import understand
from voicetech.language.wording import digit_by_digit, read_back, shown, spoken
from voicetech.units import Reading, Unit, over_range

LEXICON = load_lexicon()
ASKED = {
    Unit.VOLT: Asking.VOLTAGE,
    Unit.OHM: Asking.RESISTANCE,
    Unit.AMPERE: Asking.CURRENT,
    Unit.FAHRENHEIT: Asking.TEMPERATURE,
    Unit.CELSIUS: Asking.TEMPERATURE,
    Unit.HERTZ: Asking.VOLTAGE,
    Unit.WATT: Asking.POWER,
}


@pytest.mark.parametrize(
    ("value", "unit", "words", "screen"),
    [
        ("238", Unit.VOLT, "two hundred thirty eight volts", "238 V"),
        ("0.5", Unit.OHM, "zero point five ohms", "0.5 Ω"),
        ("1", Unit.OHM, "one ohm", "1 Ω"),
        ("1200", Unit.OHM, "one point two kilohms", "1.2 kΩ"),
        ("2200000", Unit.OHM, "two point two megohms", "2.2 MΩ"),
        ("-3.2", Unit.VOLT, "minus three point two volts", "−3.2 V"),
        ("240.0", Unit.VOLT, "two hundred forty point zero volts", "240.0 V"),
        ("72", Unit.FAHRENHEIT, "seventy two degrees fahrenheit", "72 °F"),
        ("0.012", Unit.AMPERE, "twelve milliamps", "12 mA"),
        ("7", None, "seven", "7"),
    ],
)
def test_readings_in_words_and_on_the_screen(value: str, unit: Unit | None, words: str, screen: str) -> None:
    reading = Reading(Decimal(value), unit)
    assert (spoken(reading), shown(reading)) == (words, screen)


def test_over_range() -> None:
    assert spoken(over_range()) == "over limit, open"
    assert read_back(over_range()) == "over limit, open"
    assert shown(over_range()) == "OL"


def test_teens_and_tens_are_read_back_digit_by_digit() -> None:
    assert digit_by_digit(Decimal(150)) == "one five zero"
    assert read_back(Reading(Decimal(115), Unit.VOLT)) == "one one five volts"
    assert read_back(Reading(Decimal(150), Unit.VOLT)) == "one five zero volts"
    assert read_back(Reading(Decimal(238), Unit.VOLT)) == "two hundred thirty eight volts"


@given(
    digits=st.integers(-99_999_999, 99_999_999),
    places=st.integers(0, 3),
    unit=st.sampled_from(list(ASKED)),
)
@settings(max_examples=400, deadline=None)
def test_what_is_spoken_parses_back_to_the_same_value(digits: int, places: int, unit: Unit) -> None:
    value = Decimal(digits).scaleb(-places)
    said = understand(spoken(Reading(value, unit)), Question(ASKED[unit]), LEXICON)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.unit) == (value, unit)


@given(tenths=st.integers(0, 9999), unit=st.sampled_from([Unit.VOLT, Unit.OHM, Unit.AMPERE]))
@settings(max_examples=300, deadline=None)
def test_what_is_read_back_parses_back_to_the_same_value(tenths: int, unit: Unit) -> None:
    value = Decimal(tenths) / 10 if tenths % 10 else Decimal(tenths // 10)
    said = understand(read_back(Reading(value, unit)), Question(ASKED[unit]), LEXICON)
    if isinstance(said, Unclear):  # "one three volts" back at us may be 1.3, and is asked about
        assert 10 < value < 100
        said = said.candidates[0]
    assert isinstance(said, ReadingSaid)
    assert said.value == value
