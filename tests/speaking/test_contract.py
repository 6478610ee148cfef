"""What every voice promises, tried on each of them."""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.speaking.conftest import FAKE_VOICE
from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.silent_speaker import SilentSpeaker
from voicetech.speaking.speaker import Speaker, Step
from voicetech.speaking.voice_process import ChildVoice


def _overhear(_words: str) -> None:
    """Take what the voice tells; no adapter is asked here whether it could be heard."""


VOICES: dict[str, Callable[[Path], Speaker]] = {
    "silent": lambda _: SilentSpeaker(),
    "to file": FileSpeaker,
    "aloud, real voice": lambda _: Pyttsx3Speaker(_overhear),
    "aloud, fake voice": lambda folder: Pyttsx3Speaker(
        _overhear, ChildVoice((sys.executable, "-P", str(FAKE_VOICE), str(folder / "record")))
    ),
}


@pytest.fixture(params=VOICES)
def speaker(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Speaker]:
    voice = VOICES[request.param](tmp_path)
    yield voice
    voice.close()


@pytest.mark.parametrize("text", ["Leg to leg.", "", "...", "\x00\n\t", "23.5 Ω – naïve\ud800", "[[x]] <b>& '"])
def test_it_says_whatever_it_is_given_and_returns(speaker: Speaker, text: str) -> None:
    speaker.say(text)
    speaker.tone()


def test_hushing_silence_is_harmless(speaker: Speaker) -> None:
    speaker.hush()
    speaker.say("Leg to leg.")
    speaker.hush()


def test_it_can_be_closed_twice_and_then_says_nothing(speaker: Speaker) -> None:
    speaker.close()
    speaker.close()
    speaker.say("Leg to leg.")
    speaker.tone()
    speaker.hush()


@pytest.mark.parametrize("step", Step)
def test_each_step_changes_the_voice_until_it_can_go_no_further(speaker: Speaker, step: Step) -> None:
    seen = [speaker.settings]
    while speaker.adjust(step):
        seen.append(speaker.settings)
        assert len(seen) < 20
    assert len(seen) > 1
    assert speaker.settings == seen[-1]
    assert len(set(seen)) == len(seen)


def test_rate_and_volume_are_kept_within_bounds(speaker: Speaker) -> None:
    speaker.set_rate(10_000)
    speaker.set_volume(50.0)
    loud_and_fast = speaker.settings
    assert not speaker.adjust(Step.FASTER)
    assert not speaker.adjust(Step.LOUDER)
    speaker.set_rate(-1)
    speaker.set_volume(-1.0)
    assert 0 < speaker.settings.words_per_minute < loud_and_fast.words_per_minute
    assert 0 < speaker.settings.volume < loud_and_fast.volume
    speaker.set_rate(160)
    assert speaker.settings.words_per_minute == 160
