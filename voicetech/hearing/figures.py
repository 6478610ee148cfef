"""Numbers written in figures: which spoken words "238" may stand for.

A figure is read as people read meters and number plates aloud: digit by digit, in pairs, or in hundreds. Figures are
put together from pieces: "238" is a digit and a pair, "1970" two pairs. A pair is never followed by a lone digit, so
"208" is no "twenty eight".
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum

from voicetech.language.number_words import DIGITS, TEENS, TENS
from voicetech.language.phrases import WordAutomaton

_DIGITS = {word: str(figure) for figure, word in enumerate(DIGITS)} | {"oh": "0"}
_TEENS = {word: str(figure) for figure, word in enumerate(TEENS, start=10)}
_TENS = {word: str(figure) for figure, word in enumerate(TENS, start=2)}


class Written(Enum):
    """How a word is written, which decides what may follow it without a space."""

    WORD = "a word"
    LETTER = "a letter by itself"
    DIGIT = "one figure"
    PAIR = "two figures"
    HUNDREDS = "three figures or more"

    @property
    def is_figure(self) -> bool:
        """Return whether it is written in figures."""
        return self in _FIGURES

    @property
    def may_follow(self) -> "tuple[Written, ...]":
        """Return what a figure may stand behind without a space."""
        return _MAY_FOLLOW.get(self, ())


_FIGURES = frozenset({Written.DIGIT, Written.PAIR, Written.HUNDREDS})
_MAY_FOLLOW = {
    Written.DIGIT: (Written.LETTER, Written.DIGIT),
    Written.PAIR: (Written.LETTER, Written.DIGIT, Written.PAIR),
    Written.HUNDREDS: (Written.LETTER,),
}


@dataclass(frozen=True, slots=True)
class Figure:
    """Digits, the words they stand for, and the automaton state behind these words."""

    digits: str
    words: tuple[str, ...]
    state: int
    written: Written


def in_figures(text: str) -> bool:
    """Return whether part of a written text is in figures."""
    return any(character.isdigit() for character in text)


def figure_forms(automaton: WordAutomaton, state: int) -> Iterator[Figure]:
    """Yield the pieces of figures that may begin at this state of the automaton."""
    for digits, words, end in _numbers(automaton, state):
        yield Figure(digits, words, end, Written.DIGIT if len(digits) == 1 else Written.PAIR)
        if words[0] in _TENS:
            continue
        for rest, more, last in _hundreds(automaton, end):
            yield Figure(digits + rest, words + more, last, Written.HUNDREDS)


def _numbers(automaton: WordAutomaton, state: int) -> Iterator[tuple[str, tuple[str, ...], int]]:
    """Yield one figure and pairs of figures: digits, words and the state behind them."""
    arcs = automaton.arcs[state]
    for digits, word, end in _known(arcs, _DIGITS | _TEENS):
        yield digits, (word,), end
    for tens, word, end in _known(arcs, _TENS):
        yield tens + "0", (word,), end
        for digit, one, last in _known(automaton.arcs[end], _DIGITS):
            if digit != "0":
                yield tens + digit, (word, one), last


def _hundreds(automaton: WordAutomaton, state: int) -> Iterator[tuple[str, tuple[str, ...], int]]:
    hundred = automaton.arcs[state].get("hundred")
    if hundred is None:
        return
    yield "00", ("hundred",), hundred
    joined = automaton.arcs[hundred].get("and")
    for at, before in ((hundred, ("hundred",)), (joined, ("hundred", "and"))):
        if at is None:
            continue
        for digits, words, end in _numbers(automaton, at):
            if digits != "0":
                yield digits.zfill(2), before + words, end


def _known(arcs: Mapping[str, int], table: Mapping[str, str]) -> Iterator[tuple[str, str, int]]:
    for word, digits in table.items():
        target = arcs.get(word)
        if target is not None:
            yield digits, word, target
