"""A voice that hangs, dies or is cut short never holds up the job, and says what was wrong once."""

import os
import signal
import threading
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from tests.speaking.conftest import Misbehaving


def test_hush_ends_a_prompt_that_would_play_for_ever(misbehaving: Callable[[float], Misbehaving]) -> None:
    voice = misbehaving(60.0)
    saying = threading.Thread(target=voice.speaker.say, args=("long",))
    saying.start()
    voice.wait_for("playing")
    voice.speaker.hush()
    saying.join(timeout=30.0)
    assert not saying.is_alive()
    assert voice.told == []


def test_hush_does_not_swallow_the_next_prompt(misbehaving: Callable[[float], Misbehaving]) -> None:
    voice = misbehaving(60.0)
    saying = threading.Thread(target=voice.speaker.say, args=("long",))
    saying.start()
    voice.wait_for("playing")
    voice.speaker.hush()
    saying.join(timeout=30.0)
    voice.speaker.hush()
    voice.speaker.say("next")
    assert [event.rsplit(" ", 1)[0] for event in voice.events()] == [
        "making long",
        "playing",
        "making next",
        "playing",
    ]


def test_closing_ends_a_prompt_that_would_play_for_ever(misbehaving: Callable[[float], Misbehaving]) -> None:
    voice = misbehaving(60.0)
    saying = threading.Thread(target=voice.speaker.say, args=("long",))
    saying.start()
    voice.wait_for("playing")
    voice.speaker.close()
    saying.join(timeout=30.0)
    assert not saying.is_alive()
    assert voice.told == []


def test_a_voice_killed_in_mid_sentence_is_told_and_the_next_prompt_is_said(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(60.0)
    saying = threading.Thread(target=voice.speaker.say, args=("long",))
    saying.start()
    os.kill(voice.wait_for("playing"), signal.SIGKILL)
    saying.join(timeout=30.0)
    assert not saying.is_alive()
    assert voice.told == ["The voice stopped working and was started again."]
    voice.speaker.say("next")
    assert voice.events()[-1].startswith("playing")
    assert voice.events()[-2].startswith("making next")


def test_a_voice_that_hangs_once_is_replaced_and_the_prompt_is_said_after_all(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(1.0)
    voice.speaker.say("hang once")
    assert [event.rsplit(" ", 1)[0] for event in voice.events()] == [
        "making hang once",
        "making hang once",
        "playing",
    ]
    assert voice.told == []


def test_a_voice_that_always_hangs_gives_up_and_is_told_once(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(1.0)
    voice.speaker.say("hang")
    voice.speaker.say("hang")
    assert voice.told == ["The voice was silent for 1 s and was started again."]
    voice.speaker.say("next")
    assert voice.events()[-1].startswith("playing")


def test_a_device_that_never_finishes_playing_is_given_up(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(1.0)
    voice.speaker.say("long")
    assert voice.told == ["The voice was silent for 1 s and was started again."]


def test_a_voice_that_dies_at_a_sentence_is_told_and_the_next_prompt_is_said(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(60.0)
    voice.speaker.say("die")
    voice.speaker.say("next")
    assert voice.told == ["The voice stopped working and was started again."]
    assert voice.events()[-1].startswith("playing")


def test_the_check_reports_what_is_wrong_and_nothing_where_all_is_well(
    misbehaving: Callable[[float], Misbehaving],
) -> None:
    voice = misbehaving(60.0)
    assert voice.speaker.check() is None
    os.kill(voice.wait_for("playing"), signal.SIGKILL)
    assert voice.speaker.check() in (None, "The voice stopped working and was started again.")


def test_a_recording_of_any_kind_is_played(misbehaving: Callable[[float], Misbehaving], tmp_path: Path) -> None:
    voice = misbehaving(60.0)
    soundfile.write(tmp_path / "clip.flac", np.zeros((4_800, 2)), 48_000, subtype="PCM_24")
    voice.speaker.play_file(tmp_path / "clip.flac")
    assert [event.rsplit(" ", 1)[0] for event in voice.events()] == ["playing"]
    assert voice.told == []


def test_a_recording_that_cannot_be_played_is_told(misbehaving: Callable[[float], Misbehaving], tmp_path: Path) -> None:
    voice = misbehaving(60.0)
    voice.speaker.play_file(tmp_path / "missing.flac")
    assert len(voice.told) == 1
    assert "missing.flac" in voice.told[0]
