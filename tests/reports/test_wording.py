"""Figures, limits and prompts as a report writes them."""

from decimal import Decimal

import pytest

from voicetech.language.wording import without_call_to_say
from voicetech.reports.blocks import Run
from voicetech.reports.text import line
from voicetech.reports.wording import inside_quotes, limits_words, number_with_unit, with_answers
from voicetech.units import Unit


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        ("21.80", Unit.OHM, "21.80 Ω"),
        ("9999", Unit.OHM, "9999 Ω"),
        ("85000", Unit.OHM, "85 kΩ"),
        ("1200000", Unit.OHM, "1.2 MΩ"),
        ("1E+3", Unit.OHM, "1000 Ω"),
        ("240", Unit.VOLT, "240 V"),
        ("350", Unit.FAHRENHEIT, "350 °F"),
        ("7.2", None, "7.2"),
    ],
)
def test_a_value_keeps_its_digits(value: str, unit: Unit | None, words: str) -> None:
    assert number_with_unit(Decimal(value), unit).replace("\xa0", " ") == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ("19.9", "24.40", "19.9 to 24.4 Ω"),
        ("19.9411764", "24.4222", "19.94 to 24.42 Ω"),
        ("5000", "12000", "5000 Ω to 12 kΩ"),
        (None, "1", "at most 1 Ω"),
        ("1000000", None, "at least 1 MΩ"),
        ("20", "20.0", "20 Ω"),
        (None, None, "none"),
    ],
)
def test_limits_say_their_unit_once(low: str | None, high: str | None, words: str) -> None:
    ends = [None if end is None else Decimal(end) for end in (low, high)]
    assert limits_words(ends[0], ends[1], Unit.OHM).replace("\xa0", " ") == words


@pytest.mark.parametrize(
    ("prompt", "kept"),
    [
        ("Covers on, screws in. Say done.", "Covers on, screws in."),
        ("Fit the coil, then say done.", "Fit the coil."),
        ("Pull the plug. Keep it in sight. Then say: plug is out.", "Pull the plug. Keep it in sight."),
        ("Say what it was.", "Say what it was."),
        ("Nothing to say here?", "Nothing to say here?"),
        ("Fit the coil.", "Fit the coil."),
    ],
)
def test_the_call_to_say_done_is_for_the_ear(prompt: str, kept: str) -> None:
    assert without_call_to_say(prompt) == kept


def test_braces_in_an_answer_are_left_alone() -> None:
    assert with_answers("{a} and {b-c}", {"a": "{b-c} {0.__class__}"}) == "{b-c} {0.__class__} and b c"


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ('it says "F1" and "F2"', "it says ‘F1’ and ‘F2’"),
        ('8" wide', '8" wide'),
        ("nothing", "nothing"),
    ],
)
def test_quotation_marks_inside_a_quotation_are_single_ones(said: str, shown: str) -> None:
    assert inside_quotes(said) == shown


def test_what_was_withdrawn_is_set_off_from_its_words_without_a_frame_too() -> None:
    told = "".join(run.text for run in line((Run("nothing seen"),), withdrawn="undo"))
    assert told == "nothing seen – withdrawn: undo"
