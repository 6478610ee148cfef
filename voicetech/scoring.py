"""How well answers were heard: what became of each beside what was said, counts with their bounds, words that fail.

An answer is right where what would be taken means the same as what was said: the words may differ. Nothing here
knows where the sounds or their labels come from.
"""

import math
import re
from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final, assert_never

from voicetech.heard import Heard
from voicetech.language.gist import gist
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    ChoiceSaid,
    CommandSaid,
    CorrectionSaid,
    DangerSaid,
    Meaning,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.spelled import characters
from voicetech.language.understand import understand
from voicetech.units import Unit
from voicetech.weigh import Accepted, AskWhich, Ignored, Outcome, SayAgain

Limits = tuple[Decimal, Decimal] | None
"""The lowest and the highest value that pass, in the base unit."""

CONFIDENCE: Final = 0.95
ALARMS: Final = ("stop", "emergency")
"""Commands that stop the job at once; either is right where the other was said."""
NOTHING: Final = "(nothing)"
"""Stands for no word in a list of what was heard instead."""


class Result(StrEnum):
    """What became of one answer."""

    RIGHT = "right"
    ASKED = "asked"
    AGAIN = "again"
    IGNORED = "ignored"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class WordsExpected:
    """These words were said."""

    text: str


@dataclass(frozen=True, slots=True)
class MeaningExpected:
    """This was meant, in words that are not known.

    `kind` is reading, correction, open, closed, beep, short, yes, no, choice, words or command; `value` is in the
    base unit, `command` the name of a request (stop and emergency stop the job), `note` a choice's key or the
    words. What is None is not compared.
    """

    kind: str
    value: Decimal | None = None
    unit: Unit | None = None
    command: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class NothingExpected:
    """Nobody spoke to the program."""


Expected = WordsExpected | MeaningExpected | NothingExpected
KINDS: Final = ("reading", "correction", "open", "closed", "beep", "short", "yes", "no", "choice", "words", "command")


def result_of(expected: Expected, outcome: Outcome, question: Question, lexicon: Lexicon) -> Result:
    """Return what became of an answer: wrong is only what was accepted and is not what was said.

    What was not meant for the program is right unless it was accepted or asked about.
    """
    match outcome:
        case Accepted(meaning=meaning):
            return Result.RIGHT if is_right(expected, meaning, question, lexicon) else Result.WRONG
        case AskWhich():
            return Result.ASKED
        case SayAgain():
            return Result.RIGHT if isinstance(expected, NothingExpected) else Result.AGAIN
        case Ignored():
            return Result.RIGHT if isinstance(expected, NothingExpected) else Result.IGNORED
        case _:
            assert_never(outcome)


def is_right(expected: Expected, meaning: Meaning, question: Question, lexicon: Lexicon) -> bool:
    """Return whether a meaning is what was said to the question."""
    match expected:
        case WordsExpected(text=text):
            said = understand(text, question, lexicon)
            return not isinstance(said, Unclear) and same_key(said) == same_key(meaning)
        case MeaningExpected():
            return _fits(expected, meaning)
        case NothingExpected():
            return False
        case _:
            assert_never(expected)


def changes_verdict(expected: Expected, meaning: Meaning, limits: Limits, question: Question, lexicon: Lexicon) -> bool:
    """Return whether a wrongly accepted meaning may come to another verdict than what was said.

    Only readings on the same side of the limits do not.
    """
    said = _as_meaning(expected, question, lexicon)
    if limits is None or not isinstance(said, ReadingSaid) or not isinstance(meaning, ReadingSaid):
        return True
    return verdict(said, limits) != verdict(meaning, limits)


def verdict(meaning: Meaning, limits: Limits) -> Hashable:
    """Return what a meaning would come to: the side of the limits for a reading, else the meaning itself."""
    match meaning:
        case ReadingSaid(value=value, unit=unit) if limits is not None:
            return "reading", unit, (value > limits[1]) - (value < limits[0])
        case ReadingSaid(value=value, unit=unit, label=label):
            return "reading", unit, value.normalize(), label
        case CorrectionSaid(replacement=replacement) if replacement is not None:
            return "correction", verdict(replacement, limits)
        case _:
            return meaning


