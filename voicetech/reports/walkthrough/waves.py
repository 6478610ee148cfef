"""The outline of a sound, for a small picture of it."""

import io
from typing import Final

import numpy as np
import soundfile

POINTS: Final = 120
"""Columns of a picture at most: more than a phone's screen shows of one answer."""
HEIGHT: Final = 24


def outline(flac: bytes) -> tuple[float, tuple[int, ...]]:
    """Return a sound's length in seconds and its loudest value in each column, 0 to 100.

    Raises ValueError where it is no FLAC file of one channel.
    """
    try:
        samples, rate_hz = soundfile.read(io.BytesIO(flac), dtype="float32")
    except soundfile.SoundFileError as error:
        raise ValueError("not a sound") from error
    if samples.ndim != 1 or not len(samples):
        raise ValueError("not a sound of one channel")
    length_s = len(samples) / rate_hz
    columns = np.array_split(np.abs(samples), min(POINTS, len(samples)))
    return length_s, tuple(round(float(column.max()) * 100) for column in columns)


def path_of(peaks: tuple[int, ...]) -> str:
    """Return the outline as the path of a closed shape, one unit wide for each column; the loudest fills the height."""
    loudest = max([*peaks, 1])
    middle = HEIGHT / 2
    heights = [max(0.4, peak / loudest * (middle - 1)) for peak in peaks]
    above = " ".join(f"{x} {middle - height:.1f}" for x, height in enumerate(heights))
    below = " ".join(f"{x} {middle + height:.1f}" for x, height in reversed(list(enumerate(heights))))
    return f"M{above} {below}z"
