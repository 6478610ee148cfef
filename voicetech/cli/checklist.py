"""`voicetech checklist`: a procedure as a sheet for those who work on paper."""

from pathlib import Path
from typing import Annotated

import typer

from voicetech.cli.joining import plain_errors, procedure_meant, stop
from voicetech.cli.procedure_sheets import Form, Given, OnPaper, check_place_for, sheets_file, write_sheets
from voicetech.reports.paper import Paper


def checklist(
    procedure: Given,
    out: Annotated[
        Path | None,
        typer.Option("--out", parser=sheets_file, metavar="FILE", help="Write it to this file, .html or .pdf."),
    ] = None,
    volts: Annotated[
        str | None, typer.Option("--volts", metavar="V", help="The plate's volts, for limits in figures.")
    ] = None,
    watts: Annotated[str | None, typer.Option("--watts", metavar="W", help="The plate's watts, in watts.")] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            "--answer",
            metavar="FIELD=VALUE",
            help="Another answer that is known beforehand, as the procedure keeps it: bake_watts=2600, "
            "connection=cord-4. May be given again.",
        ),
    ] = None,
    test: Annotated[
        list[str] | None,
        typer.Option(
            "--test", metavar="NAME", help="Of the tests only this one, by what it is called. May be given again."
        ),
    ] = None,
    paper: OnPaper = None,
) -> None:
    """Write a checklist of a procedure for paper and print where it is.

    Cautions first, then making safe with a table for its proofs, the holds before power, and every section of the job:
    each step with its full words, where the points are, what it should read, room for the reading, and what each
    result means. Limits are in figures where the plate is told, else the rule and the arithmetic. What belongs to
    safety is on it whatever is left out. Without --out it is a web page in this folder.

    Examples: voicetech checklist electric-range-no-heat --volts 240 --out range.pdf,
    voicetech checklist my-range.yaml --volts 240 --answer bake_watts=2600 --test bake
    """
    with plain_errors():
        check_place_for(out, procedure)
        known = procedure_meant(procedure)
        from voicetech.language.meaning import Asking
        from voicetech.reports.checklist.content import checklist_page
        from voicetech.reports.checklist.printed import NotPrintedError, plate_fields, printed
        from voicetech.reports.page import page_html
        from voicetech.reports.typeset import page_pdf

        try:
            answers = _answers(answer or [])
            for figure, asking in ((volts, Asking.VOLTAGE), (watts, Asking.POWER)):
                if figure is not None:
                    answers = {**dict.fromkeys(plate_fields(known, asking), figure.strip()), **answers}
            page = checklist_page(printed(known, answers, test or []))
        except NotPrintedError as error:
            stop(str(error), code=2)
        on = paper or Paper.LETTER
        makers = {Form.PAGE: lambda: page_html(page, on).encode(), Form.PDF: lambda: page_pdf(page, on)}
        typer.echo(str(write_sheets(known, out, "checklist", makers)))


def _answers(given: list[str]) -> dict[str, str]:
    answers: dict[str, str] = {}
    for text in given:
        name, sign, value = (part.strip() for part in text.partition("="))
        if not (name and sign and value):
            raise typer.BadParameter(
                f"{text!r} is no answer. Write a field and its value, as in --answer bake_watts=2600."
            )
        if answers.get(name, value) != value:
            raise typer.BadParameter(f"{name} is told twice, {answers[name]} and {value}. Leave one of them out.")
        answers[name] = value
    return answers
