"""Utterances from sound files: any rate, channels and sample format that libsndfile reads."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr

from voicetech.hearing.endpoint import EndpointSettings, utterances
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance, cut_frames

WHOLE_S = 20.0
"""A file up to this long is taken as one utterance; longer ones are cut at the silences."""
LONGEST_S = 4 * 3600.0
SLOWEST_HZ, FASTEST_HZ = 4_000, 384_000
"""Rates outside these are no recording of speech; files that claim one are damaged or something else."""


def read_sound(path: Path) -> Samples:
    """Return the file as mono float32 at 16 kHz, -1 to 1, without its constant part.

    Louder samples than full scale, which files of floating-point numbers may hold, are scaled down. Raises
    SoundFileError where the file is missing, is no sound file, claims a rate that no recorder has, or holds no
    samples or some that are not numbers.
    """
    if path.is_dir():
        raise SoundFileError(f"{path} is a folder; name a sound file in it")
    if not path.is_file():
        raise SoundFileError(f"{path}: no such file; check the path")
    try:
        info = soundfile.info(str(path))
        if not SLOWEST_HZ <= info.samplerate <= FASTEST_HZ:
            raise SoundFileError(
                f"{path}: {info.samplerate} samples a second cannot be right; record it again at 16000"
            )
        if info.frames > LONGEST_S * info.samplerate:
            raise SoundFileError(f"{path}: longer than four hours; cut it into parts")
        sound, rate_hz = soundfile.read(str(path), dtype="float32", always_2d=True)
    except (soundfile.LibsndfileError, OSError, ValueError) as error:
        raise SoundFileError(
            f"{path}: cannot be read as sound ({_reason(error)}); give a WAV, FLAC or OGG file"
        ) from error
    if not len(sound):
        raise SoundFileError(f"{path}: holds no sound; record it again")
    if not np.isfinite(sound).all():
        raise SoundFileError(f"{path}: holds samples that are not numbers; export it again as 16-bit WAV or FLAC")
    mono = sound.mean(axis=1, dtype=np.float64)
    if rate_hz != RATE_HZ:
        mono = soxr.resample(mono, rate_hz, RATE_HZ, quality="HQ")
    mono = mono - mono.mean() if len(mono) else mono
    samples: Samples = (mono / max(1.0, float(np.abs(mono).max(initial=0.0)))).astype(np.float32)
    return samples


def whole_utterance(path: Path) -> Utterance:
    """Return the whole file as one utterance. Raises SoundFileError."""
    samples = read_sound(path)
    return Utterance(samples, 0.0, len(samples) / RATE_HZ)


def frames_of(path: Path) -> Iterator[Samples]:
    """Yield the file in frames of 512 samples, the last filled up with silence. Raises SoundFileError."""
    yield from cut_frames([read_sound(path)])


def file_utterances(path: Path, settings: EndpointSettings | None = None) -> Iterator[Utterance]:
    """Yield a short file whole, and a long one cut at its silences. Raises SoundFileError."""
    samples = read_sound(path)
    if len(samples) <= WHOLE_S * RATE_HZ:
        yield Utterance(samples, 0.0, len(samples) / RATE_HZ)
    else:
        yield from utterances(cut_frames([samples]), settings=settings)


def _reason(error: Exception) -> str:
    return str(error).rpartition(": ")[2].strip().rstrip(".") or type(error).__name__
