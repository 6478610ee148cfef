"""Files that commands write: one rule for all of them, looked at before any work is done.

A file is named, its folder is there, and it is neither read nor written by another option of the same command.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import typer

from voicetech.cli.joining import stop

STANDARD_OUTPUT: Final = "-"


def file_named(text: str) -> Path:
    """Return the path of a file to write; typer.BadParameter where none is named or standard output is meant."""
    if not text.strip():
        raise typer.BadParameter("The name of the file is empty. Name a file, or leave the option out.")
    if text == STANDARD_OUTPUT:
        raise typer.BadParameter("A file is written, and - is none. Name a file.")
    return Path(text)


def folder_named(text: str) -> Path:
    """Return the path of a folder to write; typer.BadParameter where none is named."""
    if not text.strip():
        raise typer.BadParameter("The name of the folder is empty. Name a folder, or leave the option out.")
    if text == STANDARD_OUTPUT:
        raise typer.BadParameter("A folder is written, and - is none. Name a folder.")
    return Path(text)


def input_named(text: str) -> Path:
    """Return the path of a file to read; typer.BadParameter where none is named."""
    if not text.strip():
        raise typer.BadParameter("The name of the file is empty. Name a file, or leave the option out.")
    return Path(text)


def check_outputs(outputs: Sequence[tuple[str, Path | None]], inputs: Sequence[tuple[str, Path | None]] = ()) -> None:
    """End the command where a file cannot be written as asked; each path comes with what names it.

    Two options may not name one file, by whatever way, and what is read is not written over.
    """
    read = [(option, path) for option, path in inputs if path is not None]
    taken: list[tuple[str, Path]] = []
    for option, path in outputs:
        if path is None:
            continue
        for other, before in read:
            if _same(path, before):
                stop(f"{option} would write over {before}, which is read ({other}). Name another file.", code=2)
        for other, before in taken:
            if _same(path, before):
                stop(f"{other} and {option} name the same file, {path}. Name a file for each.", code=2)
        taken.append((option, path))
    if not taken:
        return
    from voicetech.reports.writing import ReportError, check_place

    for option, path in taken:
        try:
            check_place(path, option)
        except ReportError as error:
            stop(str(error))


def _same(one: Path, other: Path) -> bool:
    try:
        return one.resolve() == other.resolve() or one.samefile(other)
    except (OSError, RuntimeError):
        # Links that go round in a circle, or one that is not there yet.
        return False
