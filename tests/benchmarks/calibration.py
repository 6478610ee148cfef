"""Whether probabilities mean what they say, and what a threshold on them costs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

BINS: Final = 10
THRESHOLDS: Final = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97, 0.99)


@dataclass(frozen=True, slots=True)
class Guess:
    """The likeliest meaning of one sound: its probability, whether it is right, whether anybody answered at all."""

    probability: float
    right: bool
    answer: bool = True


@dataclass(frozen=True, slots=True)
class Bin:
    """Guesses of like probability: how many, their mean probability, and the share that was right."""

    low: float
    high: float
    count: int
    probability: float
    right: float


@dataclass(frozen=True, slots=True)
class Point:
    """What comes of taking every guess from `threshold` up: shares of the answers, and of the strangers."""

    threshold: float
    right: float
    wrong: float
    strangers: float


def reliability(guesses: Iterable[Guess], bins: int = BINS) -> tuple[Bin, ...]:
    """Return the answers by their probability, in bins of equal width; empty bins are left out."""
    filled: list[list[Guess]] = [[] for _ in range(bins)]
    for guess in guesses:
        if guess.answer:
            filled[min(int(guess.probability * bins), bins - 1)].append(guess)
    return tuple(
        Bin(
            place / bins,
            (place + 1) / bins,
            len(inside),
            sum(guess.probability for guess in inside) / len(inside),
            sum(guess.right for guess in inside) / len(inside),
        )
        for place, inside in enumerate(filled)
        if inside
    )


def expected_calibration_error(bins: Sequence[Bin]) -> float:
    """Return how far probability and share right lie apart, the bins weighted by their counts; 0 for none.

    Source: Naeini, Cooper and Hauskrecht, AAAI 2015 (from memory).
    """
    total = sum(each.count for each in bins)
    return sum(each.count * abs(each.probability - each.right) for each in bins) / total if total else 0.0


def curve(guesses: Iterable[Guess], thresholds: Sequence[float] = THRESHOLDS) -> tuple[Point, ...]:
    """Return what each threshold would take: right and wrong answers, and strangers."""
    found = list(guesses)
    answers = [guess for guess in found if guess.answer]
    strangers = [guess for guess in found if not guess.answer]
    return tuple(
        Point(
            threshold,
            _share(guess.right and guess.probability >= threshold for guess in answers),
            _share(not guess.right and guess.probability >= threshold for guess in answers),
            _share(guess.probability >= threshold for guess in strangers),
        )
        for threshold in thresholds
    )


def _share(those: Iterable[bool]) -> float:
    found = list(those)
    return sum(found) / len(found) if found else 0.0
