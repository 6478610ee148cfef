"""What a procedure's file may hold: every table with its keys, as data.

The reader knows from here which keys there are, and the schema for editors is written from here, so that neither can
say something else than the other.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final


@dataclass(frozen=True, slots=True)
class Text:
    """Words on one line, or a single one of `words` where some are named."""

    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Truth:
    """Yes or no."""


@dataclass(frozen=True, slots=True)
class Number:
    """Digits, as 1.80; larger than `above` where that is given."""

    above: float | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Texts:
    """A list of texts, or one text alone; `count` where it has to be so many."""

    words: tuple[str, ...] = ()
    count: int | None = None
    least: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """Two numbers, the lower first."""


@dataclass(frozen=True, slots=True)
class Lists:
    """A list of lists, each of so many texts."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Named:
    """A table of the author's own names, or of some of `names`, with a value behind each."""

    value: "Value"
    names: tuple[str, ...] = ()
    place: str = ""
    """A name with nothing behind it, at which what another file has of this comes."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table: what it holds, what it is for, and whether it has to be there.

    `said` marks words that are said, shown or heard in a job, and so are put into another language.
    """

    holds: "Value"
    says: str
    needed: bool = False
    said: bool = False


@dataclass(frozen=True, slots=True)
class Shape:
    """A table with its keys. `name` is what the schema calls it."""

    name: str
    says: str
    keys: Mapping[str, Key] = field(hash=False)
    elsewhere: tuple[str, ...] = ()
    """Needed keys that may all stand in another file that has the rest of the table."""


@dataclass(frozen=True, slots=True)
class Tables:
    """A list of tables, or one table alone; with `or_text` a text may stand for one."""

    shape: Shape
    or_text: bool = False


@dataclass(frozen=True, slots=True)
class Kinds:
    """A table of one kind or another, told by which of the names of `shapes` is a key of it."""

    name: str
    says: str
    shapes: Mapping[str, Shape] = field(hash=False)

    @property
    def every_key(self) -> frozenset[str]:
        """Return every key that one kind or another may have."""
        return frozenset(key for shape in self.shapes.values() for key in shape.keys)


@dataclass(frozen=True, slots=True)
class Anything:
    """Whatever may stand in a file."""


Value = Anything | Text | Truth | Number | Texts | Span | Lists | Named | Shape | Tables | Kinds


def words_of(words: type[StrEnum]) -> tuple[str, ...]:
    """Return the words of an enumeration, in its order."""
    return tuple(word.value for word in words)


ANY_TEXT: Final = Text()
ANYTHING: Final = Anything()
A_LIST: Final = Texts()
ANSWERS: Final = Named(A_LIST)
"""Recorded fields, each with the answers that are looked for."""
