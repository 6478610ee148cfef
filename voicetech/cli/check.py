"""`voicetech check`: every mistake in procedures, with its place, before anybody works by them."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from voicetech.authoring.findings import Finding, ProcedureFindings
from voicetech.authoring.findings_json import findings_json, findings_sarif
from voicetech.authoring.procedure_files import load_procedure
from voicetech.language.plural import so_many


def check(
    files: Annotated[list[Path], typer.Argument(metavar="FILE…", help="Procedures, or folders of them.")],
    as_json: Annotated[bool, typer.Option("--json", help="The findings as a JSON list.")] = False,
    as_sarif: Annotated[
        bool, typer.Option("--sarif", help="The findings as a SARIF 2.1.0 log, for editors and code review.")
    ] = False,
) -> None:
    """Tell all mistakes in procedures at once: file:line:column, what is wrong and what to do, and the rule's name.

    Ends with status 1 where there is one. Of a folder, the files directly in it are checked; the parts that they
    include are checked with them.

    Examples: voicetech check my-range.yaml, voicetech check procedures/ --sarif > findings.sarif
    """
    if as_json and as_sarif:
        raise typer.BadParameter("give --json or --sarif, not both")
    procedures = [path for given in files for path in _procedures(given)]
    found: set[Finding] = set()
    for path in procedures:
        try:
            load_procedure(path)
        except ProcedureFindings as error:
            # A part that several procedures include is wrong once.
            found.update(error.findings)
    findings = sorted(found)
    if as_json or as_sarif:
        typer.echo(findings_json(findings) if as_json else findings_sarif(findings))
    else:
        for finding in findings:
            typer.echo(str(finding))
        checked = so_many(len(procedures), "procedure")
        told = f"{so_many(len(findings), 'finding')} in {checked}." if findings else f"{checked} checked, no finding."
        sys.stderr.write(f"{told}\n")
    if findings:
        raise typer.Exit(1)


def _procedures(given: Path) -> list[Path]:
    """Return the file itself, or the procedures directly in a folder."""
    if not given.is_dir():
        return [given]
    found = sorted(path for path in given.iterdir() if path.suffix in (".yaml", ".yml"))
    if not found:
        raise typer.BadParameter(f"there is no procedure in the folder {given}: their names end in .yaml")
    return found
