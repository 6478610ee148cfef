"""`voicetech jobs`: what is in the record."""

import json
import re
from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import plain_errors, record_to_read, stop

if TYPE_CHECKING:
    from voicetech.journal.store import JobLine, Journal

_NOT_PRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")

HOW_TO_START = "No jobs yet. Start one with: voicetech chat"


def jobs(
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line instead of a table.")] = False,
) -> None:
    """List the jobs on record, the one worked on last first.

    The name in the first column is what voicetech report and voicetech chat --resume take.
    """
    lines = _lines()
    if as_json:
        for line in lines:
            typer.echo(_as_json(line))
    elif lines:
        _table(lines)
    else:
        typer.echo(HOW_TO_START)


def _lines() -> "tuple[JobLine, ...]":
    from voicetech.journal.store import open_journal

    with plain_errors():
        path = record_to_read()
        if path is None:
            return ()
        with open_journal(path) as journal:
            return journal.jobs()


def _as_json(line: "JobLine") -> str:
    return json.dumps(
        {
            "job": line.job,
            "procedure": line.procedure,
            "opened": _iso(line.opened_at_s),
            "last": _iso(line.last_at_s),
            "complaint": line.complaint,
            "outcome": line.outcome,
            "events": line.events,
        }
    )


def _iso(at_s: float | None) -> str | None:
    return None if at_s is None else datetime.fromtimestamp(at_s).astimezone().isoformat(timespec="seconds")


def _table(lines: "tuple[JobLine, ...]") -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("job", no_wrap=True)
    for heading in ("last", "complaint", "outcome", "procedure"):
        table.add_column(heading)
    for line in lines:
        told = (
            line.job,
            _minute(line.last_at_s),
            line.complaint or "not recorded",
            line.outcome or "open",
            line.procedure or "not known",
        )
        # As plain text: a complaint is somebody's words, not markup and not terminal codes.
        table.add_row(*(Text(_NOT_PRINTABLE.sub("\N{REPLACEMENT CHARACTER}", cell)) for cell in told))
    console = Console()
    console.print(table)
    console.print("Report of one: voicetech report JOB", highlight=False)


def _minute(at_s: float | None) -> str:
    return "not known" if at_s is None else f"{datetime.fromtimestamp(at_s).astimezone():%Y-%m-%d %H:%M}"


def job_named(journal: "Journal", job: str) -> str:
    """Return the name of a job on record, "last" being the latest; the command ends where there is none."""
    if job == "last":
        last = journal.last_job()
        return last if last is not None else stop(HOW_TO_START)
    if not journal.holds(job):
        stop(f"There is no job {job}. See the list with: voicetech jobs")
    return job
