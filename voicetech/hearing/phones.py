"""How words sound: phones from pronouncing dictionaries, and how far two sounds are apart.

Phones are those of ARPAbet without stress, as English pronouncing dictionaries write them.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.util import find_spec
from math import hypot
from pathlib import Path
from typing import Final

from voicetech.hearing.second_ear import PACKAGE, load_pronunciations

Phones = tuple[str, ...]

_PREFIXES: Final = ("un", "re")
_SHORTEST_PART: Final = 3
_CONSONANTS: Final[Mapping[str, tuple[str, str, bool]]] = {
    "P": ("stop", "lips", False),
    "B": ("stop", "lips", True),
    "T": ("stop", "ridge", False),
    "D": ("stop", "ridge", True),
    "K": ("stop", "back", False),
    "G": ("stop", "back", True),
    "CH": ("stop", "palate", False),
    "JH": ("stop", "palate", True),
    "F": ("fricative", "lips", False),
    "V": ("fricative", "lips", True),
    "TH": ("fricative", "ridge", False),
    "DH": ("fricative", "ridge", True),
    "S": ("fricative", "ridge", False),
    "Z": ("fricative", "ridge", True),
    "SH": ("fricative", "palate", False),
    "ZH": ("fricative", "palate", True),
    "HH": ("fricative", "back", False),
    "M": ("nasal", "lips", True),
    "N": ("nasal", "ridge", True),
    "NG": ("nasal", "back", True),
    "L": ("liquid", "ridge", True),
    "R": ("liquid", "palate", True),
    "Y": ("liquid", "palate", True),
    "W": ("liquid", "lips", True),
}
"""Manner, place and voice. Source: the usual chart of English consonants (from memory)."""
_VOWELS: Final[Mapping[str, tuple[float, float]]] = {
    "IY": (0.0, 0.0),
    "IH": (0.25, 0.15),
    "EY": (0.4, 0.05),
    "EH": (0.6, 0.2),
    "AE": (0.85, 0.2),
    "AH": (0.6, 0.6),
    "ER": (0.5, 0.55),
    "AA": (1.0, 0.7),
    "AO": (0.8, 0.95),
    "OW": (0.5, 1.0),
    "UH": (0.3, 0.8),
    "UW": (0.0, 0.95),
    "AY": (0.7, 0.35),
    "AW": (0.75, 0.75),
    "OY": (0.6, 0.8),
}
"""How open and how far back each vowel is, from 0 to 1. Source: the usual chart of English vowels (from memory)."""
_GLIDING: Final = frozenset({"AY", "AW", "OY"})
_EASILY_LOST: Final = frozenset({"P", "T", "K", "D", "S", "Z", "HH", "R", "L", "W", "Y", "N", "AH", "IH"})
"""Phones that come and go in quick speech and behind noise. Judgement, no source."""
LOST: Final = 0.5
ADDED: Final = 0.8
"""What a phone more or less counts, one that is easily lost or another. Judgement, no source."""
MANNER: Final = 0.35
PLACE: Final = 0.25
VOICE: Final = 0.45
NASAL: Final = 0.2
"""What a difference between consonants counts. Noise takes the place of a sound first, its manner next, and whether it
is voiced or nasal last. Source: measured confusions of consonants in noise, a study of 1955 (from memory); the
figures are judgement."""


def apart(one: Phones, other: Phones, most: float) -> float:
    """Return how far two sounds are apart: 0 the same, 1 one phone that nobody mistakes; no further than `most`."""
    before = [0.0]
    for phone in other:
        before.append(before[-1] + _gone(phone))
    for phone in one:
        row = [before[0] + _gone(phone)]
        for at, against in enumerate(other):
            row.append(
                min(before[at] + _unlike(phone, against), before[at + 1] + _gone(phone), row[at] + _gone(against))
            )
        if min(row) > most:
            return most
        before = row
    return min(before[-1], most)


def _gone(phone: str) -> float:
    return LOST if phone in _EASILY_LOST else ADDED


@cache
def _unlike(one: str, other: str) -> float:
    if one == other:
        return 0.0
    if one in _CONSONANTS and other in _CONSONANTS:
        (manner, place, voiced), (its_manner, its_place, its_voice) = _CONSONANTS[one], _CONSONANTS[other]
        nasal = (manner == "nasal") != (its_manner == "nasal")
        far = (manner != its_manner) * MANNER + (place != its_place) * PLACE + (voiced != its_voice) * VOICE
        return max(far + nasal * NASAL, PLACE)
    if one in _VOWELS and other in _VOWELS:
        (open_, back), (its_open, its_back) = _VOWELS[one], _VOWELS[other]
        gliding = (one in _GLIDING) != (other in _GLIDING)
        return min(1.0, hypot(open_ - its_open, back - its_back) + gliding * 0.5)
    return 1.0


class Pronunciations:
    """Phones of English words; `known` has them written with spaces between."""

    def __init__(self, known: Mapping[str, str]) -> None:
        self._known = known

    @property
    def words(self) -> Iterable[str]:
        """Return every word it knows."""
        return self._known

    def of_word(self, word: str) -> Phones | None:
        """Return how a word sounds, put together of two words where it is a compound; None where it is not known."""
        found = self._whole(word) or self._of_two(word)
        return tuple(found.split()) if found else None

    def _whole(self, word: str) -> str | None:
        stem = word.removesuffix("'s")
        owned = f"{self._known[stem]} Z" if stem != word and stem in self._known else None
        return self._known.get(word) or self._known.get(word.replace("'", "")) or owned

    def _of_two(self, word: str) -> str | None:
        for at in range(len(word) - _SHORTEST_PART, 1, -1):
            head, tail = word[:at], word[at:]
            if (len(head) >= _SHORTEST_PART or head in _PREFIXES) and head in self._known and tail in self._known:
                return f"{self._known[head]} {self._known[tail]}"
        return None

    def of_text(self, words: Sequence[str]) -> Phones | None:
        """Return how these words sound one after the other, or None where one of them is not known."""
        found: list[str] = []
        for word in words:
            phones = self.of_word(word)
            if phones is None:
                return None
            found += phones
        return tuple(found)


@cache
def load_dictionary() -> Pronunciations | None:
    """Return the pronunciations, or None where the package that brings the dictionary is not installed."""
    if find_spec(PACKAGE) is None:
        return None
    from pocketsphinx import get_model_path

    text = Path(get_model_path("en-us"), "cmudict-en-us.dict").read_text(encoding="utf-8")
    known = dict(line.split(" ", 1) for line in text.splitlines() if " " in line)
    return Pronunciations({**load_pronunciations(), **known})
