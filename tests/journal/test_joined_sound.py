"""A job's utterances as one sound, with where each of them is."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicetech.journal.joined_sound import ENDING_S, PAUSE_S, Placed, length_s, write_joined
from voicetech.journal.sounds import RATE_HZ, save_sound, sound_path


def kept(folder: Path, value: int, seconds: float) -> str:
    return save_sound(folder, np.full(round(seconds * RATE_HZ), value, np.int16))


@pytest.fixture
def sounds(tmp_path: Path) -> Path:
    return tmp_path / "sounds"


def test_each_is_where_it_is_said_to_be_and_silence_between_them(sounds: Path, tmp_path: Path) -> None:
    one, two = kept(sounds, 100, 1.5), kept(sounds, -200, 0.25)
    joined = write_joined(tmp_path / "job.flac", sounds, [(4, one), (9, two), (12, one)])
    assert joined.lost == ()
    assert [placed.number for placed in joined.placed] == [4, 9, 12]
    samples, rate_hz = soundfile.read(tmp_path / "job.flac", dtype="int16")
    assert (rate_hz, samples.ndim) == (RATE_HZ, 1)
    heard = np.zeros(len(samples), bool)
    for placed, value in zip(joined.placed, (100, -200, 100), strict=True):
        there = slice(round(placed.start_s * RATE_HZ), round(placed.end_s * RATE_HZ))
        assert set(samples[there]) == {value}
        heard[there] = True
    assert set(samples[~heard]) == {0}
    gaps = [after.start_s - before.end_s for before, after in zip(joined.placed, joined.placed[1:], strict=False)]
    assert gaps == pytest.approx([PAUSE_S, PAUSE_S])
    assert len(samples) / RATE_HZ == pytest.approx(length_s(joined.placed)) == 1.5 * 2 + 0.25 + 2 * PAUSE_S + ENDING_S


def test_a_sound_that_is_gone_or_changed_is_left_out_and_told(sounds: Path, tmp_path: Path) -> None:
    gone, changed, whole = kept(sounds, 1, 1), kept(sounds, 2, 1), kept(sounds, 3, 1)
    sound_path(sounds, gone).unlink()
    soundfile.write(sound_path(sounds, changed), np.zeros(100, np.int16), RATE_HZ)
    joined = write_joined(tmp_path / "job.flac", sounds, [(1, gone), (2, changed), (3, whole), (4, "no name")])
    assert joined.placed == (Placed(3, 0.0, 1.0),)
    assert len(joined.lost) == 3


def test_nothing_is_written_without_a_sound(sounds: Path, tmp_path: Path) -> None:
    (tmp_path / "job.flac").write_bytes(b"from before")
    joined = write_joined(tmp_path / "job.flac", sounds, [(1, "0" * 64)])
    assert joined.placed == ()
    assert length_s(joined.placed) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["job.flac"]
    assert (tmp_path / "job.flac").read_bytes() == b"from before"
