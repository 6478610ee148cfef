"""Limits drawn beside a value: placed in order, told in words, no colour and no text of their own."""

import re
from decimal import Decimal

import pytest

from voicetech.reports.bands import WIDTH, Band, band_of, drawn


def _band(low: str | None, high: str | None, value: str | None) -> Band | None:
    ends = [None if end is None else Decimal(end) for end in (low, high, value)]
    return band_of(ends[0], ends[1], ends[2])


def _drawn(low: str | None, high: str | None, value: str | None) -> str:
    band = _band(low, high, value)
    assert band is not None
    return drawn(band, "what it says")


def _mark(picture: str) -> list[tuple[float, float]]:
    (corners,) = re.findall(r'points="([^"]+)"', picture)
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in corners.split())]


def _limits(picture: str) -> list[float]:
    return [float(x) for x in re.findall(r'class="limit" x1="([\d.]+)"', picture)]


def test_a_band_says_itself_in_words_and_draws_each_limit() -> None:
    picture = _drawn("19.9", "24.4", "21.8")
    assert "<title>what it says</title>" in picture
    low, high = _limits(picture)
    assert 0 < low < high < WIDTH


def test_it_is_drawn_without_colour() -> None:
    for colour in re.findall(r"#([0-9a-f]+)", _drawn("19.9", "24.4", "21.8")):
        thirds = len(colour) // 3
        assert len({colour[:thirds], colour[thirds : 2 * thirds], colour[2 * thirds :]}) == 1, colour


@pytest.mark.parametrize(("value", "place"), [("19", "below"), ("21.8", "between"), ("25", "above")])
def test_the_value_stands_below_between_or_above_the_limits_as_it_is(value: str, place: str) -> None:
    picture = _drawn("19.9", "24.4", value)
    low, high = _limits(picture)
    x = _mark(picture)[0][0]
    assert ("below" if x < low else "above" if x > high else "between") == place
    assert len(_mark(picture)) == 4, "a diamond"


@pytest.mark.parametrize("value", [None, "80", "1E+9"])
def test_far_above_and_over_range_is_an_arrow_at_the_right_edge(value: str | None) -> None:
    corners = _mark(_drawn("19.9", "24.4", value))
    assert len(corners) == 3
    assert corners[0][0] == max(x for x, _ in corners) == WIDTH - 1


def test_far_below_is_an_arrow_at_the_left_edge() -> None:
    corners = _mark(_drawn("19.9", "24.4", "0.1"))
    assert len(corners) == 3
    assert corners[0][0] == min(x for x, _ in corners) < 5


def test_an_open_limit_leaves_the_band_open() -> None:
    at_most, at_least = _drawn(None, "1", "0.4"), _drawn("1000000", None, None)
    assert len(_limits(at_most)) == len(_limits(at_least)) == 1
    assert _mark(at_most)[0][0] < _limits(at_most)[0]


@pytest.mark.parametrize(("low", "high"), [(None, None), ("2", "1"), ("1", "1"), ("-1", "1"), (None, "0"), ("0", None)])
def test_no_band_is_drawn_where_there_is_nothing_to_show(low: str | None, high: str | None) -> None:
    assert _band(low, high, "1") is None


def test_words_in_a_band_are_escaped() -> None:
    band = _band("1", "2", "1")
    assert band is not None
    assert "<title>&lt;b&gt; {0}</title>" in drawn(band, "<b> {0}")
