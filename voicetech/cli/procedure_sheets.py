"""What the commands that put a procedure on paper share: which file, on which paper, written where."""

from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import stop
from voicetech.cli.outputs import check_outputs, file_named
from voicetech.reports.paper import Paper

if TYPE_CHECKING:
    from voicetech.procedure import Procedure

Given = Annotated[str, typer.Argument(metavar="FILE", help="A procedure's file, or the name of one that is shipped.")]
OnPaper = Annotated[Paper | None, typer.Option("--paper", help="The paper it is printed on; letter unless told.")]


class Form(StrEnum):
    """What sheets can be written as, by the ending of the file."""

    PAGE = ".html"
    PDF = ".pdf"


def sheets_file(text: str) -> Path:
    """Return the path of a file to write sheets to; typer.BadParameter where its name ends in neither form's way."""
    path = file_named(text)
    if path.suffix.lower() not in tuple(Form):
        raise typer.BadParameter(f"{text} ends in neither .html nor .pdf. Name a web page or a PDF.")
    return path


def check_place_for(out: Path | None, given: str) -> None:
    """End the command where the sheets cannot be written there, before any work is done."""
    named = Path(given)
    check_outputs([("--out", out)], [("the procedure", named if named.is_file() else None)])


def write_sheets(
    procedure: "Procedure", out: Path | None, called: str, makers: Mapping[Form, Callable[[], bytes]]
) -> Path:
    """Return the file the sheets were written to: the one named, else one called after the procedure, in this folder.

    Nothing that is there already is written over unless it was named.
    """
    from voicetech.reports.writing import write_report

    path = Path(f"{procedure.id}-{called}.html") if out is None else out
    if out is None and path.exists():
        stop(f"There is a {path} here already. To write over it, name it: --out {path}", code=2)
    write_report(path, makers[Form(path.suffix.lower())](), "--out")
    return path
