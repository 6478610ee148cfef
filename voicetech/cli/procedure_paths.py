"""Which procedures somebody means by a file, a folder or a name."""

from pathlib import Path

import typer

from voicetech.cli.joining import UnknownProcedureError, shipped_meant


def procedures_in(given: Path) -> list[Path]:
    """Return the file itself, the procedures directly in a folder, or the file of the shipped one that words mean.

    Raises BadParameter where a folder holds none, for words that mean no procedure or several, and for a part that
    procedures include.
    """
    from voicetech.authoring.including import INCLUDED_FROM
    from voicetech.authoring.shipped import shipped_folder

    if not given.exists() and not given.suffix and len(given.parts) < 2:
        try:
            return [shipped_folder("dialogs") / f"{shipped_meant(str(given))}.yaml"]
        except UnknownProcedureError as error:
            raise typer.BadParameter(str(error)) from None
    if given.parent.name == INCLUDED_FROM and not given.is_dir() and not _is_procedure(given):
        raise typer.BadParameter(
            f"{given} is a part that procedures include: check those, and what is wrong in it is told with them"
        )
    if not given.is_dir():
        return [given]
    found = sorted(path for path in given.iterdir() if path.suffix in (".yaml", ".yml"))
    if not found:
        raise typer.BadParameter(f"there is no procedure in the folder {given}: their names end in .yaml")
    return found


def _is_procedure(path: Path) -> bool:
    """Return whether the file names itself a procedure; one that cannot be read is told by the check."""
    try:
        return "procedure:" in path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return True
