"""Shares with their limits and spreads with their number."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.summary.rates import FEW, Share, spread_of


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        # Worked out with the closed form on paper; 0 of 10 is z² / (n + z²).
        (0, 10, 0.0, 0.2775),
        (10, 10, 0.7225, 1.0),
        (5, 10, 0.2366, 0.7634),
        (81, 263, 0.2553, 0.3662),
    ],
)
def test_the_limits_of_a_share(count: int, of: int, low: float, high: float) -> None:
    assert Share(count, of).between == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 100_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_a_rate_lies_between_its_limits_and_more_jobs_bring_them_together(counts: tuple[int, int]) -> None:
    count, of = counts
    share, ten_times = Share(count, of), Share(10 * count, 10 * of)
    low, high = share.between
    assert share.rate is not None
    assert 0.0 <= low <= share.rate <= high <= 1.0
    assert ten_times.between[1] - ten_times.between[0] < high - low


def test_a_share_of_none_says_nothing() -> None:
    assert Share(0, 0).rate is None
    assert Share(0, 0).between == (0.0, 1.0)
    assert Share(1, FEW - 1).few
    assert not Share(1, FEW).few


def test_a_spread_is_what_so_many_do_not_exceed() -> None:
    spread = spread_of({10: 1, 20: 1, 30: 1, 1000: 1})
    assert spread is not None
    assert (spread.n, spread.mean, spread.low, spread.median, spread.high, spread.most) == (4, 265.0, 10, 20, 30, 1000)
    assert spread_of({}) is None


@given(st.lists(st.integers(0, 500), min_size=1))
def test_a_spread_counts_each_value_as_often_as_it_came(values: list[int]) -> None:
    spread = spread_of({value: values.count(value) for value in values})
    assert spread is not None
    assert sum(value <= spread.median for value in values) >= len(values) / 2
    assert sum(value < spread.median for value in values) < len(values) / 2 or spread.median == min(values)
    assert spread.most == max(values)
