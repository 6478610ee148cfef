"""Sound as the recognisers take it: whole utterances, and the frames they are cut from."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 16_000
FRAME_SAMPLES = 512
"""The speech detector's frame, 32 ms."""
FRAME_S = FRAME_SAMPLES / RATE_HZ
LONGEST_S = 20.0
"""Sound beyond this is not listened to: no answer is that long, and the encoder's cost grows with the square."""

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """One stretch of sound: float32, mono, 16 kHz, -1 to 1, with its place in the recording in seconds.

    `whole` is False where sound was lost in it, or where speech went on beyond its ends: what is heard in it may
    be part of something else. `speech_start_s` and `speech_end_s` are where somebody was found to speak, None where
    nobody looked.
    """

    samples: Samples
    start_s: float = 0.0
    end_s: float = 0.0
    whole: bool = True
    speech_start_s: float | None = None
    speech_end_s: float | None = None

    @property
    def length_s(self) -> float:
        """Return the length of the sound in seconds."""
        return len(self.samples) / RATE_HZ


def cut_frames(blocks: Iterable[Samples]) -> Iterator[Samples]:
    """Yield frames of 512 samples from blocks of any length; the last one is filled up with silence."""
    rest = np.zeros(0, np.float32)
    for block in blocks:
        rest = np.concatenate([rest, block])
        whole = len(rest) // FRAME_SAMPLES * FRAME_SAMPLES
        for at in range(0, whole, FRAME_SAMPLES):
            yield rest[at : at + FRAME_SAMPLES]
        rest = rest[whole:]
    if len(rest):
        yield np.concatenate([rest, np.zeros(FRAME_SAMPLES - len(rest), np.float32)])
