"""A reading beside its limits as a line of text."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from voicetech.cli.text_band import LEAST, text_band
from voicetech.showing.bands import Placed


@pytest.mark.parametrize(
    ("band", "drawn"),
    [
        (Placed(0.25, 0.75, 0.5, 0), "├────[════◆════]────┤"),
        (Placed(0.25, 0.75, None, 0), "├────[═════════]────┤"),
        (Placed(0.25, 0.75, None, 1), "├────[═════════]────▶"),
        (Placed(0.25, 0.75, None, -1), "◀────[═════════]────┤"),
        (Placed(0.25, 0.75, 0.1, 0), "├──◆─[═════════]────┤"),
        (Placed(None, 0.5, 0.0, 0), "├◆════════]─────────┤"),
        (Placed(0.5, None, 0.9, 0), "├─────────[══════◆══┤"),
    ],
)
def test_limits_are_brackets_and_the_reading_a_mark(band: Placed, drawn: str) -> None:
    assert text_band(band, 21) == drawn


def test_signs_of_ascii_alone_tell_the_same() -> None:
    assert text_band(Placed(0.25, 0.75, 0.5, 0), 21, ascii_only=True) == "|----[====*====]----|"
    assert text_band(Placed(0.25, 0.75, None, 1), 21, ascii_only=True).isascii()


def test_without_room_there_is_none() -> None:
    assert text_band(Placed(0.25, 0.75, 0.5, 0), LEAST - 1) == ""


shares = st.floats(min_value=0, max_value=1)


@example(0.75, 1.0, 1.0, LEAST)
@given(shares, shares, shares, st.integers(min_value=LEAST, max_value=60))
def test_the_mark_is_inside_the_brackets_where_the_reading_is(
    one: float, two: float, value: float, columns: int
) -> None:
    low, high = sorted((max(0.1, one), min(0.9, max(two, 0.1))))
    if high - low < 0.05:
        high = low + 0.05
    line = text_band(Placed(low, high, value, 0), columns)
    assert len(line) == columns
    opens, closes, at = line.index("["), line.index("]"), line.index("◆")
    assert (opens < at < closes) == (low <= value <= high)
