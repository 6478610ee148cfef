"""Procedures from their files in `dialogs/`: the whole procedure, or everything that is wrong with it."""

import tempfile
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from pathlib import Path, PurePosixPath
from typing import Final

from voicetech.authoring import (
    checks_circuit,
    checks_endings,
    checks_measuring,
    checks_outcomes,
    checks_references,
    checks_safety,
    checks_safety_steps,
    checks_told_to_do,
    checks_trade,
    checks_ways,
    checks_wording,
)
from voicetech.authoring.building import built
from voicetech.authoring.checking import Check
from voicetech.authoring.findings import Finding, Notes, ProcedureFindings
from voicetech.authoring.headings import Heading, heading_in
from voicetech.authoring.including import read_written
from voicetech.authoring.lexicon_files import lexicon_for
from voicetech.authoring.overlays import GRAMMAR, languages_of
from voicetech.authoring.rules import IN_ANY_LANGUAGE, Level, level_of
from voicetech.authoring.shipped import shipped_folder
from voicetech.authoring.telling import told
from voicetech.language.lexicon import LexiconError
from voicetech.language.tags import ENGLISH, wrong_with_tag
from voicetech.procedure import Procedure, WrittenFile

CHECKS: Final[tuple[Check, ...]] = (
    *checks_references.CHECKS,
    *checks_ways.CHECKS,
    *checks_outcomes.CHECKS,
    *checks_endings.CHECKS,
    *checks_measuring.CHECKS,
    *checks_safety.CHECKS,
    *checks_safety_steps.CHECKS,
    *checks_trade.CHECKS,
    *checks_told_to_do.CHECKS,
    *checks_wording.CHECKS,
    *checks_circuit.CHECKS,
)
"""Every rule without which no job is begun."""


def load_procedure(path: Path, language: str = ENGLISH) -> Procedure:
    """Return the procedure in this file and the files it includes, its texts in this language.

    Raises ProcedureFindings, with every finding sorted by place, where anything is wrong that no job is begun with.
    """
    if language != ENGLISH:
        # Where it leads, and what it measures, is held to the rules in English.
        load_procedure(path)
    procedure, findings = checked(path, language=language)
    stopped = [finding for finding in findings if level_of(finding.rule) is Level.ERROR]
    if stopped:
        raise ProcedureFindings(stopped)
    return procedure


def checked(path: Path, more: Iterable[Check] = (), language: str = ENGLISH) -> tuple[Procedure, tuple[Finding, ...]]:
    """Return the procedure as far as it could be read, and all that is wrong with it, sorted by place.

    `more` are checks beside those that every job is begun behind. What could not be read is stood in for.
    """
    written, notes = read_written(path, language)
    if not written.table and notes.found:
        # Nothing was read: whatever is missing besides is in what could not be.
        return built(written, Notes(top=notes.top)), tuple(sorted(set(notes.found)))
    procedure = built(written, notes)
    if procedure.id and procedure.id != path.stem:
        message = f"{procedure.id!r} is not the file's name {path.stem!r}; make them equal"
        notes.add(("procedure",), message, "name")
    breaches = [breach for check in (*CHECKS, *more) for breach in check(procedure)]
    if language != ENGLISH:
        breaches = [breach for breach in breaches if breach.rule in IN_ANY_LANGUAGE]
    return procedure, told(notes, breaches)


def checked_in_languages(path: Path) -> tuple[Finding, ...]:
    """Return all that is wrong with a procedure's texts in other languages than English, sorted by place."""
    found: set[Finding] = set()
    english = path.parent / ENGLISH / path.name
    if english.is_file():
        found.add(Finding(english, 1, 1, "file", str(wrong_with_tag(ENGLISH)), "language-tag"))
    for language in languages_of(path)[1:]:
        procedure, findings = checked(path, language=language)
        folder = path.parent / language
        found.update(finding for finding in findings if folder in finding.path.parents)
        try:
            lexicon_for(procedure)
        except LexiconError as error:
            message = f"{error}; correct it, or take the file out and its words are understood in English"
            found.add(Finding(folder / path.name, 1, 1, GRAMMAR, message, "grammar"))
    return tuple(sorted(found))


def as_begun(digest: str, today: Procedure | None, kept: Callable[[], Sequence[WrittenFile]]) -> Procedure | None:
    """Return the procedure with this digest: today's where it is that one, else as it was written in the kept files.

    Today's stands in where no files are kept, or where they are no procedure any more by today's rules; None where
    there is neither. `kept` is asked only where today's is another.
    """
    if today is not None and today.digest == digest:
        return today
    files = tuple(kept())
    try:
        return _written(files) if files else today
    except ProcedureFindings:
        return today


@cache
def _written(files: tuple[WrittenFile, ...]) -> Procedure:
    return load_written(files)


def load_written(files: Sequence[WrittenFile]) -> Procedure:
    """Return the procedure that was written in these files, its own file first, wherever they lay.

    It is in the language whose texts are among them.
    Raises ProcedureFindings where anything is wrong with it by today's rules.
    """
    strays = [file.name for file in files if not _stays_inside(file.name)]
    if strays or not files:
        # A record may come from another hand; its files are written nowhere but where they belong.
        named = strays[0] if strays else "no file"
        message = "is not a file beside the procedure's own; keep its parts in that folder"
        raise ProcedureFindings((Finding(Path(named), 1, 1, "", message, "file-elsewhere"),))
    with tempfile.TemporaryDirectory() as folder:
        for file in files:
            path = Path(folder) / file.name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(file.text.encode())
        return load_procedure(Path(folder) / files[0].name, _language_of(files))


def _language_of(files: Sequence[WrittenFile]) -> str:
    own = files[0].name
    return next((file.name.removesuffix(f"/{own}") for file in files if file.name.endswith(f"/{own}")), ENGLISH)


def _stays_inside(name: str) -> bool:
    plain = PurePosixPath(name)
    return not plain.is_absolute() and ".." not in plain.parts and "\\" not in name and ":" not in name


@cache
def load_shipped(name: str) -> Procedure:
    """Return a procedure that comes with the program, by its name; read once, with what is worked out of its circuit.

    Raises ProcedureFindings where it is not there or anything is wrong with it.
    """
    return load_procedure(shipped_folder("dialogs") / f"{name}.yaml")


def shipped_names() -> tuple[str, ...]:
    """Return the names of the procedures that come with the program."""
    return tuple(sorted(path.stem for path in shipped_folder("dialogs").glob("*.yaml")))


def shipped_headings() -> dict[str, Heading]:
    """Return what the procedures that come with the program say of themselves, by name, without reading them whole."""
    folder = shipped_folder("dialogs")
    return {name: heading_in(folder / f"{name}.yaml") for name in shipped_names()}


def shipped_titles() -> dict[str, str]:
    """Return the titles of the procedures that come with the program, by their names, without reading them whole."""
    return {name: heading.title or name for name, heading in shipped_headings().items()}
