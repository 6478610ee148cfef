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


def read_sound(path: Path) -> Samples:
    """Return the file as mono float32 at 16 kHz, -1 to 1, without its constant part.

    Raises SoundFileError where the file is missing, is no sound file, is cut short or holds no samples.
    """
    if not path.is_file():
        raise SoundFileError(f"{path}: no such file; check the path")
    try:
        info = soundfile.info(str(path))
        if info.frames > LONGEST_S * info.samplerate:
            raise SoundFileError(f"{path}: longer than four hours; cut it into parts")
        sound, rate_hz = soundfile.read(str(path), dtype="float32", always_2d=True)
    except (soundfile.LibsndfileError, OSError, ValueError) as error:
        raise SoundFileError(
            f"{path}: cannot be read as sound ({_reason(error)}); give a WAV, FLAC or OGG file"
        ) from error
    if not len(sound):
        raise SoundFileError(f"{path}: holds no sound; record it again")
    mono = np.nan_to_num(sound, posinf=0.0, neginf=0.0).mean(axis=1, dtype=np.float32)
    if rate_hz != RATE_HZ:
        mono = soxr.resample(mono, rate_hz, RATE_HZ, quality="HQ").astype(np.float32)
    return np.clip(mono - mono.mean(dtype=np.float64).astype(np.float32), -1.0, 1.0)


def whole_utterance(path: Path) -> Utterance:
    """Return the whole file as one utterance. Raises SoundFileError."""
    samples = read_sound(path)
    return Utterance(samples, 0.0, len(samples) / RATE_HZ)


def file_utterances(path: Path, settings: EndpointSettings | None = None) -> Iterator[Utterance]:
    """Yield a short file whole, and a long one cut at its silences. Raises SoundFileError."""
    samples = read_sound(path)
    if len(samples) <= WHOLE_S * RATE_HZ:
        yield Utterance(samples, 0.0, len(samples) / RATE_HZ)
    else:
        yield from utterances(cut_frames([samples]), settings=settings)


def _reason(error: Exception) -> str:
    return str(error).rpartition(": ")[2].strip().rstrip(".") or type(error).__name__
