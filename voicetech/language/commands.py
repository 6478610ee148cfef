"""Commands, notes, named places and the question's own choices: whole utterances, never a word inside one."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Final

from voicetech.language.clean import Token, words_of
from voicetech.language.lexicon import TYPED_NUMBER, Lexicon, Words
from voicetech.language.meaning import MEASURED, Choice, ChoiceSaid, Command, CommandSaid, Question
from voicetech.language.phrasing import said_once, starting
from voicetech.language.templates import phrase_from, sentences

_ASKED_FIRST = frozenset({Command.SKIP, Command.CLOSE, Command.NOT_FITTED})
"""Commands that leave a measurement out and are confirmed where one is owed."""
_SHORTEST_CLAUSE = 2
_SHORTEST_REASON = 3
_BEFORE_FREE_WORDS: Final = re.compile(r"^(?:[\s,:.]|-(?!\d))+")
"""Signs between "note" and the note; a minus is part of it."""


_NEXT_OR_RESUME = frozenset({"go ahead", "go on", "carry on", "keep going", "proceed", "move on"})
"""What people say for the next step and for going on after a pause alike."""


def find_command(words: Sequence[str], bare: Words, question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the command that the whole utterance says, or None."""
    for candidate in dict.fromkeys((tuple(words), bare, said_once(bare))):
        plain = tuple(TYPED_NUMBER if word[0].isdigit() else word for word in candidate)
        for command, phrases in lexicon.commands.items():
            if phrases.accepts(plain):
                confirm = command in _ASKED_FIRST and question.asking in MEASURED
                confirm = confirm or " ".join(candidate) in _NEXT_OR_RESUME
                return CommandSaid(command, confirm=confirm)
    return None


