"""Limits drawn beside a value: always with figures and words, placed in order."""

import re
from decimal import Decimal

import pytest

from voicetech.reports.bands import band_of, drawn
from voicetech.units import Unit


def _drawn(low: str | None, high: str | None, value: str | None) -> str:
    ends = [None if end is None else Decimal(end) for end in (low, high, value)]
    band = band_of(ends[0], ends[1], ends[2], Unit.OHM)
    assert band is not None
    return drawn(band, "what it says")


def _mark(picture: str) -> list[tuple[float, float]]:
    (corners,) = re.findall(r'points="([^"]+)"', picture)
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in corners.split())]


def _ticks(picture: str) -> list[float]:
    return [float(x) for x in re.findall(r'<text x="([\d.]+)"', picture)]


def test_a_band_has_its_limits_as_text_and_says_itself_in_words() -> None:
    picture = _drawn("19.9", "24.4", "21.8")
    assert "<title>what it says</title>" in picture
    assert re.findall(r"<text[^>]*>([^<]+)</text>", picture) == ["19.9", "24.4"]


def test_the_value_stands_between_below_or_above_the_limits_as_it_is() -> None:
    for value, place in (("19", -1), ("21.8", 0), ("25", 1)):
        picture = _drawn("19.9", "24.4", value)
        low, high = _ticks(picture)
        x = _mark(picture)[0][0]
        assert (x > low) - (x < low) + (x > high) - (x < high) == 2 * place or (place == 0 and low < x < high)
        assert len(_mark(picture)) == 4, "a diamond"


@pytest.mark.parametrize("value", [None, "80", "1E+9"])
def test_far_above_and_over_range_is_an_arrow_at_the_right_edge(value: str | None) -> None:
    corners = _mark(_drawn("19.9", "24.4", value))
    assert len(corners) == 3
    assert corners[0][0] == max(x for x, _ in corners) > 145


def test_far_below_is_an_arrow_at_the_left_edge() -> None:
    corners = _mark(_drawn("19.9", "24.4", "0.1"))
    assert len(corners) == 3
    assert corners[0][0] == min(x for x, _ in corners) < 5


def test_an_open_limit_leaves_the_band_open() -> None:
    at_most, at_least = _drawn(None, "1", "0.4"), _drawn("1000000", None, None)
    assert re.findall(r"<text[^>]*>([^<]+)</text>", at_most) == ["1"]
    assert re.findall(r"<text[^>]*>([^<]+)</text>", at_least) == ["1M"]
    assert _mark(at_most)[0][0] < _ticks(at_most)[0]


@pytest.mark.parametrize(("low", "high"), [(None, None), ("2", "1"), ("1", "1"), ("-1", "1"), (None, "0"), ("0", None)])
def test_no_band_is_drawn_where_there_is_nothing_to_show(low: str | None, high: str | None) -> None:
    ends = [None if end is None else Decimal(end) for end in (low, high)]
    assert band_of(ends[0], ends[1], Decimal(1), Unit.OHM) is None


def test_words_in_a_band_are_escaped() -> None:
    band = band_of(Decimal(1), Decimal(2), Decimal(1), None)
    assert band is not None
    assert "<title>&lt;b&gt; {0}</title>" in drawn(band, "<b> {0}")
