"""Bins, their error, and the curve."""

import pytest

from tests.benchmarks.calibration import Guess, curve, expected_calibration_error, reliability
from tests.benchmarks.measuring import percentile


def test_answers_are_put_into_ten_bins() -> None:
    guesses = [
        Guess(0.95, True),
        Guess(0.97, False),
        Guess(1.0, True),
        Guess(0.05, False),
        Guess(0.5, True, answer=False),
    ]
    low, high = reliability(guesses)
    assert (low.low, low.high, low.count, low.right) == (0.0, 0.1, 1, 0.0)
    assert (high.low, high.count) == (0.9, 3)
    assert high.probability == pytest.approx(2.92 / 3)
    assert high.right == pytest.approx(2 / 3)


def test_the_error_is_the_mean_distance_weighted_by_counts() -> None:
    guesses = [Guess(0.8, True)] * 6 + [Guess(0.8, False)] * 4 + [Guess(0.3, False)] * 10
    assert expected_calibration_error(reliability(guesses)) == pytest.approx(0.5 * 0.2 + 0.5 * 0.3)
    assert expected_calibration_error(reliability([Guess(0.75, True)] * 3 + [Guess(0.75, False)])) == pytest.approx(0)
    assert expected_calibration_error(()) == 0


def test_a_higher_threshold_takes_less_of_everything() -> None:
    guesses = [Guess(0.9, True), Guess(0.6, True), Guess(0.7, False), Guess(0.2, True), Guess(0.8, False, answer=False)]
    low, middle, high = curve(guesses, (0.5, 0.75, 0.95))
    assert (low.right, low.wrong, low.strangers) == (0.5, 0.25, 1.0)
    assert (middle.right, middle.wrong, middle.strangers) == (0.25, 0.0, 1.0)
    assert (high.right, high.wrong, high.strangers) == (0.0, 0.0, 0.0)


def test_percentile() -> None:
    values = [float(value) for value in range(1, 101)]
    assert percentile(values, 0.5) == 50
    assert percentile(values, 0.95) == 95
    assert percentile([3.0], 0.95) == 3
    assert percentile([], 0.5) == 0
