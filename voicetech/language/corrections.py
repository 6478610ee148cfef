"""Second thoughts: "no, two forty" after a read-back, "scratch that", and repairs inside one utterance."""

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from voicetech.language.clean import Token, words_of
from voicetech.language.commands import is_number
from voicetech.language.items import ItemKind, items_of
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import (
    Asking,
    CorrectionSaid,
    Flag,
    Meaning,
    Question,
    ReadingSaid,
    State,
    StateSaid,
    Unclear,
)
from voicetech.language.phrasing import bare_words, starting
from voicetech.language.results import read_result


def read_correction(tokens: tuple[Token, ...], words: Words, question: Question, lexicon: Lexicon) -> Meaning | None:
    """Return the correction the utterance starts with, or None.

    Without a read-back before it, an explicit one is asked to be confirmed and a bare "no" is Unclear.
    """
    bare = bare_words(words, lexicon)
    alone = lexicon.repairs["alone"]
    twice = any(bare[:cut] in alone and bare[cut:] in alone for cut in range(1, len(bare)))
    if words in alone or bare in alone or twice:
        return CorrectionSaid(None, confirm=not question.after_read_back)
    if _withdrawn_because(bare, lexicon):
        return CorrectionSaid(None, confirm=not question.after_read_back)
    tokens = _from_word(tokens, _fillers_before(words, bare))
    words = words_of(tokens)
    if question.after_read_back:
        contrast = _not_this_but_that(tokens, question, lexicon)
        if contrast is not None:
            return contrast
        repaired = read_repaired(tokens, question, lexicon) if "not" in words else None
        if isinstance(repaired, (ReadingSaid, StateSaid)):
            return CorrectionSaid(repaired, confirm=repaired.confirm)
    length = starting(words, lexicon.repairs["start"])
    if not length or length == len(words) or starting(words, lexicon.approximations) > length:
        return None
    cue = words[:length]
    rest = _from_word(tokens, length)
    result = read_repaired(rest, question, lexicon) or read_result(rest, words_of(rest), question, lexicon)
    if not isinstance(result, (ReadingSaid, StateSaid)):
        return read_correction(rest, words_of(rest), question, lexicon) if result is None else None
    if question.after_read_back:
        return CorrectionSaid(result, confirm=result.confirm)
    if cue[-2:] == ("first", "one"):
        return _corrected(result, result)
    if any((word,) in lexicon.repairs["explicit"] for word in cue):
        return CorrectionSaid(result, confirm=True)
    if question.asking is Asking.CONTINUITY and isinstance(result, StateSaid) and result.state is State.OPEN:
        return result
    if cue[0] in ("no", "nope", "nah", "negative", "not", "wrong", "incorrect"):
        return Unclear("Is that a correction?", (result,), frozenset({Flag.NEGATED}), offer=True)
    if "should" in cue:
        return Unclear("What does the meter show?", (result,), frozenset({Flag.NOT_MEASURED}))
    return result


def _withdrawn_because(words: Words, lexicon: Lexicon) -> bool:
    """Return whether a reading is withdrawn with a clause behind it that says why, and no other given."""
    length = starting(words, lexicon.repairs["alone"])
    why = words[length:]
    return (
        length > 1
        and why[:1] != ()
        and why[0] in lexicon.cues.clauses
        and not any(is_number(word, lexicon) for word in why)
    )


