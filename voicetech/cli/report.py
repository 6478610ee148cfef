"""`voicetech report`: a job as a page to print or send."""

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import UnknownProcedureError, plain_errors, procedure_named, record_to_read, stop

if TYPE_CHECKING:
    from voicetech.journal.store import Journal
    from voicetech.procedure import Procedure


def report(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's name, or: last")],
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Where to write it (else the reports folder).")
    ] = None,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", metavar="NAME", help="The procedure the job followed, where it is a file of yours."
        ),
    ] = None,
) -> None:
    """Write a job's report as a self-contained web page and print where it is.

    Examples: voicetech report last, voicetech report last --out report.html
    """
    from voicetech.journal.place import home_folder, reports_folder
    from voicetech.journal.store import open_journal
    from voicetech.reports.writing import job_page, report_path, write_report

    with plain_errors():
        record = record_to_read()
        if record is None:
            stop(HOW_TO_START)
        with open_journal(record) as journal:
            named = job_named(journal, job)
            page = job_page(journal, _procedure_of(journal, named, procedure), named)
        path = out or report_path(reports_folder(home_folder(os.environ)), named)
        write_report(path, page)
    typer.echo(str(path))


def _procedure_of(journal: "Journal", job: str, given: str | None) -> "Procedure | None":
    """Return the given procedure or the one the job followed; None where only the latter's name is known."""
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.events import JobOpened

    if given is not None:
        return procedure_named(given)
    events = journal.readable_events(job).events
    opened = next((event for event in events if isinstance(event, JobOpened)), None)
    try:
        return None if opened is None else procedure_named(opened.procedure)
    except (ProcedureFindings, UnknownProcedureError, OSError):
        # A report is still a report without the procedure's words, and it says so.
        return None
