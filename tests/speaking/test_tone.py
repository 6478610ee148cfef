"""The listening tone: short, clean and unlike a meter's buzzer."""

import struct
import wave
from itertools import pairwise
from pathlib import Path

import numpy as np

from voicetech.speaking.tone import TONE_RATE_HZ, listening_tone, write_tone


def samples(volume: float = 1.0) -> list[int]:
    tone = listening_tone(volume)
    return list(struct.unpack(f"<{len(tone) // 2}h", tone))


def test_it_is_short_and_starts_and_ends_in_silence() -> None:
    tone = samples()
    assert 0.1 < len(tone) / TONE_RATE_HZ < 0.3
    assert tone[0] == tone[-1] == 0


def test_it_has_no_clicks() -> None:
    assert max(abs(after - before) for before, after in pairwise(samples())) < 3_000


def test_it_rises() -> None:
    tone = np.array(samples())
    first, second = np.split(tone, 2)
    assert np.abs(np.fft.rfft(first)).argmax() < np.abs(np.fft.rfft(second)).argmax()


def test_it_follows_the_volume_and_never_clips() -> None:
    assert max(samples(0.5)) < max(samples(1.0)) < max(samples(100.0)) <= 32_767


def test_the_file_holds_the_tone(tmp_path: Path) -> None:
    write_tone(tmp_path / "tone.wav")
    with wave.open(str(tmp_path / "tone.wav"), "rb") as sound:
        assert sound.getframerate() == TONE_RATE_HZ
        assert sound.readframes(sound.getnframes()) == listening_tone()
