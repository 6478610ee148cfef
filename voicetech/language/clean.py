"""From any text to tokens: normalised, bounded, nothing executed, in linear time.

Tokens keep how they were typed beside their plain form, because "M" and "m" are not the same scale.
"""

import re
import unicodedata
from collections.abc import Container, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from voicetech.language.meaning import Flag

LONGEST_TEXT = 4000
"""Characters that are read; a longer text is looked at for danger only, at its start and its end."""

_VULGAR = re.compile(r"(\d{0,6})\s?([½⅓⅔¼¾⅕⅛⅜⅝⅞])")
_FOREIGN_DIGIT = re.compile(r"[^\x00-\x7f]")
_INVISIBLE = {"Cc", "Cf", "Co", "Cs", "Cn"}
_KEPT_CONTROLS = "\n\t\r"
_NOT_QUITE_DIGITS = {"No", "Nl"}
_CODE = re.compile(r"[{}\\^*|`;]|\$\(|__|</|/>|==|%[a-z]%|\b(?:ignore (?:all |previous )|drop table)|=[A-Z]+\(")
_STRETCHED = re.compile(r"([^\W\d_])\1{2,}")
NOTHING: Mapping[str, str] = MappingProxyType({})
_SPACED_THOUSANDS = re.compile(r"(?<=\d)[\u00a0\u202f\u2009](?=\d{3}(?!\d))")
_TOKEN = re.compile(
    # Dates and telephone numbers are no readings, whatever was asked.
    r"(?P<dated>(?<![\w.])(?:\d{1,2}-\d{1,2}-\d{2,4}|\d{4}-\d{2}-\d{2}|(?:\d{3}-)?\d{3}-0\d{3}|\d{3}-\d{3}-\d{4})(?![\w.]))"
    r"|(?P<unknown>\[[^\[\]]{0,40}\]|<unk>|\(unk\))"
    r"|(?P<hex>0[xX][0-9a-fA-F]+)"
    r"|(?P<over>0[lL](?![a-zA-Z0-9]))"
    r"|(?P<clock>(?<![\d:.,])\d{1,2}:\d{2}(?![\d:.,]))"
    r"|(?P<exponent>\d+(?:\.\d+)?[eE][+-]?\d+(?![\w.]))"
    r"|(?P<notation>\d+[kKMRr]\d+(?![\w.]))"
    r"|(?P<number>\d+(?:[.,:]\d+)*|(?<![\w.])[.,]\d+)"
    r"|(?P<mixed>\u2044[0-9/]+)"
    r"|(?P<initials>(?:[A-Za-z]\.){2,})"
    r"|(?P<degree>°\s?[cCfF]?(?![a-z]))"
    r"|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<mark>[^\w\s])"
    r"|(?P<other>\S)"
)


class Kind(StrEnum):
    """What a token is made of."""

    WORD = "word"
    NUMBER = "number"
    MARK = "mark"
    PICTURE = "picture"
    UNKNOWN = "unknown"
    JUNK = "junk"


@dataclass(frozen=True, slots=True)
class Token:
    """A piece of the text: its plain form, how it was typed, and whether it touched the token before it."""

    text: str
    typed: str
    kind: Kind
    glued: bool = False


@dataclass(frozen=True, slots=True)
class Cleaned:
    """The tokens of a text and what was noticed while cleaning it."""

    tokens: tuple[Token, ...]
    flags: frozenset[Flag]
    too_long: bool = False
    foreign_digits: bool = False
    lookalike_digits: bool = False


