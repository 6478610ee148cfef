"""What is told while sound comes in."""

import numpy as np
import pytest

from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import FRAME_SAMPLES, Samples, Utterance
from voicetech.hearing.listening import LOOK_BACK_S, LOOK_S, Quiet, Sound, Unfinished, listen


class Loudness:
    """A detector that takes every sample above 0 for speech."""

    def probability(self, frame: Samples) -> float:
        return float(frame[0] > 0)

    def reset(self) -> None:
        pass


def frames(pattern: str) -> list[Samples]:
    return [np.full(FRAME_SAMPLES, mark == "S", np.float32) for mark in pattern]


def heard(pattern: str) -> list[Sound]:
    return list(listen(frames(pattern), UtteranceCutter(), Loudness()))


def test_time_is_told_while_nobody_speaks() -> None:
    sounds = heard("." * 100)
    assert all(isinstance(sound, Quiet) for sound in sounds)
    times = [sound.at_s for sound in sounds if isinstance(sound, Quiet)]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(3.2, abs=0.3)


def test_an_utterance_comes_when_it_ends_and_looks_come_before() -> None:
    sounds = heard("." * 20 + "S" * 200 + "." * 40)
    kinds = [type(sound) for sound in sounds if not isinstance(sound, Quiet)]
    assert kinds[:-1] == [Unfinished] * (len(kinds) - 1)
    assert kinds[-1] is Utterance
    looks = [sound for sound in sounds if isinstance(sound, Unfinished)]
    assert len(looks) >= 200 * 0.032 / LOOK_S - 2
    assert max(look.utterance.length_s for look in looks) == pytest.approx(LOOK_BACK_S, abs=0.05)
    assert looks[-1].open_s > 6.0


def test_speech_at_the_end_of_the_recording_is_told() -> None:
    assert isinstance(heard("...." + "S" * 10)[-1], Utterance)


def test_lost_sound_is_told_with_the_utterance() -> None:
    answers = iter([False] * 15 + [True] + [False] * 100)
    sounds = listen(frames("." * 10 + "S" * 20 + "." * 40), UtteranceCutter(), Loudness(), lambda: next(answers))
    (utterance,) = [sound for sound in sounds if isinstance(sound, Utterance)]
    assert not utterance.whole
