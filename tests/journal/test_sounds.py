"""Sounds come back sample for sample, under the name of what is in them."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicetech.journal.errors import JournalError
from voicetech.journal.sounds import load_sound, save_sound, sound_path


def _utterance() -> "np.typing.NDArray[np.int16]":
    return np.random.default_rng(7).integers(-32_768, 32_768, 8_000, dtype=np.int16)


def test_a_sound_comes_back_sample_for_sample(tmp_path: Path) -> None:
    samples = _utterance()
    sha256 = save_sound(tmp_path / "sounds", samples)
    assert sha256 == hashlib.sha256(samples.astype("<i2").tobytes()).hexdigest()
    assert np.array_equal(load_sound(tmp_path / "sounds", sha256), samples)


def test_the_file_is_plain_flac_others_can_play(tmp_path: Path) -> None:
    sha256 = save_sound(tmp_path, _utterance())
    told = soundfile.info(sound_path(tmp_path, sha256))
    assert (told.format, told.subtype, told.samplerate, told.channels) == ("FLAC", "PCM_16", 16_000, 1)
    assert sound_path(tmp_path, sha256).read_bytes()[:4] == b"fLaC"


def test_float_samples_are_kept_as_the_same_sound(tmp_path: Path) -> None:
    samples = _utterance()
    assert save_sound(tmp_path, (samples / 32_768).astype(np.float32)) == save_sound(tmp_path, samples)
    loud = np.array([1.5, -1.5, np.nan, 0.0], dtype=np.float32)
    assert load_sound(tmp_path, save_sound(tmp_path, loud)).tolist() == [32_767, -32_768, 0, 0]


def test_saving_again_changes_nothing_and_leaves_nothing_behind(tmp_path: Path) -> None:
    sha256 = save_sound(tmp_path, _utterance())
    before = sound_path(tmp_path, sha256).stat().st_mtime_ns
    assert save_sound(tmp_path, _utterance()) == sha256
    assert sound_path(tmp_path, sha256).stat().st_mtime_ns == before
    assert [file.name for file in tmp_path.iterdir()] == [f"{sha256}.flac"]


@pytest.mark.parametrize(
    "samples",
    [np.zeros(0, np.int16), np.zeros((4, 2), np.int16), np.zeros(4, np.int32)],
    ids=["empty", "two rows", "another type"],
)
def test_what_is_not_an_utterance_is_refused(tmp_path: Path, samples: "np.typing.NDArray[np.int16]") -> None:
    with pytest.raises(ValueError, match=r"sound|samples"):
        save_sound(tmp_path, samples)


def test_a_missing_sound_is_told(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="is not there"):
        load_sound(tmp_path, "0" * 64)


def test_a_sound_that_was_changed_is_told(tmp_path: Path) -> None:
    sha256 = save_sound(tmp_path, _utterance())
    soundfile.write(sound_path(tmp_path, sha256), np.zeros(10, np.int16), 16_000)
    with pytest.raises(JournalError, match="was changed"):
        load_sound(tmp_path, sha256)
    sound_path(tmp_path, sha256).write_bytes(b"noise")
    with pytest.raises(JournalError, match="cannot be read"):
        load_sound(tmp_path, sha256)


def test_a_name_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not the name of a sound"):
        load_sound(tmp_path, "../jobs")


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "sounds").write_text("a file where the folder should be")
    with pytest.raises(JournalError, match="VOICETECH_HOME"):
        save_sound(tmp_path / "sounds", _utterance())
