"""How a recogniser may write each spoken word: the table in `grammars/spellings.yaml`, read and checked."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError

_SEPARATORS = re.compile(r"[\s,.\-?!:;…]+")
_APOSTROPHES = re.compile(r"['’‘`]")


class SpellingsError(Exception):
    """The table cannot be used; the message names file, place and remedy."""


@dataclass(frozen=True, slots=True)
class Spellings:
    """Written forms of spoken words, in plain form, and the words that may be glued to the one before."""

    forms: Mapping[str, tuple[str, ...]]
    joined: frozenset[str] = frozenset()

    def of(self, word: str) -> tuple[str, ...]:
        """Return the written forms of a spoken word, its own first, without repetitions."""
        return tuple(dict.fromkeys((plain(word), *self.forms.get(word, ()))))


def plain(text: str) -> str:
    """Return text in lower case, apostrophes dropped, every run of separators one space, none at the ends."""
    return _SEPARATORS.sub(" ", _APOSTROPHES.sub("", text.lower())).strip()


def load_spellings(path: Path | None = None) -> Spellings:
    """Return the table in `path`, by default the one shipped. Raises SpellingsError with the place of a mistake."""
    place = path or grammars_folder() / "spellings.yaml"
    try:
        found = YAML(typ="safe").load(place.read_text(encoding="utf-8"))
    except OSError as error:
        raise SpellingsError(f"{place}: cannot be read ({error.strerror or error})") from error
    except MarkedYAMLError as error:
        mark = error.problem_mark
        where = f":{mark.line + 1}:{mark.column + 1}" if mark else ""
        raise SpellingsError(f"{place}{where}: {error.problem or 'not YAML'}") from error
    if not isinstance(found, dict) or not isinstance(found.get("spellings"), dict):
        raise SpellingsError(f"{place}: needs a mapping named spellings, from each word to a list of forms")
    forms = {}
    for word, others in found["spellings"].items():
        if not isinstance(word, str) or not _texts(others):
            raise SpellingsError(f"{place}: spellings of {word!r} must be a list of texts; quote numbers and on/off")
        forms[word] = tuple(plain(form) or form for form in others)
    joined = found.get("joined", [])
    if not _texts(joined):
        raise SpellingsError(f"{place}: joined must be a list of words")
    return Spellings(forms, frozenset(joined))


def grammars_folder() -> Path:
    """Return the folder of the shipped grammars, installed or in a checkout."""
    package = Path(__file__).resolve().parents[1]
    shipped = package / "_shipped" / "grammars"
    return shipped if shipped.is_dir() else package.parent / "grammars"


def _texts(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(item, str) for item in value)
