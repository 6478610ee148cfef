"""Prompt lengths told from the text; the real voice is their measure in the tests of speaking."""

import pytest

from voicetech.language.spoken_length import FULL_PROMPT_S, SHORT_PROMPT_S, spoken_length_s


def test_nothing_takes_no_time() -> None:
    assert spoken_length_s("") == 0.0


def test_more_words_take_longer_and_twice_the_rate_half_as_long() -> None:
    assert spoken_length_s("Leg to leg, then leg to neutral.") > spoken_length_s("Leg to leg.")
    assert spoken_length_s("Leg to leg.", 200) == pytest.approx(spoken_length_s("Leg to leg.", 100) / 2)


def test_digits_weigh_what_their_words_do() -> None:
    assert spoken_length_s("240 volts") == pytest.approx(spoken_length_s("two hundred forty volts"), rel=0.3)


def test_a_decimal_point_is_no_pause() -> None:
    assert spoken_length_s("12.8") == spoken_length_s("128")


def test_short_and_full_prompts_are_told_apart() -> None:
    short = "Two forty one volts. Next, leg one to neutral."
    full = "Take one wire off the element. Touch the leads together and note what the meter shows."
    assert spoken_length_s(short) < SHORT_PROMPT_S < spoken_length_s(full) < FULL_PROMPT_S
