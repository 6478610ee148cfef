"""How fast and loud: steps stay within bounds and undo each other."""

from hypothesis import given
from hypothesis import strategies as st

from voicetech.language.meaning import Command
from voicetech.speaking.speaker import (
    FASTEST_WORDS_PER_MINUTE,
    LOUDEST,
    SLOWEST_WORDS_PER_MINUTE,
    SOFTEST,
    Step,
    VoiceSettings,
    speakable,
)


@given(st.lists(st.sampled_from(Step)))
def test_no_run_of_steps_leaves_the_bounds(steps: list[Step]) -> None:
    settings = VoiceSettings()
    for step in steps:
        settings = settings.after(step)
    assert SLOWEST_WORDS_PER_MINUTE <= settings.words_per_minute <= FASTEST_WORDS_PER_MINUTE
    assert SOFTEST <= settings.volume <= LOUDEST


def test_opposite_steps_undo_each_other() -> None:
    start = VoiceSettings()
    assert start.after(Step.SLOWER).after(Step.FASTER) == start
    assert start.after(Step.QUIETER).after(Step.LOUDER) == start


def test_every_step_is_a_spoken_command() -> None:
    assert {Command(step.value).name for step in Step} == {step.name for step in Step}


@given(st.text())
def test_what_is_spoken_is_one_printable_line_with_something_to_say(text: str) -> None:
    words = speakable(text)
    assert words == "" or (words.isprintable() and any(mark.isalnum() for mark in words))


def test_only_what_cannot_be_spoken_is_left_out() -> None:
    assert speakable("  Leg to\n leg,\x07 12.8 Ω. ") == "Leg to leg, 12.8 Ω."
    assert speakable(" – … ") == ""
