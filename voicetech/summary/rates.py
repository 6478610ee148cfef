"""Shares and spreads with what their number allows to say: a figure from few jobs tells little, and says so."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

FEW: Final = 20
"""Below so many a figure is called one of few (judgement, no source)."""

_NORMAL_95: Final = 1.959963984540054
"""Standard deviations on both sides of the middle that hold 95 % of a normal distribution (from memory)."""


@dataclass(frozen=True, slots=True)
class Share:
    """How many of how many."""

    count: int
    of: int

    @property
    def rate(self) -> float | None:
        """Return the share, 0 to 1; None of none."""
        return self.count / self.of if self.of else None

    @property
    def between(self) -> tuple[float, float]:
        """Return the 95 % limits of the rate behind it, 0 to 1.

        Each job is taken as one of many alike: several by one person, or at one house, tell less than that.
        Source: Wilson, Journal of the American Statistical Association 22 (1927), the score interval (from memory).
        """
        if not self.of:
            return 0.0, 1.0
        rate, more = self.count / self.of, _NORMAL_95**2 / self.of
        middle = (rate + more / 2) / (1 + more)
        reach = _NORMAL_95 / (1 + more) * math.sqrt(rate * (1 - rate) / self.of + more / (4 * self.of))
        # With none or all of them the limit is the rate itself; rounding must not pass it.
        low = 0.0 if self.count == 0 else max(0.0, middle - reach)
        high = 1.0 if self.count == self.of else min(1.0, middle + reach)
        return low, high

    @property
    def few(self) -> bool:
        """Return whether it is a share of few."""
        return self.of < FEW


@dataclass(frozen=True, slots=True)
class Spread:
    """Whole numbers, such as seconds or tests: how many there are and their mean.

    `low`, `median` and `high` are what a quarter, a half and three quarters of them do not exceed.
    """

    n: int
    mean: float
    low: int
    median: int
    high: int
    most: int

    @property
    def few(self) -> bool:
        """Return whether it is made of few."""
        return self.n < FEW


def spread_of(counts: Mapping[int, int]) -> Spread | None:
    """Return the spread of values, given how often each came; None for none. Quarters are by the nearest rank."""
    n = sum(counts.values())
    if not n:
        return None
    ranked = sorted(counts.items())
    mean = sum(value * count for value, count in ranked) / n
    low, median, high = (_ranked(ranked, math.ceil(n * quarter / 4)) for quarter in (1, 2, 3))
    return Spread(n, mean, low, median, high, ranked[-1][0])


def _ranked(ranked: list[tuple[int, int]], rank: int) -> int:
    seen = 0
    for value, count in ranked:
        seen += count
        if seen >= rank:
            return value
    return ranked[-1][0]
