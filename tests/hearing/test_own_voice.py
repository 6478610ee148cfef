"""How loud the program is to its own microphone."""

import numpy as np

from voicetech.hearing.frames import RATE_HZ, Samples
from voicetech.hearing.own_voice import OwnVoice


def noise(level: float, length_s: float = 2.0) -> Samples:
    return np.random.default_rng(0).normal(0, level, int(length_s * RATE_HZ)).astype(np.float32)


def with_burst(level: float, length_s: float) -> Samples:
    sound = noise(0.1)
    at = RATE_HZ // 2
    sound[at : at + int(length_s * RATE_HZ)] *= level / 0.1
    return sound


def test_nothing_is_over_a_voice_that_was_never_heard() -> None:
    assert not OwnVoice().is_spoken_over(noise(0.9))


def test_a_raised_voice_is_told_from_the_usual() -> None:
    own = OwnVoice()
    own.learn(noise(0.1))
    assert not own.is_spoken_over(noise(0.1))
    assert not own.is_spoken_over(noise(0.15))
    assert own.is_spoken_over(with_burst(0.25, 0.4))


def test_a_knock_is_no_voice() -> None:
    own = OwnVoice()
    own.learn(noise(0.1))
    assert not own.is_spoken_over(with_burst(0.9, 0.05))


def test_what_is_loud_for_good_becomes_usual() -> None:
    own = OwnVoice()
    for _ in range(3):
        own.learn(noise(0.1))
    assert own.is_spoken_over(noise(0.3))
    for _ in range(3):
        own.learn(noise(0.3))
    assert not own.is_spoken_over(noise(0.3))


def test_sound_too_short_to_judge_says_nothing() -> None:
    own = OwnVoice()
    own.learn(noise(0.1, 0.1))
    assert not own.is_spoken_over(noise(0.9))
    own.learn(noise(0.1))
    assert not own.is_spoken_over(noise(0.9, 0.15))
