"""How a recogniser may write each spoken word: the table in `grammars/spellings.yaml`, read and checked."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from voicetech.authoring.shipped import shipped_folder
from voicetech.hearing.errors import HearingError
from voicetech.hearing.word_tables import read_table

_SEPARATORS = re.compile(r"[\s,.\-?!:;…]+")
_APOSTROPHES = re.compile(r"['’‘`]")


class SpellingsError(HearingError):
    """The table cannot be used; the message names file, place and remedy."""


@dataclass(frozen=True, slots=True)
class Spellings:
    """Written forms of spoken words, in plain form; mishearings cost probability.

    `joined` may be glued on. `unspelled` are short words that spell nothing when they are written as words.
    """

    forms: Mapping[str, tuple[str, ...]]
    mishearings: Mapping[str, tuple[str, ...]]
    joined: frozenset[str] = frozenset()
    unspelled: frozenset[str] = frozenset()

    def of(self, word: str) -> tuple[str, ...]:
        """Return the forms that are as good as the word itself, its own first."""
        return tuple(dict.fromkeys((plain(word), *self.forms.get(word, ()))))

    def misheard(self, word: str) -> tuple[str, ...]:
        """Return the forms that stand for the word at a cost."""
        known = self.of(word)
        return tuple(form for form in self.mishearings.get(word, ()) if form not in known)


def plain(text: str) -> str:
    """Return text in lower case, apostrophes dropped, every run of separators one space, none at the ends."""
    return _SEPARATORS.sub(" ", _APOSTROPHES.sub("", text.lower())).strip()


def load_spellings(path: Path | None = None) -> Spellings:
    """Return the table in `path`, by default the one shipped. Raises SpellingsError with the place of a mistake."""
    place = path or shipped_folder("grammars") / "spellings.yaml"
    found = read_table(place, SpellingsError)
    if not isinstance(found, dict):
        raise SpellingsError(f"{place}: needs the mappings spellings and mishearings, from each word to its forms")
    joined, unspelled = (_words(place, found, name) for name in ("joined", "unspelled"))
    return Spellings(_forms(place, found, "spellings"), _forms(place, found, "mishearings"), joined, unspelled)


def _words(place: Path, found: Mapping[str, object], name: str) -> frozenset[str]:
    words = found.get(name, [])
    if not isinstance(words, list) or not _texts(words):
        raise SpellingsError(f"{place}: {name} must be a list of words")
    return frozenset(words)


def _forms(place: Path, found: Mapping[str, object], name: str) -> dict[str, tuple[str, ...]]:
    table = found.get(name)
    if not isinstance(table, dict):
        raise SpellingsError(f"{place}: needs a mapping named {name}, from each word to a list of forms")
    forms = {}
    for word, others in table.items():
        if not isinstance(word, str) or not _texts(others):
            raise SpellingsError(
                f"{place}: {name} of {word!r} must be a list of texts; put numbers, yes, no, on and off in quotes"
            )
        forms[word] = tuple(plain(form) for form in others)
    return forms


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)