def likeliest(heard: Heard, meanings: Sequence[Meaning]) -> tuple[Meaning, float] | None:
    """Return the likeliest meaning and its probability, alternatives that mean the same being added; None for none.

    `meanings` are those of the alternatives, in their order.
    """
    together: dict[Hashable, float] = {}
    first: dict[Hashable, Meaning] = {}
    for alternative, meaning in zip(heard.alternatives, meanings, strict=True):
        key = same_key(meaning)
        first.setdefault(key, meaning)
        together[key] = together.get(key, 0.0) + alternative.probability
    if not together:
        return None
    best = max(together, key=lambda key: together[key])
    return first[best], together[best]


def same_key(meaning: Meaning) -> Hashable:
    """Return what two meanings have in common where they are the same answer: flags, rivals and doubts apart."""
    match meaning:
        case ReadingSaid(value=value, unit=unit, label=label):
            return "reading", *_base(value, unit), label
        case StateSaid() | AnswerSaid() | CommandSaid():
            return gist(meaning)
        case RangeSaid(low=low, high=high, unit=unit):
            return "range", low, high, unit
        case SeveralSaid(parts=parts, all_pairs=all_pairs):
            return "several", tuple(same_key(part) for part in parts), all_pairs
        case ChoiceSaid(key=key):
            return "choice", key
        case WordsSaid(text=text):
            return "words", characters(text) or text
        case DangerSaid(present=present):
            return "danger", present
        case CorrectionSaid(replacement=replacement):
            return "correction", None if replacement is None else same_key(replacement)
        case Unclear():
            return ("unclear",)
        case _:
            assert_never(meaning)


def _base(value: Decimal, unit: Unit | None) -> tuple[Decimal, Unit | None]:
    return (value * 1000, Unit.WATT) if unit is Unit.KILOWATT else (value, unit)


def _fits(expected: MeaningExpected, meaning: Meaning) -> bool:
    match meaning:
        case ReadingSaid(value=value, unit=unit):
            return expected.kind == "reading" and _same_value(expected, value, unit)
        case StateSaid(state=state):
            return expected.kind == state.value
        case AnswerSaid(yes=yes):
            return expected.kind == ("yes" if yes else "no")
        case ChoiceSaid(key=key):
            return expected.kind == "choice" and expected.note in (None, key)
        case WordsSaid(text=text):
            return expected.kind == "words" and (expected.note is None or _spelled(expected.note) == _spelled(text))
        case CommandSaid(command=command):
            return expected.kind == "command" and expected.command in (None, command.value)
        case DangerSaid(present=True):
            return expected.kind == "command" and expected.command in ALARMS
        case CorrectionSaid(replacement=ReadingSaid(value=value, unit=unit)):
            return expected.kind == "correction" and _same_value(expected, value, unit)
        case CorrectionSaid():
            return expected.kind == "correction" and expected.value is None
        case RangeSaid() | SeveralSaid() | DangerSaid() | Unclear():
            return False
        case _:
            assert_never(meaning)


def _same_value(expected: MeaningExpected, value: Decimal, unit: Unit | None) -> bool:
    if expected.value is None:
        return True
    if expected.unit is None:
        return expected.value == value
    return _base(expected.value, expected.unit) == _base(value, unit)


def _spelled(text: str) -> str:
    return characters(text) or text.lower()


def _as_meaning(expected: Expected, question: Question, lexicon: Lexicon) -> Meaning | None:
    match expected:
        case WordsExpected(text=text):
            return understand(text, question, lexicon)
        case MeaningExpected(kind="reading", value=Decimal() as value, unit=unit):
            return ReadingSaid(value, unit)
        case _:
            return None


@dataclass(frozen=True, slots=True)
class Tally:
    """How often each result came; `other_verdict` is the part of wrong that may change a verdict."""

    right: int = 0
    asked: int = 0
    again: int = 0
    ignored: int = 0
    wrong: int = 0
    other_verdict: int = 0

    @property
    def trials(self) -> int:
        """Return how many answers were counted."""
        return self.right + self.asked + self.again + self.ignored + self.wrong

    def counting(self, result: Result, other_verdict: bool = False) -> "Tally":
        """Return the tally with one more answer."""
        more = {result.value: self.count(result) + 1}
        if result is Result.WRONG and other_verdict:
            more["other_verdict"] = self.other_verdict + 1
        return replace(self, **more)

    def count(self, result: Result) -> int:
        """Return how often a result came."""
        return int(getattr(self, result.value))

    def share(self, result: Result) -> float:
        """Return a result's share, 0 where nothing was counted."""
        return self.count(result) / self.trials if self.trials else 0.0

    @property
    def right_at_least(self) -> float:
        """Return the lower 95 % bound of the share that is right."""
        return at_least(self.right, self.trials)

    @property
    def wrong_at_most(self) -> float:
        """Return the upper 95 % bound of the share that is wrong."""
        return at_most(self.wrong, self.trials)


