"""`voicetech check`: every mistake in procedures, with its place, before anybody works by them."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import stop
from voicetech.cli.options import refuse
from voicetech.cli.procedure_paths import procedures_in
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.authoring.checking import Check
    from voicetech.authoring.findings import Finding

_NO_DICTIONARY = (
    "Which words cannot be heard and which sound alike was not checked: the pronouncing dictionary is not installed. "
    "It comes with the package pocketsphinx: pip install pocketsphinx"
)


def check(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE…", help="Procedures: files, folders of them, or names of those that come with the program."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="The findings as a JSON list.")] = False,
    as_sarif: Annotated[
        bool, typer.Option("--sarif", help="The findings as a SARIF 2.1.0 log, for editors and code review.")
    ] = False,
    rules: Annotated[bool, typer.Option("--rules", help="List the rules, with a sentence each, and end.")] = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of procedures, for editors, and end.")
    ] = False,
    language_schema: Annotated[
        bool,
        typer.Option(
            "--language-schema", help="Print the JSON Schema of a procedure's texts in another language, and end."
        ),
    ] = False,
) -> None:
    """Tell all mistakes in procedures at once: file:line:column, what is wrong and what to do, and the rule's name.

    Ends with status 1 where there is one. Of a folder, the files directly in it are checked; the parts that they
    include are checked with them, and so are its texts in other languages.

    Examples: voicetech check my-range.yaml, voicetech check procedures/ --sarif > findings.sarif
    """
    if as_json and as_sarif:
        raise typer.BadParameter("give --json or --sarif, not both")
    if schema or language_schema:
        printed = "--schema" if schema else "--language-schema"
        others = {"FILE": files, "--json": as_json, "--sarif": as_sarif, "--rules": rules}
        _alone(printed, {**others, "--language-schema": schema and language_schema})
        from voicetech.authoring.schema import schema_text

        typer.echo(schema_text(language=language_schema), nl=False)
        return
    if rules:
        _alone("--rules", {"FILE": files, "--sarif": as_sarif})
        _list_rules(as_json=as_json)
        return
    if not files:
        stop("Missing argument 'FILE…': name a procedure or a folder, as in: voicetech check my-range.yaml", code=2)
    procedures = [path for given in files for path in procedures_in(given)]
    checks = _checks()
    findings = _findings(procedures, checks)
    if as_json or as_sarif:
        from voicetech.authoring.findings_json import findings_json, findings_sarif

        typer.echo(findings_json(findings) if as_json else findings_sarif(findings))
    else:
        for finding in findings:
            typer.echo(str(finding))
        checked = so_many(len(procedures), "procedure")
        told = f"{so_many(len(findings), 'finding')} in {checked}." if findings else f"{checked} checked, no finding."
        sys.stderr.write(f"{told}\n")
    if findings:
        raise typer.Exit(1)


def _alone(option: str, others: dict[str, object]) -> None:
    refuse(others, f"does nothing beside {option}, which only prints: leave one of them out")


def _checks() -> "tuple[Check, ...]":
    from voicetech.authoring.advice import ADVICE
    from voicetech.hearing.checks_hearing import hearing_checks
    from voicetech.hearing.phones import load_dictionary

    known = load_dictionary()
    if known is None:
        sys.stderr.write(f"{_NO_DICTIONARY}\n")
        return ADVICE
    return (*ADVICE, *hearing_checks(known))


def _findings(procedures: Sequence[Path], checks: "Sequence[Check]") -> "list[Finding]":
    from voicetech.authoring.procedure_files import checked, checked_in_languages

    found: set[Finding] = set()
    for path in procedures:
        # A part that several procedures include is wrong once.
        found.update(checked(path, checks)[1], checked_in_languages(path))
    return sorted(found)


def _list_rules(*, as_json: bool) -> None:
    from voicetech.authoring.findings_json import rules_json
    from voicetech.authoring.rules import RULES

    if as_json:
        typer.echo(rules_json())
        return
    wide = max(map(len, RULES))
    for name, rule in RULES.items():
        typer.echo(f"{name:{wide}}  {rule.level.value:7}  {rule.says} {rule.why}")