def read_repaired(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> Meaning | None:
    """Return the reading after the last repair cue inside the utterance ("two thirty, scratch that, two forty")."""
    words = words_of(tokens)
    cut = _last_cue(words, lexicon)
    if cut is None:
        return None
    start, end = cut
    before, after = _up_to_word(tokens, start), _from_word(tokens, end)
    old = read_result(before, words_of(before), question, lexicon)
    if old is None:
        return None
    if not after:
        return Unclear("What should it be?", (old,), frozenset({Flag.NEGATED}))
    if words[start:end] == ("not",):
        wrong = read_result(after, words_of(after), question, lexicon)
        if isinstance(old, (ReadingSaid, StateSaid)) and isinstance(wrong, (ReadingSaid, StateSaid)):
            return _corrected(old, wrong)
        return None
    new = read_result(after, words_of(after), question, lexicon)
    if isinstance(new, (ReadingSaid, StateSaid)):
        return _corrected(new, old)
    unit = _only_a_unit(after, question, lexicon)
    if unit is not None and isinstance(old, ReadingSaid):
        numbers = tuple(t for t in before if not _unit_or_scale(t, lexicon))
        both = numbers + after
        new = read_result(both, words_of(both), question, lexicon)
        return _corrected(new, old) if isinstance(new, ReadingSaid) else None
    return None


def _corrected(new: ReadingSaid | StateSaid, old: Meaning) -> ReadingSaid | StateSaid:
    confirm = new.confirm
    if isinstance(new, ReadingSaid) and isinstance(old, ReadingSaid):
        confirm = confirm or new.value in old.rivals or _teen_for_ten(new.value, old.value)
    return replace(new, flags=new.flags | {Flag.SELF_CORRECTED}, confirm=confirm)


def _teen_for_ten(new: Decimal, old: Decimal) -> bool:
    """Return whether one is the other with its teen heard as a ten ("sixteen, no, sixty")."""
    teen, ten = sorted((new % 100, old % 100))
    return new // 100 == old // 100 and 13 <= teen <= 19 and ten == (teen - 10) * 10


def _last_cue(words: Words, lexicon: Lexicon) -> tuple[int, int] | None:
    found = None
    at = 0
    while at < len(words):
        length = starting(words[at:], lexicon.repairs["inside"])
        if length and at > 0:
            found = (found[0] if found and found[1] == at else at, at + length)
        at += max(length, 1)
    return found


def _not_this_but_that(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> CorrectionSaid | None:
    """Return "not two thirty, two forty" as a correction to the second."""
    words = words_of(tokens)
    if words[:1] not in (("not",), ("isn't",)) and words[:2] not in (("it's", "not"), ("no", "not"), ("it", "isn't")):
        return None
    pause = next((i for i, t in enumerate(tokens) if i > 1 and t.text in (",", ".", "but", ";")), None)
    if pause is None:
        return None
    rest = tokens[pause + 1 :]
    result = read_result(rest, words_of(rest), question, lexicon) if rest else None
    return CorrectionSaid(result, confirm=result.confirm) if isinstance(result, (ReadingSaid, StateSaid)) else None


def _unit_or_scale(token: Token, lexicon: Lexicon) -> bool:
    number = lexicon.numbers.get((token.text,))
    return token.text in lexicon.units or (number is not None and number.role == "scale")


def _only_a_unit(tokens: tuple[Token, ...], question: Question, lexicon: Lexicon) -> bool | None:
    items = items_of(tokens, question.asking, lexicon)
    wanted = [i for i in items if i.kind not in (ItemKind.PAUSE, ItemKind.FILLER, ItemKind.LEAD)]
    scale_only = all(i.kind is ItemKind.UNIT or (i.atom is not None and i.atom.letter == "S") for i in wanted)
    return True if wanted and scale_only else None


def _fillers_before(words: Words, bare: Words) -> int:
    for start in range(len(words) - len(bare) + 1):
        if words[start : start + len(bare)] == bare:
            return start
    return 0


def _from_word(tokens: Sequence[Token], count: int) -> tuple[Token, ...]:
    """Return the tokens after `count` words and the punctuation behind them."""
    at = _index(tokens, count)
    rest = tuple(tokens[at:])
    while rest and not words_of(rest[:1]) and rest[0].text in ",.;:!?…-":
        rest = rest[1:]
    return rest


def _up_to_word(tokens: Sequence[Token], count: int) -> tuple[Token, ...]:
    kept = tuple(tokens[: _index(tokens, count)])
    while kept and kept[-1].text in (",", ".", ";", "!", "?", "…", "-"):
        kept = kept[:-1]
    return kept


def _index(tokens: Sequence[Token], count: int) -> int:
    seen = 0
    for index, token in enumerate(tokens):
        if seen == count and words_of((token,)):
            return index
        seen += len(words_of((token,)))
    return len(tokens)