def at_most(count: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """Return the highest rate (0 to 1) that `count` of `trials` leaves likely: a one-sided upper bound.

    With 0 of n it is about 3 / n. The trials are taken as independent: several by one person tell less than that.
    Source: Clopper and Pearson, Biometrika 26 (1934), the exact binomial limit (from memory).
    """
    if not 0 <= count <= trials:
        raise ValueError(f"{count} of {trials} is no share")
    if count == trials:
        return 1.0
    low, high = count / trials, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        if _at_most_so_many(count, trials, middle) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def at_least(count: int, trials: int, confidence: float = CONFIDENCE) -> float:
    """Return the lowest rate (0 to 1) that `count` of `trials` leaves likely: a one-sided lower bound.

    Source: as for `at_most`.
    """
    return 1.0 - at_most(trials - count, trials, confidence)


def _at_most_so_many(count: int, trials: int, rate: float) -> float:
    """Return how likely at most `count` of `trials` are at this rate, which is neither 0 nor 1."""
    if rate >= 1.0:
        return 0.0
    up, down = math.log(rate), math.log1p(-rate)
    total = math.lgamma(trials + 1)
    return sum(
        math.exp(total - math.lgamma(k + 1) - math.lgamma(trials - k + 1) + k * up + (trials - k) * down)
        for k in range(count + 1)
    )


@dataclass(frozen=True, slots=True)
class WordFailure:
    """A word that was heard as another: how often it was said, how often it failed, and what was heard instead."""

    word: str
    said: int
    failed: int
    instead: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class WordTrial:
    """What was said and what was heard, word by word; the words are not looked into where the answer was right."""

    said: tuple[str, ...]
    heard: tuple[str, ...]
    right: bool


def plain_words(text: str) -> tuple[str, ...]:
    """Return the words of a text in lower case, without signs."""
    return tuple(re.findall(r"[\w']+", text.lower()))


def word_failures(trials: Iterable[WordTrial]) -> tuple[WordFailure, ...]:
    """Return the words that fail, those that fail most first; words that were added stand under `NOTHING`."""
    said: Counter[str] = Counter()
    instead: dict[str, Counter[str]] = {}
    for trial in trials:
        said.update(trial.said)
        if trial.right:
            continue
        for word, other in aligned(trial.said, trial.heard):
            if word != other:
                instead.setdefault(word, Counter())[other] += 1
    found = [
        WordFailure(word, said[word], others.total(), tuple(sorted(others.items(), key=lambda item: (-item[1], item))))
        for word, others in instead.items()
    ]
    return tuple(sorted(found, key=lambda failure: (-failure.failed, failure.word)))


def aligned(said: Sequence[str], heard: Sequence[str]) -> list[tuple[str, str]]:
    """Return pairs of words, said and heard, with the least changed; `NOTHING` stands for a word that is missing.

    A word for another costs less than one that is missing and one that was added, so that equal words stay together.
    Source: edit distance, Levenshtein 1966 (from memory); the weights are judgement.
    """
    costs = [[_MISSING * (i + j) for j in range(len(heard) + 1)] for i in range(len(said) + 1)]
    for i, word in enumerate(said, 1):
        for j, other in enumerate(heard, 1):
            changed = costs[i - 1][j - 1] + (_CHANGED if word != other else 0)
            costs[i][j] = min(changed, costs[i - 1][j] + _MISSING, costs[i][j - 1] + _MISSING)
    pairs: list[tuple[str, str]] = []
    i, j = len(said), len(heard)
    while i or j:
        if i and j and costs[i][j] == costs[i - 1][j - 1] + (_CHANGED if said[i - 1] != heard[j - 1] else 0):
            i, j = i - 1, j - 1
            pairs.append((said[i], heard[j]))
        elif i and costs[i][j] == costs[i - 1][j] + _MISSING:
            i -= 1
            pairs.append((said[i], NOTHING))
        else:
            j -= 1
            pairs.append((NOTHING, heard[j]))
    return pairs[::-1]


_MISSING: Final = 2
_CHANGED: Final = 3