def find_in_own_words(tokens: Sequence[Token], question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return a note, or a skip with its reason, in the words typed; None where the utterance starts otherwise."""
    named = find_named_free_words(tokens, question, lexicon)
    if named is not None:
        return named
    reason = _reason_without_because(tokens, lexicon)
    return _skip(reason, question) if reason else None


def find_named_free_words(tokens: Sequence[Token], question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the note or reason that the utterance itself says it is ("note", "skip because"), or None.

    What follows is the technician's own, in any script and with any sign in it: it is kept and never read.
    """
    note = _after(tokens, lexicon.cues.notes)
    if note:
        return CommandSaid(Command.NOTE, note)
    reason = _after(tokens, lexicon.cues.reasons)
    return _skip(reason, question) if reason else None


def _skip(reason: str, question: Question) -> CommandSaid:
    return CommandSaid(Command.SKIP, reason, confirm=question.asking in MEASURED)


def find_wait(tokens: Sequence[Token], lexicon: Lexicon) -> CommandSaid | None:
    """Return the wish to wait that a clause explains ("hold up, I dropped a probe"), or None.

    For the last: a clause that is a result ("wait, it's open") is one.
    """
    return CommandSaid(Command.HOLD) if _clause_after(tokens, lexicon.cues.holding, lexicon) else None


def _reason_without_because(tokens: Sequence[Token], lexicon: Lexicon) -> str:
    """Return the reason in "skip this, I can't get to it" and in "there's none on this one, skip it"."""
    after = _clause_after(tokens, lexicon.cues.skipping, lexicon)
    if after:
        return after
    words = words_of(tuple(tokens))
    if any(is_number(word, lexicon) for word in words):
        return ""
    for cue in lexicon.cues.skipping:
        before = len(words) - len(cue)
        if len(cue) > 1 and before >= _SHORTEST_REASON and words[before:] == cue and words[0] in lexicon.cues.clauses:
            return _typed(tokens[: _token_index(tokens, before)])
    return ""


def _clause_after(tokens: Sequence[Token], cues: Iterable[Words], lexicon: Lexicon) -> str:
    """Return what was typed after one of the cues where it is a clause of its own."""
    words = words_of(tuple(tokens))
    start = starting(words, cues)
    clause = words[start : start + 1]
    wanted = start and words[start - 1] == "to"
    if not start or len(words) - start < _SHORTEST_CLAUSE or not (wanted or lexicon.cues.clauses.issuperset(clause)):
        return ""
    if any(is_number(word, lexicon) for word in words[start:]):
        return ""
    return _after(tokens, cues)


def is_number(word: str, lexicon: Lexicon) -> bool:
    """Return whether a word is a number and nothing else; "one" and "to" mostly are something else in a clause."""
    known = lexicon.numbers.get((word,))
    return word[0].isdigit() or (known is not None and known.spoken and word not in ("one", "oh", "point", "a"))


def _after(tokens: Sequence[Token], cues: Iterable[Words]) -> str:
    """Return what was typed after one of the cues; nothing where the utterance starts otherwise."""
    start = starting(words_of(tuple(tokens)), cues)
    return _typed(tokens[_token_index(tokens, start) :]) if start else ""


def _typed(tokens: Sequence[Token]) -> str:
    text = ""
    for token in tokens:
        text += token.typed if token.glued else f" {token.typed}"
    return _BEFORE_FREE_WORDS.sub("", text).rstrip(" ,:.-")


def _token_index(tokens: Sequence[Token], words: int) -> int:
    seen = 0
    for index, token in enumerate(tokens):
        if seen == words:
            return index
        seen += bool(words_of((token,)))
    return len(tokens)


def matching_choice(words: Sequence[str], bare: Words, question: Question) -> ChoiceSaid | None:
    """Return the question's choice that the whole utterance names, or None."""
    key = _named(words, bare, question.choices)
    return None if key is None else ChoiceSaid(key)


def choice_within(words: Sequence[str], question: Question) -> ChoiceSaid | None:
    """Return the one choice that is named among other words ("the broiler is dead"), to be asked about; or None.

    Nothing is returned where two are named, or where the words before the name may deny it.
    """
    said = tuple(_in_words(word) for word in words)
    if not _TURNING.isdisjoint(said):
        return None
    found = [(start, end, c.key) for c in question.choices for start, end in _places_in(said, c)]
    longest = [each for each in found if not any(_inside(each[:2], other[:2]) for other in found)]
    keys = {key for _start, _end, key in longest}
    if len(keys) != 1 or not _DENYING.isdisjoint(said[: max(start for start, _end, _key in longest)]):
        return None
    return ChoiceSaid(keys.pop(), confirm=True)


_TURNING: Final = frozenset({"except", "but", "or", "either", "if", "unless", "instead", "nor", "neither"})
"""Words with which naming a choice may mean another, wherever they stand."""
_DENYING: Final = frozenset({
    "no", "not", "nope", "never", "none", "nothing", "without", "isn't", "aren't", "wasn't", "weren't", "don't",
    "doesn't", "didn't", "won't", "can't", "cannot", "hasn't", "haven't", "hadn't",
})  # fmt: skip
"""Words that deny what is named behind them; behind a name they tell of it ("the broiler doesn't heat")."""
_TELLING_LETTERS: Final = 3
"""A name among other words has this many letters at least: "on" is in every sentence. Judgement, no source."""


def _places_in(said: Words, choice: Choice) -> Iterable[tuple[int, int]]:
    for text in choice.hear:
        for way in _ways(text.lower()):
            if len("".join(way)) < _TELLING_LETTERS or not _DENYING.isdisjoint(way):
                continue
            named = tuple(_in_words(word) for word in way)
            for start in range(len(said) - len(named) + 1):
                if said[start : start + len(named)] == named:
                    yield start, start + len(named)


def _inside(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one != other and other[0] <= one[0] and one[1] <= other[1]


def find_place(words: Sequence[str], bare: Words, question: Question, lexicon: Lexicon) -> CommandSaid | None:
    """Return the wish to go to one of the question's places, or None."""
    start = starting(bare, lexicon.cues.going)
    key = _named(bare[start:], bare[start:], question.places) if start else None
    if key is None:
        key = _named(words, bare, question.places)
    return None if key is None else CommandSaid(Command.GO_TO, key)


def _named(words: Sequence[str], bare: Words, choices: tuple[Choice, ...]) -> str | None:
    said = {tuple(words), bare} | {w[1:] for w in (tuple(words), bare) if w[:1] in (("the",), ("a",), ("it's",))}
    said |= {tuple(_in_words(word) for word in each) for each in said}
    for choice in choices:
        for text in choice.hear:
            if not said.isdisjoint(_ways(text.lower())):
                return choice.key
    return None


def _in_words(word: str) -> str:
    """Return a digit as its word, because names are written in words ("4 wire cord")."""
    return _DIGITS.get(word, word)


_DIGITS: Final = {"1": "one", "2": "two", "3": "three", "4": "four", "5": "five", "6": "six"}


@lru_cache(maxsize=4096)
def _ways(text: str) -> frozenset[tuple[str, ...]]:
    """Return every way to say a choice; kept, because each answer is held to all of them."""
    return frozenset(sentences(phrase_from(text)))
