"""Does a text last as long as the sound: a guard against stopping after the first words.

A pause inside an answer looks like its end to the speech model. How long somebody is heard, against the letters
of the text, tells the two apart.
"""

import numpy as np

from voicetech.hearing.frames import RATE_HZ, Samples

_HOP = RATE_HZ // 100
_BELOW_PEAK_DB = 28.0
_ABOVE_FLOOR_DB = 8.0
_NEVER_NEARER_DB = 8.0
"""Sound counts as somebody speaking down to 28 dB below the loudest, if 8 dB above the quietest tenth."""
SLOWEST_S_A_LETTER = 0.14
SPARE_S = 0.5
"""People saying whole words stay below this many seconds of sound a letter, drawn-out single words included (99th
percentile of 1,100 recorded utterances: numbers 0.12, digits 0.25 with 4 letters, spelled letters 0.17 with 3)."""
COST_A_S = 4.0
"""Nats for each second of sound that a text leaves unexplained. Judgement, no source."""
MOST = 8.0
DIGIT_LETTERS = 4


def heard_s(samples: Samples) -> float:
    """Return the seconds in which somebody (or something as loud) is heard, pauses left out."""
    count = len(samples) // _HOP
    if not count:
        return 0.0
    frames = samples[: count * _HOP].reshape(count, _HOP)
    loud_db = 10.0 * np.log10((frames**2).mean(axis=1) + 1e-12)
    peak = float(loud_db.max())
    floor = max(peak - _BELOW_PEAK_DB, float(np.percentile(loud_db, 10)) + _ABOVE_FLOOR_DB)
    return float((loud_db > min(floor, peak - _NEVER_NEARER_DB)).sum()) * _HOP / RATE_HZ


def unexplained(text: str, sound_s: float) -> float:
    """Return the cost in nats of ending with `text` when somebody is heard for `sound_s` seconds."""
    letters = sum(DIGIT_LETTERS if c.isdigit() else c.isalpha() for c in text)
    return min(MOST, COST_A_S * max(0.0, sound_s - SPARE_S - SLOWEST_S_A_LETTER * letters))
