"""What a mistyped word may have been: a suggestion for chat, never a reading and never an answer."""

from collections.abc import Sequence

from rapidfuzz import fuzz, process

from voicetech.language.lexicon import Lexicon

SAY_AGAIN = "Say again?"
_SHORTEST = 5
_ALIKE = 80.0
"""Least similarity (0 to 100) of a suggestion. Common practice, no source."""


def suggestion(words: Sequence[str], lexicon: Lexicon) -> str:
    """Return "Did you mean …?" for the first unknown word of five letters or more, else "Say again?"."""
    known = _known_words(lexicon)
    for word in words:
        if len(word) >= _SHORTEST and word not in known:
            found = process.extractOne(word, known, scorer=fuzz.ratio, score_cutoff=_ALIKE)
            if found is not None:
                return f"Did you mean {found[0]}?"
    return SAY_AGAIN


def _known_words(lexicon: Lexicon) -> list[str]:
    automata = [*lexicon.commands.values(), *(s.understood for s in lexicon.states.values())]
    words = {word for automaton in automata for word in automaton.words()}
    words.update(lexicon.units)
    words.update(word for phrase in lexicon.numbers for word in phrase)
    return sorted(word for word in words if len(word) >= _SHORTEST)