def clean(
    text: str, contractions: Mapping[str, str] = NOTHING, known: Container[str] = (), letters: Container[str] = ()
) -> Cleaned:
    """Return the tokens of `text`: compatibility forms folded, invisible characters dropped, lower case.

    `letters` are those that may be typed beside a to z.
    """
    too_long = len(text) > LONGEST_TEXT
    if too_long:
        text = f"{text[:LONGEST_TEXT]} {text[-LONGEST_TEXT:]}"
    flags: set[Flag] = set()
    lookalike = any(unicodedata.category(c) in _NOT_QUITE_DIGITS and not _VULGAR.match(c) for c in text if c > "\x7f")
    text = _VULGAR.sub(_mixed_number, _SPACED_THOUSANDS.sub("", text))
    text = unicodedata.normalize("NFKC", text)
    seen = "".join(
        " " if c in _KEPT_CONTROLS else c
        for c in text
        if c in _KEPT_CONTROLS or unicodedata.category(c) not in _INVISIBLE
    )
    if len(seen) != len(text):
        flags.add(Flag.STRIPPED_CONTROL)
    seen = seen.replace("’", "'").replace("‘", "'").replace("`", "'") if "`" not in text else seen
    plain = _FOREIGN_DIGIT.sub(_ascii_digit, seen)
    if _CODE.search(plain):
        flags.add(Flag.INJECTION)
    tokens = _tokens(plain, contractions, known)
    if any(t.kind is Kind.WORD and not _latin(t.text, letters) for t in tokens):
        flags.add(Flag.WRONG_LANGUAGE)
    return Cleaned(tokens, frozenset(flags), too_long, plain != seen, lookalike)


def _mixed_number(match: "re.Match[str]") -> str:
    ratio = unicodedata.normalize("NFKC", match[2]).replace("\u2044", "/")
    return f"{match[1]} \u2044{ratio} "


def _ascii_digit(match: "re.Match[str]") -> str:
    digit = unicodedata.decimal(match[0], None)
    return match[0] if digit is None else str(digit)


def _latin(word: str, letters: Container[str]) -> bool:
    return all(c < "\x7f" or c in "Ωωμµ°∞é" or c in letters for c in word)


def _tokens(text: str, contractions: Mapping[str, str], known: Container[str]) -> tuple[Token, ...]:
    tokens: list[Token] = []
    end = 0
    for match in _TOKEN.finditer(text):
        typed = match[0]
        glued = bool(tokens) and match.start() == end
        end = match.end()
        if match["clock"]:
            tokens += _clock(typed)
            continue
        tokens.append(_token(match.lastgroup or "other", typed, glued, contractions, known))
    return tuple(tokens)


def _token(group: str, typed: str, glued: bool, contractions: Mapping[str, str], known: Container[str]) -> Token:
    match group:
        case "word":
            text = typed.lower()
            return Token(contractions.get(text, _unstretched(text, known)), typed, Kind.WORD, glued)
        case "over":
            return Token("ol", typed, Kind.WORD, glued)
        case "initials":
            return Token(typed.replace(".", "").lower(), typed, Kind.WORD, glued)
        case "degree":
            return Token({"c": "celsius", "f": "fahrenheit"}.get(typed[-1].lower(), "degrees"), typed, Kind.WORD, glued)
        case "number" | "notation" | "exponent" | "mixed":
            return Token(typed, typed, Kind.NUMBER, glued)
        case "dated":
            return Token(typed, typed, Kind.UNKNOWN, glued)
        case "unknown":
            return Token(typed.lower().strip("[]<>()"), typed, Kind.UNKNOWN, glued)
        case "mark":
            symbol = unicodedata.category(typed) in ("So", "Sk")
            return Token(typed, typed, Kind.PICTURE if symbol else Kind.MARK, glued)
        case _:
            return Token(typed.lower(), typed, Kind.JUNK, glued)


def _clock(typed: str) -> list[Token]:
    """Return "2:38" as the pair that was said before a recogniser made a time of it; its zeros are digits."""
    hours, minutes = typed.split(":")
    parts = [hours.lstrip("0") or "0", *(minutes if minutes.startswith("0") else [minutes])]
    return [Token(part, typed, Kind.NUMBER) for part in parts]


def _unstretched(word: str, known: Container[str]) -> str:
    """Return "beeeep" as the word it stretches, where that is a known one."""
    if word in known or not _STRETCHED.search(word):
        return word
    for times in (r"\1\1", r"\1"):
        shorter = _STRETCHED.sub(times, word)
        if shorter in known:
            return shorter
    return word


def words_of(tokens: tuple[Token, ...]) -> tuple[str, ...]:
    """Return the plain words, numbers and pictures, without punctuation."""
    return tuple(t.text for t in tokens if t.kind in (Kind.WORD, Kind.NUMBER, Kind.PICTURE) or t.text == "∞")
