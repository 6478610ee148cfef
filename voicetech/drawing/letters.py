"""How wide words are on paper, and how they are broken into lines.

Widths are those of a plain sans-serif as Arial and its like have it, in parts of the height, with some room: whichever
of the named fonts a machine has, what is laid out here fits.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

FONTS: Final = "Liberation Sans, Arimo, Arial, Helvetica, sans-serif"
_CLASSES: Final = {
    0.24: "ijl'",
    0.30: "|ftI.,:;!/\\[] ",
    0.34: "r-()",
    0.52: "ckszvxyJ*",
    0.38: '"',
    0.57: "abdeghnopqu0123456789?L_#$",
    0.60: "+=<>",
    0.68: "ABEFKPSTVXYZ&",
    0.75: "CDHNRUw",
    0.80: "GOQ~",
    0.86: "mM",
    0.97: "W%",
    1.03: "@",
}
"""Widths of Arial's letters, rounded up (from memory)."""
_WIDTHS: Final = {letter: width for width, letters in _CLASSES.items() for letter in letters}
_OTHER: Final = 0.80
_HEAVY: Final = 1.08


@dataclass(frozen=True, slots=True)
class Word:
    """A word in plain or heavy letters."""

    text: str
    heavy: bool = False


Line = tuple[Word, ...]


def width_of(text: str, size: float, *, heavy: bool = False) -> float:
    """Return how wide a text is at most, in the unit of its size."""
    return sum(_WIDTHS.get(letter, _OTHER) for letter in text) * size * (_HEAVY if heavy else 1)


def line_width(line: Line, size: float) -> float:
    """Return how wide a line of words is at most."""
    spaces = width_of(" ", size) * max(0, len(line) - 1)
    return sum(width_of(word.text, size, heavy=word.heavy) for word in line) + spaces


def words_of(text: str, *, heavy: bool = False) -> Line:
    """Return a text as words."""
    return tuple(Word(part, heavy) for part in text.split())


def broken(words: Iterable[Word], size: float, width: float) -> tuple[Line, ...]:
    """Return words in lines of this width; a word that is wider by itself is broken."""
    lines: list[Line] = []
    line: Line = ()
    for word in words:
        for piece in _pieces(word, size, width):
            if line and line_width((*line, piece), size) > width:
                lines.append(line)
                line = ()
            line = (*line, piece)
    return (*lines, line) if line else tuple(lines)


def _pieces(word: Word, size: float, width: float) -> Iterable[Word]:
    rest = word.text
    while len(rest) > 1 and width_of(rest, size, heavy=word.heavy) > width:
        fits = len(rest) - 1
        while fits > 1 and width_of(rest[:fits], size, heavy=word.heavy) > width:
            fits -= 1
        yield Word(rest[:fits], word.heavy)
        rest = rest[fits:]
    yield Word(rest, word.heavy)


def lines_of(text: str, size: float, width: float, *, heavy: bool = False) -> tuple[Line, ...]:
    """Return a text in lines of this width."""
    return broken(words_of(text, heavy=heavy), size, width)
