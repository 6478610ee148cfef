"""The sound of each utterance, kept as FLAC under the SHA-256 of its samples.

A sound is on disk before the event that refers to it is written, so no event points at nothing.
"""

import hashlib
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

from voicetech.journal.errors import JournalError

RATE_HZ: Final = 16_000
_NAME: Final = re.compile(r"[0-9a-f]{64}")

Samples = npt.NDArray[np.int16] | npt.NDArray[np.float32]


def sound_path(folder: Path, sha256: str) -> Path:
    """Return the file a sound is kept in; ValueError where the name is not a SHA-256."""
    if not _NAME.fullmatch(sha256):
        raise ValueError(f"not the name of a sound: {sha256!r}")
    return folder / f"{sha256}.flac"


def save_sound(folder: Path, samples: Samples) -> str:
    """Return the SHA-256 of the samples (as little-endian int16), their FLAC being on disk by then.

    `samples` is mono at 16 kHz: int16, or float32 from -1 to 1 (what lies beyond is clipped). The folder is
    made where missing. Saving a sound again changes nothing. Raises JournalError where it cannot be written,
    ValueError where the samples have another shape or type.
    """
    whole = _as_int16(samples)
    sha256 = _digest(whole)
    path = sound_path(folder, sha256)
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        if not path.exists():
            _write_whole(path, whole)
    except (OSError, soundfile.SoundFileError) as error:
        raise JournalError(
            f"The sound of what was said could not be kept in {folder} ({error}). "
            f"Free some space there, or point VOICETECH_HOME at a folder you may write to."
        ) from error
    return sha256


def load_sound(folder: Path, sha256: str) -> npt.NDArray[np.int16]:
    """Return the samples of a sound: int16, mono, 16 kHz.

    Raises JournalError where the file is missing or is not the sound it is named after.
    """
    path = sound_path(folder, sha256)
    if not path.is_file():
        raise JournalError(f"The sound {path} is not there. The words that were heard are still on record.")
    try:
        samples, rate_hz = soundfile.read(path, dtype="int16")
    except (OSError, soundfile.SoundFileError) as error:
        raise JournalError(f"The sound {path} cannot be read ({error}). Put it back from a copy.") from error
    if rate_hz != RATE_HZ or samples.ndim != 1 or _digest(samples) != sha256:
        raise JournalError(f"The sound {path} was changed after it was recorded. Put it back from a copy.")
    return np.asarray(samples, dtype=np.int16)


def _as_int16(samples: Samples) -> npt.NDArray[np.int16]:
    if samples.ndim != 1 or samples.size == 0:
        raise ValueError(f"a sound is one row of samples, not of shape {samples.shape}")
    if samples.dtype == np.int16:
        return np.asarray(samples, dtype=np.int16)
    if samples.dtype != np.float32:
        raise ValueError(f"samples are int16 or float32, not {samples.dtype}")
    scaled = np.nan_to_num(samples.astype(np.float64)) * 32_768.0
    return np.clip(np.rint(scaled), -32_768, 32_767).astype(np.int16)


def _digest(samples: npt.NDArray[np.int16]) -> str:
    return hashlib.sha256(samples.astype("<i2").tobytes()).hexdigest()


def _write_whole(path: Path, samples: npt.NDArray[np.int16]) -> None:
    # Under another name first: a file with a sound's name is always whole.
    half = path.with_suffix(f".{os.getpid()}.part")
    try:
        with half.open("wb") as file:
            soundfile.write(file, samples, RATE_HZ, format="FLAC", subtype="PCM_16")
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
    _flush_folder(path.parent)


def _flush_folder(folder: Path) -> None:
    # Only POSIX systems let a folder be opened; there a new name lasts only once its folder is flushed.
    if os.name != "posix":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def whole_sounds(folder: Path, names: Iterable[str]) -> dict[str, bytes]:
    """Return the FLAC files of those of these sounds that are there and are what they are named after."""
    found: dict[str, bytes] = {}
    for sha256 in names:
        try:
            load_sound(folder, sha256)
            found[sha256] = sound_path(folder, sha256).read_bytes()
        except (JournalError, OSError, ValueError):
            continue
    return found
