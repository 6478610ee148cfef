"""Read the vocabulary files that come with the program."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

from voicetech.authoring.overlays import GRAMMAR
from voicetech.authoring.plain_yaml import PlainYamlError, plain, read_plain
from voicetech.authoring.shipped import shipped_folder
from voicetech.language.lexicon import Lexicon, LexiconError, lexicon_from
from voicetech.language.tags import ENGLISH
from voicetech.procedure import Procedure, WrittenFile

VOCABULARIES = ("numbers", "units", "commands", "danger", "answers", "states", "speech", "findings")
_DANGER: Final = "danger"


def load_lexicon(folder: Path | None = None) -> Lexicon:
    """Return the lexicon of the vocabulary files in `folder` (default: the ones that come with the program).

    Raises LexiconError, naming the file, for a file that is missing, is not YAML or says something unusable.
    """
    folder = folder or shipped_folder("grammars")
    return lexicon_from({name: _read(folder / f"{name}.yaml") for name in VOCABULARIES})


def lexicon_for(procedure: Procedure | None) -> Lexicon:
    """Return the lexicon that answers to this procedure are understood by, read once; without one, the English one.

    What the procedure's language has no vocabulary of its own for is understood in English. Raises LexiconError.
    """
    if procedure is None or procedure.language == ENGLISH:
        return _lexicon((), frozenset())
    folder = f"{procedure.language}/"
    written = "".join(file.text for file in procedure.texts if file.name.startswith(folder))
    letters = frozenset(sign for sign in written.lower() if sign.isalpha() and not sign.isascii())
    return _lexicon(tuple(_own_files(procedure)), letters)


@cache
def _lexicon(files: tuple[WrittenFile, ...], letters: frozenset[str]) -> Lexicon:
    if not files:
        return replace(load_lexicon(), letters=letters)
    own = {file.name: _table(file.name, file.text) for file in files}
    english = shipped_folder("grammars")
    words = {name: _joined(name, _read(english / f"{name}.yaml"), own.get(name, {})) for name in VOCABULARIES}
    return replace(lexicon_from(words), letters=letters)


def vocabularies_of(procedure: Procedure) -> tuple[str, ...]:
    """Return the names of the vocabularies that a procedure's language brings."""
    return tuple(file.name for file in _own_files(procedure))


def _own_files(procedure: Procedure) -> Iterator[WrittenFile]:
    """Return the vocabularies of a procedure's language, each under its name. Raises LexiconError."""
    folder = f"{procedure.language}/{GRAMMAR}/"
    for file in procedure.texts:
        if file.name.startswith(folder):
            name = file.name.removeprefix(folder).removesuffix(".yaml")
            if name not in VOCABULARIES:
                raise LexiconError(f"{file.name} is none of the vocabularies {', '.join(VOCABULARIES)}; rename it")
            yield WrittenFile(name, file.text)


def _joined(name: str, english: dict[str, object], own: dict[str, object]) -> dict[str, object]:
    """Return a vocabulary with a language's own words; words of danger are added to the English ones."""
    return _both(english, own) if name == _DANGER else {**english, **own}


def _both(one: object, other: object) -> Any:
    match one, other:
        case dict(), dict():
            return {**one, **{key: _both(one[key], value) if key in one else value for key, value in other.items()}}
        case list(), list():
            return [*one, *other]
        case _:
            return other


def _read(path: Path) -> dict[str, object]:
    try:
        raw = read_plain(path)
    except FileNotFoundError:
        raise LexiconError(f"{path} is missing; install the program again") from None
    except PlainYamlError as error:
        raise LexiconError(f"{error}; mend it, or install the program again") from None
    return _mapping(path, raw)


def _table(name: str, text: str) -> dict[str, object]:
    try:
        return _mapping(name, plain(name, text))
    except PlainYamlError as error:
        raise LexiconError(str(error)) from None


def _mapping(name: Path | str, raw: object) -> dict[str, object]:
    if not isinstance(raw, dict):
        raise LexiconError(f"{name} must be a mapping of names to words")
    return {str(key): value for key, value in raw.items()}
