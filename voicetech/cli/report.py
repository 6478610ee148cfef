"""`voicetech report`: a job as a page to print or send, and as figures for other programs."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import (
    plain_errors,
    procedure_told,
    record_to_read,
    stop,
)
from voicetech.cli.options import refuse
from voicetech.cli.outputs import check_outputs, file_named, input_named
from voicetech.reports.paper import Paper

if TYPE_CHECKING:
    from voicetech.procedure import Procedure
    from voicetech.reports.facts.part_book import PartBook


def report(
    job: Annotated[str | None, typer.Argument(metavar="JOB", help="The job's name, or: last")] = None,
    out: Annotated[
        Path | None, typer.Option("--out", parser=file_named, metavar="FILE", help="Write the web page to this file.")
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", parser=file_named, metavar="FILE", help="Write a PDF to this file.")
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option("--csv", parser=file_named, metavar="FILE", help="Write the readings as CSV, one line a reading."),
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option("--json", parser=file_named, metavar="FILE", help="Write the whole job as JSON; see --schema."),
    ] = None,
    parts: Annotated[
        Path | None,
        typer.Option(
            "--parts",
            parser=input_named,
            metavar="BOOK.csv",
            help="The shop's part book: model, function, part_number, description (else parts.csv in the home folder).",
        ),
    ] = None,
    without_names: Annotated[
        bool, typer.Option("--without-names", help="Leave out names, serial number and free words.")
    ] = False,
    paper: Annotated[
        Paper | None, typer.Option("--paper", help="The paper it is printed on; letter unless told.")
    ] = None,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", metavar="NAME", help="The procedure the job followed, where it is a file of yours."
        ),
    ] = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of --json and end.")] = False,
) -> None:
    """Write a job's report and print where it is.

    Without --out, --pdf, --csv or --json it is a self-contained web page in the reports folder; with any of them only
    the files that were asked for are written, and each one's path is printed.

    A model in the part book is a pattern (ABC\\*, ABC?2), the most specific one that fits the model of the job counts.

    Examples: voicetech report last, voicetech report last --pdf report.pdf --csv readings.csv
    """
    if schema:
        given = {
            "JOB": job, "--out": out, "--pdf": pdf, "--csv": table, "--json": record, "--parts": parts,
            "--without-names": without_names, "--paper": paper, "--procedure": procedure,
        }  # fmt: skip
        refuse(given, "does nothing beside --schema, which only prints the schema: leave one of them out")
        from voicetech.reports.job_report.job_record import schema_text

        typer.echo(schema_text(), nl=False)
        return
    if job is None:
        stop(
            "Missing argument 'JOB': name the job, as in: voicetech report last. See the list with: voicetech jobs",
            code=2,
        )
    from voicetech.journal.place import home_folder, reports_folder
    from voicetech.journal.store import open_to_read
    from voicetech.reports.facts.part_book_file import part_book_path
    from voicetech.reports.writing import Form, job_facts, make_reports_folder, rendered, report_path, write_report

    asked: list[tuple[Form, str, Path | None]] = [
        (Form.PAGE, "--out", out),
        (Form.PDF, "--pdf", pdf),
        (Form.TABLE, "--csv", table),
        (Form.RECORD, "--json", record),
    ]
    wanted = [(form, option, path) for form, option, path in asked if path is not None]
    if wanted and out is None and pdf is None:
        refuse({"--paper": paper}, "is for a page or a PDF: add --out or --pdf, or leave it out")
        if record is None:
            refuse({"--parts": parts}, "is not used: the readings alone name no parts. Add --out, --pdf or --json")
    with plain_errors():
        kept = record_to_read()
        if kept is None:
            stop(HOW_TO_START)
        home = home_folder(os.environ)
        read = [("--parts", parts), ("the shop's part book", part_book_path(home))]
        check_outputs([(option, path) for _, option, path in wanted], read)
        with open_to_read(kept) as journal:
            named = job_named(journal, job)
            followed = procedure_told(journal, named, procedure)
            book = _part_book(parts, home, followed)
            facts = job_facts(journal, followed, named, book, names_left_out=without_names)
        if not wanted:
            make_reports_folder(reports_folder(home))
        for form, option, path in wanted or [(Form.PAGE, "--out", report_path(reports_folder(home), named))]:
            write_report(path, rendered(facts, form, paper or Paper.LETTER), option)
            typer.echo(str(path))


def _part_book(given: Path | None, home: Path, followed: "Procedure | None") -> "PartBook | None":
    """Return the part book that was named, or the shop's own in the home folder, or None; all mistakes are told.

    A named one that cannot be used ends the command; without the shop's own there is a report all the same, and so
    there is with lines that no report can use.
    """
    from voicetech.reports.facts.part_book import never_used
    from voicetech.reports.facts.part_book_file import PartBookError, in_words, load_part_book, part_book_path

    path = given or part_book_path(home)
    if given is None and not path.exists():
        return None
    wrong: PartBookError | None = None
    try:
        book: PartBook | None = load_part_book(path)
    except PartBookError as error:
        wrong, book = error, error.book
    functions = [] if book is None or not book.functions else _part_functions(followed)
    unused = never_used(book, functions) if book is not None else ()
    findings = sorted((*unused, *(wrong.findings if wrong else ())), key=lambda finding: finding.line)
    if findings or wrong:
        sys.stderr.write(f"{in_words(path, findings) or wrong}\n")
    if unused:
        sys.stderr.write(f"The parts that reports name: {'; '.join(functions)}.\n")
    if wrong is None:
        return book
    if given is not None:
        raise typer.Exit(1)
    sys.stderr.write("The report is written without the part book.\n")
    return None


def _part_functions(followed: "Procedure | None") -> list[str]:
    """Return the parts that a report may name, by their function."""
    from voicetech.authoring.procedure_files import load_shipped, shipped_names
    from voicetech.reports.facts.parts import part_functions

    procedures = [load_shipped(name) for name in shipped_names()]
    if followed is not None:
        procedures.append(followed)
    return sorted(frozenset[str]().union(*map(part_functions, procedures)))
