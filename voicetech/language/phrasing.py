"""Whole-phrase matching: an utterance with and without the small words around it."""

from collections.abc import Iterable, Mapping, Sequence

from voicetech.language.clean import Kind, Token
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.phrases import WordAutomaton

_LONGEST_ENDING = 5


def bare_words(words: Sequence[str], lexicon: Lexicon) -> Words:
    """Return the words without the fillers at either end ("uh go back please": go back)."""
    start, end = 0, len(words)
    while (step := _phrase_length(words, start, end, lexicon.fillers)) > 0:
        start += step
    while (step := _ending_length(words, start, end, (lexicon.fillers, lexicon.trailing))) > 0:
        end -= step
    return tuple(words[start:end])


def without_leads(words: Sequence[str], lexicon: Lexicon) -> Words:
    """Return the words without fillers and without what leads in an answer ("it reads")."""
    bare = bare_words(words, lexicon)
    start = 0
    while (end := longest(lexicon.leads, bare, start) or _part_is(bare, start, lexicon)) is not None:
        start = end
    return bare_words(bare[start:], lexicon)


def _part_is(words: Words, start: int, lexicon: Lexicon) -> int | None:
    """Return where "contact's" or "the contact's" ends, or None where no part begins."""
    at = start + 1 if words[start : start + 1] in (("the",), ("that",), ("this",)) else start
    part, short = (words[at].removesuffix("'s"), words[at].endswith("'s")) if at < len(words) else ("", False)
    return at + 1 if short and part in lexicon.conducting else None


def without_single_fillers(tokens: Sequence[Token], lexicon: Lexicon) -> tuple[Token, ...]:
    """Return the tokens without one-word fillers and without marks, wherever they stand."""
    return tuple(t for t in tokens if t.kind is not Kind.MARK and not is_filler(t.text, lexicon))


def leading_fillers(words: Sequence[str], lexicon: Lexicon) -> int:
    """Return how many words at the beginning say nothing by themselves."""
    return next((at for at, word in enumerate(words) if not is_filler(word, lexicon)), len(words))


def is_filler(word: str, lexicon: Lexicon) -> bool:
    """Return whether one word says nothing by itself ("um", "please")."""
    return (word,) in lexicon.fillers.get(word, ())


def unframed(words: Words, lexicon: Lexicon) -> list[Words]:
    """Return the words without their frame first, then with what may belong to the command put back."""
    starts = [0]
    while (end := longest(lexicon.cues.openings, words, starts[-1])) is not None:
        starts.append(end)
    ends = [len(words)]
    while (length := _ending(words[: ends[-1]], lexicon)) > 0:
        ends.append(ends[-1] - length)
    return [words[start:end] for start in reversed(starts) for end in reversed(ends) if start < end] or [words]


def _ending(words: Words, lexicon: Lexicon) -> int:
    lengths = range(min(_LONGEST_ENDING, len(words)), 0, -1)
    return next((length for length in lengths if lexicon.cues.endings.accepts(words[-length:])), 0)


def said_once(words: Words) -> Words:
    """Return one of a word that was only said over and over ("repeat repeat")."""
    return words[:1] if len(set(words)) == 1 else words


def starting(words: Sequence[str], phrases: Iterable[Words]) -> int:
    """Return the length of the longest of `phrases` that the words start with, or 0."""
    first = words[0] if words else ""
    return max((len(p) for p in phrases if p[0] == first and tuple(words[: len(p)]) == p), default=0)


def longest(phrases: WordAutomaton, words: Sequence[str], start: int) -> int | None:
    """Return where the longest phrase that begins at `start` ends, or None."""
    state: int | None = 0
    end = None
    for at in range(start, len(words)):
        state = phrases.step(state, words[at]) if state is not None else None
        if state is None:
            break
        if state in phrases.finals:
            end = at + 1
    return end


def spans(phrases: WordAutomaton, words: Sequence[str]) -> list[tuple[int, int]]:
    """Return where the phrases stand, the longest from each place; they may overlap."""
    starts = (start for start, word in enumerate(words) if word in phrases.arcs[0])
    ends = ((start, longest(phrases, words, start)) for start in starts)
    return [(start, end) for start, end in ends if end is not None]


def _phrase_length(words: Sequence[str], start: int, end: int, index: Mapping[str, tuple[Words, ...]]) -> int:
    if start >= end:
        return 0
    for phrase in index.get(words[start], ()):
        if start + len(phrase) <= end and tuple(words[start : start + len(phrase)]) == phrase:
            return len(phrase)
    return 0


def _ending_length(
    words: Sequence[str], start: int, end: int, indexes: Sequence[Mapping[str, tuple[Words, ...]]]
) -> int:
    for length in range(min(_LONGEST_ENDING, end - start), 0, -1):
        piece = tuple(words[end - length : end])
        if any(piece in index.get(piece[0], ()) for index in indexes):
            return length
    return 0
