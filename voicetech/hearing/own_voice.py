"""How loud the program's own voice comes back to the microphone, and whether somebody speaks over it.

Two voices at once are hard to tell apart: of danger words said four times as loud as the prompt under them, the
recogniser found one in five. But the prompt's own level hardly changes (measured: over 784 looks into 100 prompts, in a
room with some echo, never more than 4 dB above the usual), so that a voice raised over it shows, and silence can be
made for it.
"""

from collections import deque
from dataclasses import dataclass, field
from statistics import median
from typing import Final

import numpy as np

from voicetech.hearing.frames import RATE_HZ, Samples

RAISED: Final = 1.8
"""Over the usual level by this much (5 dB), somebody speaks over the prompt. Source: the measurement above."""
_BLOCK: Final = RATE_HZ // 10
_REMEMBERED: Final = 5
"""Stretches of the prompts' sound that the usual level is the middle one of: what stays louder is usual after three."""


@dataclass(slots=True)
class OwnVoice:
    """The usual level of the prompts at the microphone, learned from what was heard in their time without alarm."""

    _levels: deque[float] = field(default_factory=lambda: deque(maxlen=_REMEMBERED))

    def learn(self, samples: Samples) -> None:
        """Take sound in for the program's own voice."""
        level = _loudest(samples)
        if level > 0.0:
            self._levels.append(level)

    def is_spoken_over(self, samples: Samples) -> bool:
        """Return whether the sound is louder than the program's voice is; never before that is known."""
        return bool(self._levels) and _loudest(samples) > RAISED * median(self._levels)


def _loudest(samples: Samples) -> float:
    """Return the level that is kept up for a fifth of a second: a knock is shorter, a word is not."""
    count = len(samples) // _BLOCK
    if count < 2:
        return 0.0
    blocks = samples[: count * _BLOCK].reshape(count, _BLOCK)
    levels = np.sqrt((blocks.astype(np.float64) ** 2).mean(axis=1))
    return float(np.minimum(levels[:-1], levels[1:]).max())
