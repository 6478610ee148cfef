"""Every kind of file comes out as the same sound."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from tests.hearing.recordings import EAR, SOUNDS, grammar
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.frames import FRAME_SAMPLES, RATE_HZ, cut_frames
from voicetech.hearing.level import level
from voicetech.hearing.sound_file import file_utterances, frames_of, read_sound, whole_utterance
from voicetech.language.meaning import Asking

TONE = (0.3 * np.sin(2 * np.pi * 440 * np.arange(RATE_HZ) / RATE_HZ)).astype(np.float32)


@pytest.mark.parametrize(
    ("rate_hz", "channels", "subtype", "suffix"),
    [
        (16_000, 1, "PCM_16", "wav"),
        (8_000, 1, "PCM_16", "wav"),
        (44_100, 2, "PCM_24", "wav"),
        (48_000, 2, "PCM_32", "wav"),
        (22_050, 1, "PCM_U8", "wav"),
        (11_025, 1, "FLOAT", "wav"),
        (96_000, 3, "DOUBLE", "wav"),
        (44_100, 2, "PCM_24", "flac"),
    ],
)
def test_formats(tmp_path: Path, rate_hz: int, channels: int, subtype: str, suffix: str) -> None:
    tone = 0.3 * np.sin(2 * np.pi * 440 * np.arange(rate_hz) / rate_hz)
    path = tmp_path / f"tone.{suffix}"
    soundfile.write(path, np.repeat(tone[:, None], channels, 1), rate_hz, subtype=subtype)
    sound = read_sound(path)
    assert sound.dtype == np.float32
    assert len(sound) == pytest.approx(RATE_HZ, abs=2)
    middle = slice(2000, 14000)
    assert np.abs(sound[middle] - TONE[middle]).max() < 0.02


def test_a_constant_part_is_taken_out(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "offset.wav", TONE * 0.5 + 0.4, RATE_HZ, subtype="FLOAT")
    assert abs(float(read_sound(tmp_path / "offset.wav").mean())) < 1e-4


def test_samples_that_are_not_numbers_are_refused(tmp_path: Path) -> None:
    sound = TONE.copy()
    sound[100:200] = np.nan
    soundfile.write(tmp_path / "nan.wav", sound, RATE_HZ, subtype="FLOAT")
    with pytest.raises(SoundFileError, match="not numbers"):
        read_sound(tmp_path / "nan.wav")


def test_level_brings_quiet_and_loud_to_the_same_peak() -> None:
    assert np.abs(level(TONE * 0.03)).max() == pytest.approx(np.abs(level(TONE * 3)).max(), rel=1e-3)
    assert not level(np.zeros(100, np.float32)).any()
    assert len(level(np.zeros(0, np.float32))) == 0


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not a sound at all" * 50])
def test_broken_files_are_told_plainly(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "broken.wav"
    path.write_bytes(content)
    with pytest.raises(SoundFileError, match=r"broken\.wav.*give a WAV"):
        read_sound(path)


def test_missing_empty_and_folder(tmp_path: Path) -> None:
    with pytest.raises(SoundFileError, match="no such file"):
        read_sound(tmp_path / "none.wav")
    with pytest.raises(SoundFileError, match="folder"):
        read_sound(tmp_path)
    soundfile.write(tmp_path / "empty.wav", np.zeros(0, np.float32), RATE_HZ)
    with pytest.raises(SoundFileError, match="no sound"):
        read_sound(tmp_path / "empty.wav")


def test_frames_are_whole_and_keep_every_sample() -> None:
    blocks = [np.arange(n, dtype=np.float32) for n in (1, 511, 700, 0, 3)]
    frames = list(cut_frames(blocks))
    assert all(len(frame) == FRAME_SAMPLES for frame in frames)
    assert np.concatenate(frames)[: sum(map(len, blocks))].tolist() == np.concatenate(blocks).tolist()


def test_a_long_file_is_cut_at_its_silences(tmp_path: Path) -> None:
    one = read_sound(SOUNDS / "goforward.flac")
    quiet = np.zeros(9 * RATE_HZ, np.float32)
    soundfile.write(tmp_path / "long.wav", np.concatenate([quiet, one, quiet, one]), RATE_HZ)
    first, second = file_utterances(tmp_path / "long.wav")
    assert 8.0 < first.start_s < 10.0
    assert second.start_s > first.end_s


@pytest.mark.parametrize("change", ["quiet", "clipped", "telephone"])
def test_the_same_words_from_a_poor_recording(tmp_path: Path, change: str) -> None:
    clean = whole_utterance(SOUNDS / "flite_slt_001.flac").samples
    path = tmp_path / "poor.wav"
    match change:
        case "quiet":
            soundfile.write(path, clean * 0.02, RATE_HZ)
        case "clipped":
            soundfile.write(path, np.clip(clean * 4, -1, 1), RATE_HZ)
        case _:
            soundfile.write(path, clean[::2], RATE_HZ // 2)
    assert EAR.hear(whole_utterance(path), grammar(Asking.VOLTAGE)).text == "two thirty three volts"


def tone(rate_hz: int, level: float = 0.3, length_s: float = 1.0) -> npt.NDArray[np.float64]:
    return level * np.sin(2 * np.pi * 440.0 * np.arange(int(rate_hz * length_s)) / rate_hz)


def test_channels_are_mixed(tmp_path: Path) -> None:
    both = np.stack([tone(RATE_HZ, 0.4), np.zeros(RATE_HZ)], axis=1)
    soundfile.write(tmp_path / "a.wav", both, RATE_HZ)
    samples = read_sound(tmp_path / "a.wav")
    assert samples.ndim == 1
    assert float(np.abs(samples).max()) == pytest.approx(0.2, abs=0.01)


def test_floating_point_beyond_full_scale_is_scaled_and_not_clipped(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(RATE_HZ, 5.0), RATE_HZ, subtype="FLOAT")
    samples = read_sound(tmp_path / "a.wav")
    assert float(np.abs(samples).max()) == pytest.approx(1.0)
    assert float(np.sqrt((samples**2).mean())) == pytest.approx(np.sqrt(0.5), abs=0.01)


def test_a_whole_utterance_knows_its_length(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(RATE_HZ, length_s=0.5), RATE_HZ)
    utterance = whole_utterance(tmp_path / "a.wav")
    assert (utterance.start_s, utterance.end_s) == (0.0, 0.5)
    assert utterance.whole


def test_frames_hold_the_whole_sound_and_end_in_silence(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(RATE_HZ, length_s=0.1), RATE_HZ)
    frames = list(frames_of(tmp_path / "a.wav"))
    assert {len(frame) for frame in frames} == {FRAME_SAMPLES}
    assert len(frames) == 4
    together = np.concatenate(frames)
    assert np.array_equal(together[:1600], level(read_sound(tmp_path / "a.wav")))
    assert not together[1600:].any()


@pytest.mark.parametrize("rate_hz", [10, 2_000_000])
def test_a_rate_that_no_recorder_has_is_refused(tmp_path: Path, rate_hz: int) -> None:
    soundfile.write(tmp_path / "odd.wav", TONE, rate_hz)
    with pytest.raises(SoundFileError, match=f"{rate_hz} samples a second"):
        read_sound(tmp_path / "odd.wav")


def test_samples_without_end_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "inf.wav", np.full(1600, np.inf), RATE_HZ, subtype="FLOAT")
    with pytest.raises(SoundFileError, match="not numbers"):
        read_sound(tmp_path / "inf.wav")


@pytest.mark.parametrize(
    ("container", "subtype"),
    [
        ("WAV", "ULAW"),
        ("WAV", "ALAW"),
        ("WAV", "IMA_ADPCM"),
        ("WAV", "GSM610"),
        ("WAVEX", "PCM_16"),
        ("RF64", "PCM_24"),
        ("W64", "PCM_16"),
        ("AIFF", "PCM_S8"),
        ("AU", "PCM_16"),
        ("CAF", "FLOAT"),
        ("FLAC", "PCM_S8"),
        ("OGG", "VORBIS"),
        ("OGG", "OPUS"),
        ("MP3", "MPEG_LAYER_III"),
    ],
)
def test_words_from_other_containers_and_codes(tmp_path: Path, container: str, subtype: str) -> None:
    path = tmp_path / "answer.snd"
    soundfile.write(path, read_sound(SOUNDS / "flite_slt_001.flac"), RATE_HZ, format=container, subtype=subtype)
    assert EAR.hear(whole_utterance(path), grammar(Asking.VOLTAGE)).text == "two thirty three volts"


def test_a_channel_among_silent_ones_is_heard(tmp_path: Path) -> None:
    speech = read_sound(SOUNDS / "flite_slt_001.flac")
    channels = np.zeros((len(speech), 8), np.float32)
    channels[:, 3] = speech
    soundfile.write(tmp_path / "array.wav", channels, RATE_HZ)
    assert EAR.hear(whole_utterance(tmp_path / "array.wav"), grammar(Asking.VOLTAGE)).text == "two thirty three volts"


def test_channels_that_cancel_out_are_not_mixed(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "wired-wrong.wav", np.stack([tone(RATE_HZ), -tone(RATE_HZ)], axis=1), RATE_HZ)
    assert float(np.abs(read_sound(tmp_path / "wired-wrong.wav")).max()) == pytest.approx(0.3, abs=0.01)


def test_a_constant_part_of_each_channel_does_not_hide_the_sound(tmp_path: Path) -> None:
    both = np.stack([tone(RATE_HZ, 0.05) + 0.9, tone(RATE_HZ, 0.05) - 0.6], axis=1)
    soundfile.write(tmp_path / "offsets.wav", both, RATE_HZ, subtype="FLOAT")
    samples = read_sound(tmp_path / "offsets.wav")
    assert float(np.abs(samples).max()) == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize("suffix", ["wav", "flac", "ogg", "mp3"])
def test_a_file_cut_off_anywhere_is_read_or_told_in_one_sentence(tmp_path: Path, suffix: str) -> None:
    whole = tmp_path / f"whole.{suffix}"
    soundfile.write(whole, tone(RATE_HZ), RATE_HZ)
    content = whole.read_bytes()
    path = tmp_path / f"cut.{suffix}"
    for length in [0, 4, 12, 40, 44, 46, 200, len(content) // 2, len(content) - 1]:
        path.write_bytes(content[:length])
        problem = ""
        try:
            assert 0 < len(read_sound(path)) <= RATE_HZ + 2_000
        except SoundFileError as error:
            problem = str(error)
        assert not problem or (problem.startswith(f"{path}: ") and "record it again" in problem)
        assert "\n" not in problem


def test_a_wav_that_was_cut_off_gives_what_is_there(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "whole.wav", tone(RATE_HZ), RATE_HZ)
    content = (tmp_path / "whole.wav").read_bytes()
    (tmp_path / "cut.wav").write_bytes(content[: 44 + RATE_HZ])
    assert len(read_sound(tmp_path / "cut.wav")) == RATE_HZ // 2


def test_damage_in_the_middle_is_told(tmp_path: Path) -> None:
    path = tmp_path / "damaged.flac"
    soundfile.write(path, np.random.default_rng(0).normal(0, 0.1, RATE_HZ), RATE_HZ)
    content = bytearray(path.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 200] = bytes(200)
    path.write_bytes(content)
    with pytest.raises(SoundFileError, match=r"damaged.*record it again"):
        read_sound(path)


@pytest.mark.parametrize(("at", "size"), [(22, 2), (24, 4)])
def test_a_header_without_channels_or_rate_is_refused(tmp_path: Path, at: int, size: int) -> None:
    path = tmp_path / "header.wav"
    soundfile.write(path, TONE, RATE_HZ)
    content = bytearray(path.read_bytes())
    content[at : at + size] = bytes(size)
    path.write_bytes(content)
    with pytest.raises(SoundFileError, match="record it again"):
        read_sound(path)


def test_a_long_file_has_no_seams(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "long.wav", tone(44_100, length_s=65.0), 44_100, subtype="FLOAT")
    samples = read_sound(tmp_path / "long.wav")
    expected = tone(RATE_HZ, length_s=65.0)
    assert len(samples) == pytest.approx(len(expected), abs=2)
    middle = slice(2_000, len(expected) - 2_000)
    assert np.abs(samples[middle] - expected[middle]).max() < 0.01


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "locked.wav"
    soundfile.write(path, TONE, RATE_HZ)

    def refuse(_path: Path, _mode: str) -> None:
        raise PermissionError

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(SoundFileError, match="may not be read; change its rights"):
        read_sound(path)


def test_people_in_a_long_quiet_recording_are_found(tmp_path: Path) -> None:
    speech = read_sound(SOUNDS / "goforward.flac")
    quiet = np.zeros(10 * RATE_HZ, np.float32)
    soundfile.write(
        tmp_path / "quiet.wav", np.concatenate([quiet, speech, quiet, speech]) * 0.002, RATE_HZ, subtype="PCM_24"
    )
    assert len(list(file_utterances(tmp_path / "quiet.wav"))) == 2
