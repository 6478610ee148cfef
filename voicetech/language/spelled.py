"""The characters that spelled words stand for: "ten thirty one" and "one oh three one" are both 1031."""

from voicetech.language.number_words import DIGITS, TEENS, TENS

_PHONETIC = (
    "alfa alpha bravo charlie delta echo foxtrot golf hotel india juliett juliet kilo lima mike november oscar papa "
    "quebec romeo sierra tango uniform victor whiskey whisky x-ray xray yankee zulu"
)
"""Source: the spelling alphabet of the International Civil Aviation Organization (from memory)."""
_DIGITS = {word: str(value) for value, word in enumerate(DIGITS)}
_DIGITS |= {"oh": "0", "o": "0", "niner": "9"}
_TEENS = {word: str(value) for value, word in enumerate(TEENS, start=10)}
_TENS = {word: str(value) for value, word in enumerate(TENS, start=2)}
_LETTERS = {word: word[0].upper() for word in _PHONETIC.split()}
_MARKS = {"dash": "-", "hyphen": "-", "slash": "/", "point": "."}


def characters(text: str) -> str | None:
    """Return the letters, digits and marks that `text` spells, or None where a word spells nothing."""
    words, at, out = text.lower().split(), 0, ""
    while at < len(words):
        spelled, used = _next(words[at:])
        if not used:
            return None
        out += spelled
        at += used
    return out


def _next(words: list[str]) -> tuple[str, int]:
    """Return the characters of the longest unit at the beginning, and how many words it took."""
    first = words[0]
    if first in _DIGITS and words[1:2] == ["thousand"]:
        return f"{_DIGITS[first]}000", 2
    if first in _DIGITS and words[1:2] == ["hundred"]:
        joined = 3 if words[2:3] == ["and"] else 2
        rest, used = _below_hundred(words[joined:])
        return (f"{_DIGITS[first]}{rest:>02}", joined + used) if used else (f"{_DIGITS[first]}00", 2)
    number, used = _below_hundred(words)
    if used:
        return number, used
    mark = _LETTERS.get(first) or _MARKS.get(first) or (first.upper() if len(first) == 1 else "")
    return mark, 1 if mark else 0


def _below_hundred(words: list[str]) -> tuple[str, int]:
    if not words:
        return "", 0
    first, second = words[0], words[1] if len(words) > 1 else ""
    if first in _TENS:
        ones = _DIGITS.get(second, "0") if second not in ("oh", "o", "zero") else "0"
        return (_TENS[first] + ones, 2) if ones != "0" else (f"{_TENS[first]}0", 1)
    if first in _TEENS:
        return _TEENS[first], 1
    return (_DIGITS[first], 1) if first in _DIGITS else ("", 0)
