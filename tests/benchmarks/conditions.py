"""The sound of a trial as recorded, with noise, from afar, or through a mask."""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from tests.benchmarks.trials import Trial
from voicetech.hearing.endpoint import utterances
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance, cut_frames
from voicetech.hearing.sound_file import WHOLE_S, read_sound

ROOMS: Final = ("far", "mask")
BEFORE_S, AFTER_S, BETWEEN_S = 0.2, 0.3, 0.1
"""Silence put before and after each sound, and between spliced ones: some clips have none of their own."""
REVERBERATION_S: Final = 0.5
"""Time in which the room's sound falls by 60 dB: a hard kitchen (common practice, no source)."""
FAR_LEVEL: Final = 0.5
MASK_HZ: Final = 1500.0
"""Above this a half mask takes away 12 dB an octave (judgement, no source)."""
_FRAME, _HOP = RATE_HZ // 40, RATE_HZ // 100
_SPEECH_BELOW_PEAK: Final = 0.01
"""Frames within 20 dB of the loudest count as speech."""
_SHORTEST_NOISE_S: Final = 2.0
_QUIETEST_NOISE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class Condition:
    """As recorded, with noise at `snr_db`, or in a `room`."""

    snr_db: float | None = None
    room: str | None = None

    @property
    def name(self) -> str:
        """Return what the condition is called."""
        if self.snr_db is not None:
            return f"noise at {self.snr_db:g} dB"
        return {"far": "from afar", "mask": "through a mask"}.get(self.room or "", "as recorded")


@dataclass(frozen=True, slots=True)
class Sounds:
    """Makes the sound of each trial; the same trial and condition give the same sound in every run."""

    noises: tuple[Samples, ...]

    def utterances(self, trial: Trial, condition: Condition) -> list[Utterance]:
        """Return the trial's sound as the program takes it: whole, or cut at its silences where it is long."""
        samples = self._samples(trial, condition)
        if len(samples) > WHOLE_S * RATE_HZ:
            return list(utterances(cut_frames([samples])))
        return [Utterance(samples, 0.0, len(samples) / RATE_HZ)]

    def _samples(self, trial: Trial, condition: Condition) -> Samples:
        sound = _whole(trial)
        chance = np.random.default_rng(zlib.crc32(f"{trial.name} {condition.name}".encode()))
        if condition.snr_db is not None and trial.source != "noise" and self.noises:
            noise = self.noises[int(chance.integers(len(self.noises)))]
            sound = with_noise(sound, np.roll(noise, int(chance.integers(len(noise)))), condition.snr_db)
        elif condition.room == "far":
            sound = from_afar(sound, chance)
        elif condition.room == "mask":
            sound = through_a_mask(sound)
        # As a recorder keeps it: 16 bits, nothing beyond full scale, no constant part.
        kept = np.rint(np.clip(sound, -1, 1) * 32_767) / 32_767
        return np.asarray(kept - kept.mean(), np.float32)


def read_noises(paths: Sequence[Path]) -> tuple[Samples, ...]:
    """Return the noises that are long and loud enough to be mixed in."""
    sounds = [read_sound(path) for path in paths]
    return tuple(s for s in sounds if len(s) > _SHORTEST_NOISE_S * RATE_HZ and np.sqrt((s**2).mean()) > _QUIETEST_NOISE)


def with_noise(sound: Samples, noise: Samples, snr_db: float) -> Samples:
    """Return sound with noise, its power `snr_db` below that of the frames in which somebody speaks."""
    mixed = np.resize(noise, len(sound))
    gain = np.sqrt(speech_power(sound) / (np.mean(mixed**2) * 10 ** (snr_db / 10)))
    return np.asarray(sound + gain * mixed, np.float32)


def speech_power(sound: Samples) -> float:
    """Return the mean power of the frames in which somebody speaks."""
    frames = np.lib.stride_tricks.sliding_window_view(sound, _FRAME)[::_HOP]
    power = (frames**2).mean(axis=1)
    return float(power[power >= power.max() * _SPEECH_BELOW_PEAK].mean())


def from_afar(sound: Samples, chance: np.random.Generator) -> Samples:
    """Return sound as a laptop two metres away in a hard kitchen gets it: half the level, as much echo as sound.

    The room is noise that dies away, which is what many echoes add up to. Source: Schroeder's model of diffuse
    reverberation (from memory).
    """
    length = int(REVERBERATION_S * RATE_HZ)
    echo = chance.standard_normal(length) * 10 ** (-3 * np.arange(length) / length)
    room = echo / np.sqrt(np.sum(echo**2))
    room[0] += 1.0
    size = len(sound) + length
    wet = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(room, size), size)[: len(sound)]
    loudest = float(np.abs(wet).max()) or 1.0
    return np.asarray(wet * (FAR_LEVEL * float(np.abs(sound).max()) / loudest), np.float32)


def through_a_mask(sound: Samples) -> Samples:
    """Return sound as it comes through a half mask: what lies above `MASK_HZ` is taken away."""
    hz = np.fft.rfftfreq(len(sound), 1 / RATE_HZ)
    muffled = np.fft.rfft(sound) / np.hypot(1, (hz / MASK_HZ) ** 2)
    return np.asarray(np.fft.irfft(muffled, len(sound)), np.float32)


def _whole(trial: Trial) -> Samples:
    def silence(length_s: float) -> Samples:
        return np.zeros(int(length_s * RATE_HZ), np.float32)

    if len(trial.sounds) == 1:
        spoken = [read_sound(trial.sounds[0])]
    else:
        spoken = [part for path in trial.sounds for part in (_trimmed(read_sound(path)), silence(BETWEEN_S))][:-1]
    return np.concatenate([silence(BEFORE_S), *spoken, silence(AFTER_S)])


def _trimmed(sound: Samples) -> Samples:
    """Return the sound without most of the silence around it."""
    loud = np.flatnonzero(np.abs(sound) > 0.05 * np.abs(sound).max())
    margin = int(0.05 * RATE_HZ)
    return sound[max(0, loud[0] - margin) : loud[-1] + margin]
