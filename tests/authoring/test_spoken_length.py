"""Spoken length at 160 words a minute: 8 words in 3 seconds."""

import pytest

from voicetech.authoring.spoken_length import spoken_length_s


@pytest.mark.parametrize(
    ("text", "length_s"),
    [
        ("", 0.0),
        ("one two three four five six seven eight", 3.0),
        ("Say: locked and tagged.", 1.5),
        ("two-pole", 0.75),
        ("240 volts", 1.5),
        ("9 1 1", 1.125),
        ("bake - broil … done!", 1.125),
    ],
)
def test_length(text: str, length_s: float) -> None:
    assert spoken_length_s(text) == pytest.approx(length_s)
