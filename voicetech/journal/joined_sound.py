"""The utterances of a job one after the other in one file, with where each of them is in it."""

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from voicetech.journal.errors import JournalError
from voicetech.journal.sounds import RATE_HZ, load_sound

PAUSE_S: Final = 0.6
"""Silence between two utterances (judgement)."""
ENDING_S: Final = 3.0
"""Silence after the last one, so that the last words of the program can be read (judgement)."""


@dataclass(frozen=True, slots=True)
class Placed:
    """The utterance of event `number`, from `start_s` to `end_s` in the joined sound."""

    number: int
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Joined:
    """Where each utterance is, in order, and why others could not be used."""

    placed: tuple[Placed, ...]
    lost: tuple[str, ...]


def write_joined(path: Path, folder: Path, sounds: Iterable[tuple[int, str]]) -> Joined:
    """Write the sounds of `folder` to one FLAC file (mono, 16 kHz), whole or not at all, and return where each is.

    `sounds` are the numbers of events with the names of their sounds, in order. Nothing is written where none of them
    can be used. Raises OSError or soundfile.LibsndfileError where the file cannot be written.
    """
    half = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        # Opened by us: the library's own errors do not say what is wrong with a place.
        with half.open("wb") as opened, soundfile.SoundFile(opened, "w", RATE_HZ, 1, "PCM_16", format="FLAC") as file:
            joined = _written(file, folder, sounds)
        if joined.placed:
            half.replace(path)
    finally:
        half.unlink(missing_ok=True)
    return joined


def _written(file: soundfile.SoundFile, folder: Path, sounds: Iterable[tuple[int, str]]) -> Joined:
    placed: list[Placed] = []
    lost: list[str] = []
    at = 0
    for number, sha256 in sounds:
        try:
            samples = load_sound(folder, sha256)
        except (JournalError, ValueError) as error:
            lost.append(str(error))
            continue
        if placed:
            at += _silence(file, PAUSE_S)
        file.write(samples)
        placed.append(Placed(number, at / RATE_HZ, (at + len(samples)) / RATE_HZ))
        at += len(samples)
    if placed:
        _silence(file, ENDING_S)
    return Joined(tuple(placed), tuple(lost))


def _silence(file: soundfile.SoundFile, length_s: float) -> int:
    samples = np.zeros(round(length_s * RATE_HZ), np.int16)
    file.write(samples)
    return len(samples)


def length_s(placed: Sequence[Placed]) -> float:
    """Return how long the joined sound is."""
    return placed[-1].end_s + ENDING_S if placed else 0.0
