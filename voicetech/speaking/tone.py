"""The listening tone: a short rising pair of notes, made here so that no recording has to be carried."""

import math
import struct
import wave
from itertools import chain
from pathlib import Path

TONE_RATE_HZ = 22_050
_NOTES_HZ = (660.0, 880.0)
_NOTE_S = 0.07
_FADE_S = 0.01
_PEAK = 0.3
"""Source: common practice, no source; two notes stay apart from a meter's single-note buzzer."""


def listening_tone(volume: float = 1.0) -> bytes:
    """Return the tone as 16-bit little-endian mono samples at `TONE_RATE_HZ`."""
    samples = list(chain.from_iterable(_note(note_hz, volume) for note_hz in _NOTES_HZ))
    return struct.pack(f"<{len(samples)}h", *samples)


def write_tone(path: Path, volume: float = 1.0) -> None:
    """Write the tone to a WAV file."""
    with path.open("wb") as file, wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(TONE_RATE_HZ)
        sound.writeframes(listening_tone(volume))


def _note(note_hz: float, volume: float) -> list[int]:
    count = round(_NOTE_S * TONE_RATE_HZ)
    fade = _FADE_S * TONE_RATE_HZ
    peak = 32_767 * min(_PEAK * volume, 1.0)
    return [
        round(peak * min(1.0, at / fade, (count - 1 - at) / fade) * math.sin(math.tau * note_hz * at / TONE_RATE_HZ))
        for at in range(count)
    ]
