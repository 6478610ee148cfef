"""The phrase tree: what may be said, written once, and the automaton its readers share.

Readers: the recogniser walks `WordAutomaton` to keep its hypotheses sayable, the sampler draws sentences from
the tree, and the grammar export writes it as JSGF and SRGS. A tree describes spoken words only (lower case, no
digits); how a recogniser may spell a word is data in `grammars/spellings.yaml`.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word."""

    text: str


@dataclass(frozen=True, slots=True)
class Sequence:
    """Its parts, one after the other."""

    parts: "tuple[Phrase, ...]"


@dataclass(frozen=True, slots=True)
class Choice:
    """Any one of its options."""

    options: "tuple[Phrase, ...]"


@dataclass(frozen=True, slots=True)
class Maybe:
    """Its part, or nothing."""

    part: "Phrase"


@dataclass(frozen=True, slots=True)
class Repeat:
    """Its part, from `least` to `most` times."""

    part: "Phrase"
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Rule:
    """A named part; the name is kept in the exported grammars."""

    name: str
    part: "Phrase"


Phrase = Word | Sequence | Choice | Maybe | Repeat | Rule


@dataclass(frozen=True, slots=True)
class WordAutomaton:
    """A deterministic automaton over words; state 0 is the start.

    `arcs[state]` maps each word that may come next to the state after it. Every state can reach a final one.
    """

    arcs: tuple[Mapping[str, int], ...]
    finals: frozenset[int]

    def step(self, state: int, word: str) -> int | None:
        """Return the state after `word`, or None where it cannot come next."""
        return self.arcs[state].get(word)

    def accepts(self, words: "tuple[str, ...] | list[str]") -> bool:
        """Return whether the words are a whole sentence of the grammar."""
        state: int | None = 0
        for word in words:
            if state is None:
                return False
            state = self.step(state, word)
        return state is not None and state in self.finals

    def words(self) -> frozenset[str]:
        """Return every word the grammar can say."""
        return frozenset(word for arcs in self.arcs for word in arcs)
