"""Several results in one breath, each named: "L1 to H1 open, L2 to H2 closed", "first one's open, second one's fine".

The utterance has to begin with a name, and what follows each name has to be one whole result; else nothing is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from voicetech.language.clean import Kind, Token, words_of
from voicetech.language.items import label_at
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import NO_PLACE, Asking, Flag, Question, ReadingSaid, SeveralSaid, State, StateSaid
from voicetech.language.phrasing import bare_words, without_leads
from voicetech.language.results import read_result

_PRONOUNS = frozenset({"one", "one's", "ones"})
_BE = frozenset({"is", "was", "reads", "shows", "read", "measures"})
_WELL = frozenset({("fine",), ("good",), ("ok",), ("okay",), ("alright",)})
_FEWEST = 2
_MULTIPLE = frozenset({Flag.MULTIPLE})


def read_in_one_breath(tokens: Sequence[Token], question: Question, lexicon: Lexicon) -> SeveralSaid | None:
    """Return the results of all the places named, None where the utterance is anything else."""
    names = _names(tokens, lexicon)
    if len(names) < _FEWEST or any(token.kind is not Kind.MARK for token in tokens[: names[0].start]):
        return None
    parts: list[ReadingSaid | StateSaid] = []
    for name, following in pairwise([*names, _Name(None, len(tokens), len(tokens))]):
        part = _result(tokens[name.end : following.start], question, lexicon)
        if part is None:
            return None
        parts.append(replace(part, label=name.label))
    confirm = any(part.confirm or part.label is None or part.label in NO_PLACE for part in parts)
    units = {part.unit for part in parts if isinstance(part, ReadingSaid)}
    return SeveralSaid(tuple(parts), next(iter(units)) if len(units) == 1 else None, _MULTIPLE, confirm)


@dataclass(frozen=True, slots=True)
class _Name:
    """A place or two terminals, and the tokens that name them; "one's" names nothing but begins a result."""

    label: str | None
    start: int
    end: int


def _names(tokens: Sequence[Token], lexicon: Lexicon) -> list[_Name]:
    found: list[_Name] = []
    at = 0
    while at < len(tokens):
        name = _name_at(tokens, at, lexicon)
        if name is not None:
            found.append(name)
        at = at + 1 if name is None else name.end
    return found


def _name_at(tokens: Sequence[Token], at: int, lexicon: Lexicon) -> _Name | None:
    after = at + 1 if tokens[at].text in ("the", "and") and at + 1 < len(tokens) else at
    if after > at and tokens[after].text == "the" and after + 1 < len(tokens):
        after += 1
    word = tokens[after].text
    place, short = word.removesuffix("'s"), word.endswith("'s")
    if place in lexicon.ordinals:
        following = tokens[after + 1].text if after + 1 < len(tokens) else ""
        pronoun = (following in _PRONOUNS or following in lexicon.findings.parts) and not short
        named = f"{place} {following}" if pronoun and following not in _PRONOUNS else place
        return _Name(named, at, after + 1 + pronoun)
    if word in ("one's", "one") and (short or (after + 1 < len(tokens) and tokens[after + 1].text in _BE)):
        return _Name(None, at, after + 1)
    label, end = label_at(tokens, after, lexicon)
    return _Name(label, at, end) if label is not None and "-" in label else None


def _result(tokens: Sequence[Token], question: Question, lexicon: Lexicon) -> ReadingSaid | StateSaid | None:
    """Return the one result that all of the tokens say, without the words and marks around it."""
    piece = list(tokens)
    while piece and (piece[-1].kind is Kind.MARK or piece[-1].text in ("and", "but", "then")):
        piece.pop()
    while piece and (piece[0].kind is Kind.MARK or piece[0].text in _BE):
        piece.pop(0)
    words = words_of(tuple(piece))
    if not words:
        return None
    bare = without_leads(words, lexicon) or bare_words(words, lexicon)
    if question.asking is Asking.CONTINUITY and bare in _WELL:
        return StateSaid(State.CLOSED, confirm=True)
    said = read_result(tuple(piece), words, question, lexicon)
    return said if isinstance(said, (ReadingSaid, StateSaid)) and said.label is None else None
