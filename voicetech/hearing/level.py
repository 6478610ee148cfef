"""Sound brought to the level and the margins the speech model likes; nothing is filtered or cut out."""

import numpy as np

from voicetech.hearing.frames import LONGEST_S, RATE_HZ, Samples

PEAK = 0.5
QUIETEST_PEAK = 0.005
"""Peaks below this (-46 dBFS) are not raised further: nobody speaks that low into a headset. Common practice."""
LEAD_S = 0.2
TAIL_S = 0.3
"""Silence the model needs around a clip that is cut close; measured on digits cut without any."""
_EDGE = 0.02
"""Share of the peak below which an edge counts as silent already."""


def level(samples: Samples) -> Samples:
    """Return the sound without its constant part, its peak brought to 0.5."""
    centred = samples - samples.mean(dtype=np.float64).astype(np.float32) if len(samples) else samples
    peak = float(np.abs(centred).max(initial=0.0))
    return (centred * np.float32(PEAK / max(peak, QUIETEST_PEAK))).astype(np.float32)


def listened_to(samples: Samples) -> Samples:
    """Return the part of a sound that is listened to, levelled, with nothing in it that is no number."""
    return level(np.nan_to_num(samples[: int(LONGEST_S * RATE_HZ)]))


def with_margins(samples: Samples) -> Samples:
    """Return levelled sound with silence added where it begins or ends on speech."""
    lead, tail = int(LEAD_S * RATE_HZ), int(TAIL_S * RATE_HZ)
    loud = np.flatnonzero(np.abs(samples) > _EDGE * float(np.abs(samples).max(initial=0.0)))
    before = max(0, lead - int(loud[0])) if len(loud) else 0
    after = max(0, tail - (len(samples) - 1 - int(loud[-1]))) if len(loud) else 0
    return np.concatenate([np.zeros(before, np.float32), samples, np.zeros(after, np.float32)])
