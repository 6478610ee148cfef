"""Noise at its level, rooms that do what they say, and the same sound in every run."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.benchmarks.conditions import (
    AFTER_S,
    BEFORE_S,
    BETWEEN_S,
    Condition,
    Sounds,
    from_afar,
    read_noises,
    speech_power,
    through_a_mask,
    with_noise,
)
from tests.benchmarks.trials import Trial
from voicetech.hearing.frames import RATE_HZ, Samples
from voicetech.language.meaning import Asking, Question
from voicetech.scoring import NothingExpected


def tone(hz: float, length_s: float = 1.0, level: float = 0.5) -> Samples:
    return np.asarray(level * np.sin(2 * np.pi * hz * np.arange(int(length_s * RATE_HZ)) / RATE_HZ), np.float32)


def hiss(length_s: float = 3.0) -> Samples:
    return np.asarray(np.random.default_rng(1).normal(0, 0.1, int(length_s * RATE_HZ)), np.float32)


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    soundfile.write(tmp_path / "a.wav", tone(300), RATE_HZ)
    return Trial("strangers", (tmp_path / "a.wav",), Question(Asking.ANY), NothingExpected(), "", "set")


@pytest.mark.parametrize("snr_db", [20.0, 5.0, -3.0])
def test_noise_is_mixed_in_at_its_level(snr_db: float) -> None:
    spoken = np.concatenate([np.zeros(RATE_HZ, np.float32), tone(300), np.zeros(RATE_HZ, np.float32)])
    added = with_noise(spoken, hiss(), snr_db) - spoken
    found_db = 10 * np.log10(speech_power(tone(300)) / np.mean(added**2))
    assert found_db == pytest.approx(snr_db, abs=0.3), "the silence around the speech does not count"


def test_short_noise_is_repeated() -> None:
    assert len(with_noise(tone(300, 2.0), hiss(0.5), 10)) == 2 * RATE_HZ


def test_afar_a_sound_is_half_as_loud_and_goes_on_for_a_while() -> None:
    sound = np.concatenate([tone(300, 0.2), np.zeros(RATE_HZ, np.float32)])
    far = from_afar(sound, np.random.default_rng(0))
    assert len(far) == len(sound)
    assert np.abs(far).max() == pytest.approx(0.25, rel=1e-3)
    after = far[int(0.25 * RATE_HZ) : int(0.35 * RATE_HZ)]
    later = far[int(0.65 * RATE_HZ) : int(0.75 * RATE_HZ)]
    fallen_db = 10 * np.log10(np.mean(after**2) / np.mean(later**2))
    assert fallen_db == pytest.approx(60 * 0.4 / 0.5, abs=6), "60 dB in half a second"


def test_a_mask_takes_the_high_part_away() -> None:
    def lost_db(hz: float) -> float:
        return float(10 * np.log10(np.mean(tone(hz) ** 2) / np.mean(through_a_mask(tone(hz)) ** 2)))

    assert lost_db(200) < 0.1
    assert lost_db(1500) == pytest.approx(3, abs=0.1)
    assert lost_db(6000) == pytest.approx(24, abs=0.3), "12 dB an octave"


def test_silence_is_put_around_and_the_same_sound_comes_again(trial: Trial) -> None:
    sounds = Sounds((hiss(), hiss()[::-1]))
    (clean,) = sounds.utterances(trial, Condition())
    assert clean.length_s == pytest.approx(BEFORE_S + 1 + AFTER_S)
    assert np.abs(clean.samples[:1000]).max() < 1e-3
    for condition in (Condition(10.0), Condition(room="far"), Condition(room="mask")):
        (once,), (again,) = sounds.utterances(trial, condition), sounds.utterances(trial, condition)
        assert (once.samples == again.samples).all()
        assert not np.allclose(once.samples, clean.samples, atol=1e-3)


def test_spliced_sounds_follow_each_other(tmp_path: Path) -> None:
    for name in ("a", "b"):
        soundfile.write(tmp_path / f"{name}.wav", np.pad(tone(300), RATE_HZ), RATE_HZ)
    paths = (tmp_path / "a.wav", tmp_path / "b.wav")
    spliced = Trial("spliced", paths, Question(Asking.VOLTAGE), NothingExpected(), "", "set")
    (sound,) = Sounds(()).utterances(spliced, Condition())
    margins_s = 4 * 0.05
    assert sound.length_s == pytest.approx(BEFORE_S + 2 + margins_s + BETWEEN_S + AFTER_S, abs=0.02)


def test_a_long_sound_is_cut_where_nobody_speaks(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros(30 * RATE_HZ), RATE_HZ)
    silent = Trial("strangers", (tmp_path / "a.wav",), Question(Asking.ANY), NothingExpected(), "", "set")
    assert Sounds(()).utterances(silent, Condition()) == []


def test_noise_is_not_mixed_into_noise_and_silence_is_no_noise(tmp_path: Path, trial: Trial) -> None:
    soundfile.write(tmp_path / "silence.wav", np.zeros(3 * RATE_HZ), RATE_HZ)
    soundfile.write(tmp_path / "short.wav", hiss(1.0), RATE_HZ)
    soundfile.write(tmp_path / "good.wav", hiss(), RATE_HZ)
    noises = read_noises([tmp_path / f"{name}.wav" for name in ("silence", "short", "good")])
    assert [len(noise) for noise in noises] == [3 * RATE_HZ]
    noise = Trial("strangers", trial.sounds, trial.question, trial.expected, "", "noise")
    sounds = Sounds(noises)
    assert (
        sounds.utterances(noise, Condition(5.0))[0].samples == sounds.utterances(noise, Condition())[0].samples
    ).all()


def test_names() -> None:
    names = [each.name for each in (Condition(), Condition(7.5), Condition(room="far"), Condition(room="mask"))]
    assert names == ["as recorded", "noise at 7.5 dB", "from afar", "through a mask"]
