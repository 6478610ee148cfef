"""Where, when and with what a result was read, said behind it: "open with one wire off", "two forty out on high".

It changes nothing of what the meter shows. Only words that are known for it count, up to the end of the answer, so
that no second result, rating or memory passes for one; where it speaks against the question ("on low", asked on
high), the answer is asked to be confirmed.
"""

from collections.abc import Sequence
from typing import Final

from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import Question

_PLACED = frozenset({"at", "in", "on", "across", "through", "behind", "inside", "off", "from", "by"})
_DETERMINERS = frozenset({"the", "my", "this", "that", "its", "their"})
_LONGEST_PLACE = 6
PART: Final = "<part>"
"""Stands for any part or place in what a word may follow."""
_LONGEST = 12


def circumstance_length(words: Sequence[str], start: int, lexicon: Lexicon, *, of_a_number: bool = False) -> int:
    """Return how many words from a place to the end only tell the circumstances of a result, or 0.

    Behind a number a word that may make it a rating ("breaker", "plug") tells none.
    """
    place = _place_length(words, start, lexicon)
    if place:
        return place
    told = tuple(words[start:])
    known = lexicon.circumstances
    if not 1 <= len(told) <= _LONGEST or told[0] not in known.heads or told[-1] in known.open_ends:
        return 0
    if len(told) == 1:
        return int(told[0] in known.alone and not (of_a_number and told in lexicon.numbers))
    if of_a_number and any(_says_more(told, at, lexicon) for at in range(len(told))):
        return 0
    return len(told) if all(_known(told, at, lexicon) for at in range(1, len(told))) else 0


def without_circumstance(words: Words, lexicon: Lexicon) -> Words:
    """Return the words without the circumstances at their end."""
    return next((words[:at] for at in range(1, len(words)) if circumstance_length(words, at, lexicon)), words)


def without_place(words: Words, lexicon: Lexicon) -> Words:
    """Return the words without the place that is named at their end."""
    return next((words[:at] for at in range(1, len(words)) if _place_length(words, at, lexicon)), words)


def against(words: Sequence[str], wording: str, lexicon: Lexicon) -> bool:
    """Return whether the circumstances name another position or state than the wording of a question does."""
    asked = {word.strip(".,:;?!'\"") for word in wording.lower().split()}
    for rivals in lexicon.circumstances.rivals:
        said = {name for name, forms in rivals.items() if _names(words, forms, lexicon)}
        wanted = {name for name, forms in rivals.items() if forms & asked}
        if said and wanted and not said & wanted:
            return True
    return False


def of_another_part(words: Sequence[str], question: Question, lexicon: Lexicon) -> bool:
    """Return whether an answer names another part or place than the one that is asked for ("broil reads nineteen")."""
    asked = {word.strip(".,:;?!'\"").removesuffix("'s") for word in question.wording.lower().split()}
    asked |= {word for label in question.labels for word in label.lower().replace("-", " ").split()}
    answered = {word.removesuffix("'s") for word in words}
    for rivals in lexicon.circumstances.parts:
        said = {name for name, forms in rivals.items() if forms & answered}
        wanted = {name for name, forms in rivals.items() if forms & asked}
        if said and wanted and not said & wanted:
            return True
    return False


def _names(words: Sequence[str], forms: frozenset[str], lexicon: Lexicon) -> bool:
    taken_off = lexicon.circumstances.taken_off
    return any(
        word in forms and not (word == "off" and at and words[at - 1] in taken_off) for at, word in enumerate(words)
    )


def _known(words: Words, at: int, lexicon: Lexicon) -> bool:
    word = words[at]
    known = lexicon.circumstances
    led_by = known.only_after.get(word)
    if led_by is not None:
        return words[at - 1] in led_by or (words[at - 1] in lexicon.places and PART in led_by)
    if word.removesuffix("'s") in known.words or word in lexicon.places or word in lexicon.conducting:
        return True
    if word == "one":
        return words[at - 1] in known.before_one
    if word in lexicon.units and known.ranges.intersection(words[at + 1 : at + 3]):
        return True
    if (word,) in lexicon.numbers or word[0].isdigit():
        return _lasted(words, at, lexicon)
    return (word,) in lexicon.times and any(before in known.lasting for before in words[:at])


def _lasted(words: Words, at: int, lexicon: Lexicon) -> bool:
    """Return whether a number counts minutes or turns, or names a range ("on the two hundred ohm range")."""
    known = lexicon.circumstances
    led = any(word in known.lasting for word in words[:at])
    following = words[at + 1 : at + 4]
    counted = led and any((word,) in lexicon.times or word in known.counted for word in following)
    return counted or bool(known.ranges.intersection(following))


def _says_more(words: Words, at: int, lexicon: Lexicon) -> bool:
    """Return whether words behind a number make it a rating, or the number of several pairs."""
    more = lexicon.not_measured | lexicon.each | lexicon.all_of_them
    return any(words[at : at + length] in more for length in (1, 2, 3))


def _place_length(words: Sequence[str], start: int, lexicon: Lexicon) -> int:
    """Return the length of a place that is named to the end ("at the dryer plug"), or 0.

    What is printed somewhere ("on the plate") is no place, because a number there was not measured.
    """
    place = tuple(words[start:])
    if not 3 <= len(place) <= _LONGEST_PLACE or place[0] not in _PLACED or place[1] not in _DETERMINERS:
        return 0
    between = place[2:-1]
    named = place[-1] in lexicon.places and not any(
        word[0].isdigit() or (word,) in lexicon.not_measured or (word,) in lexicon.numbers or word in lexicon.units
        for word in between
    )
    return len(place) if named else 0
