"""Utterances from sound files: any rate, channels and sample format that libsndfile reads."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr

from voicetech.hearing.endpoint import EndpointSettings, utterances
from voicetech.hearing.errors import SoundFileError
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance, cut_frames
from voicetech.hearing.level import level

WHOLE_S = 20.0
"""A file up to this long is taken as one utterance; longer ones are cut at the silences."""
LONGEST_S = 4 * 3600.0
BLOCK_S = 30.0
CANCELS = 0.5
"""One live channel among silent ones keeps its share of the mix; with less than half of that, channels cancel out."""
SLOWEST_HZ, FASTEST_HZ = 4_000, 384_000
"""Rates outside these are no recording of speech; files that claim one are damaged or something else."""


def read_sound(path: Path) -> Samples:
    """Return the file as mono float32 at 16 kHz, -1 to 1, without its constant part.

    Channels are mixed, or the loudest one taken where they cancel out. Louder samples than full scale, which files of
    floating-point numbers may hold, are scaled down. Of a file that was cut off, what is there is returned where its
    format allows it. Raises SoundFileError where the file is missing, is no sound file or a damaged one, claims a rate
    that no recorder has, or holds no samples or some that are not numbers.
    """
    try:
        if path.is_dir():
            raise SoundFileError(f"{path} is a folder; name a sound file in it")
        if not path.is_file():
            raise SoundFileError(f"{path}: no such file; check the path")
        with path.open("rb"):
            pass
        with soundfile.SoundFile(str(path)) as file:
            _check(path, file.samplerate, file.frames)
            mono = _mono(file)
    except PermissionError:
        raise SoundFileError(f"{path}: may not be read; change its rights, or copy it to a folder of yours") from None
    except (soundfile.LibsndfileError, OSError, ValueError) as error:
        raise SoundFileError(
            f"{path}: cannot be read as sound ({_reason(error)}); it is damaged or something else: record it again, or "
            "give a WAV, FLAC or OGG file"
        ) from error
    if not len(mono):
        raise SoundFileError(f"{path}: holds no sound; record it again")
    if not np.isfinite(mono).all():
        raise SoundFileError(f"{path}: holds samples that are not numbers; export it again as 16-bit WAV or FLAC")
    mono -= np.float32(mono.mean(dtype=np.float64))
    loudest = float(np.abs(mono).max())
    return mono / np.float32(loudest) if loudest > 1.0 else mono


def _check(path: Path, rate_hz: int, frames: int) -> None:
    if not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        raise SoundFileError(f"{path}: {rate_hz} samples a second cannot be right; record it again at 16000")
    if frames > LONGEST_S * rate_hz:
        raise SoundFileError(f"{path}: longer than four hours; cut it into parts")


def _mono(file: soundfile.SoundFile) -> Samples:
    """Return the sound at 16 kHz; a long file is never in memory with all its channels."""
    rate_hz = file.samplerate
    stream = None if rate_hz == RATE_HZ else soxr.ResampleStream(rate_hz, RATE_HZ, 1, dtype="float32", quality="HQ")
    parts: list[Samples] = []
    samples = int(BLOCK_S * rate_hz)
    while len(block := file.read(samples, dtype="float32", always_2d=True)):
        mixed = _mixed(block)
        parts.append(mixed if stream is None else stream.resample_chunk(mixed))
    if stream is not None and parts:
        parts.append(stream.resample_chunk(np.zeros(0, np.float32), last=True))
    return np.concatenate(parts) if parts else np.zeros(0, np.float32)


def _mixed(block: Samples) -> Samples:
    mixed: Samples = block.mean(axis=1, dtype=np.float32)
    channels = block.shape[1]
    if channels > 1:
        loud = block.std(axis=0)
        if float(mixed.std()) < float(loud.max()) * CANCELS / channels:
            return np.ascontiguousarray(block[:, int(loud.argmax())])
    return mixed


def whole_utterance(path: Path) -> Utterance:
    """Return the whole file as one utterance. Raises SoundFileError."""
    samples = read_sound(path)
    return Utterance(samples, 0.0, len(samples) / RATE_HZ)


def frames_of(path: Path) -> Iterator[Samples]:
    """Return the file in frames of 512 samples, the last filled up with silence. Raises SoundFileError.

    A quiet recording is raised, or nobody would be found to speak in it.
    """
    return cut_frames([level(read_sound(path))])


def file_utterances(path: Path, settings: EndpointSettings | None = None) -> Iterator[Utterance]:
    """Yield a short file whole, and a long one cut at its silences. Raises SoundFileError."""
    samples = read_sound(path)
    if len(samples) <= WHOLE_S * RATE_HZ:
        yield Utterance(samples, 0.0, len(samples) / RATE_HZ)
    else:
        yield from utterances(cut_frames([level(samples)]), settings=settings)


def _reason(error: Exception) -> str:
    told = str(error).rpartition(": ")[2].strip().rstrip(".") or type(error).__name__
    # What libsndfile calls it when a file ends before its own header says so.
    return "it breaks off too early" if "psf_fseek" in told else told
