"""Jobs as a table, as what was found in them, and as JSON."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

import typer

from voicetech.cli.tables import printable, show_pieces, show_rows

if TYPE_CHECKING:
    from rich.text import Text

    from voicetech.archive.listing import JobListed, Page
    from voicetech.summary.words import Found


def as_object(job: "JobListed") -> dict[str, Any]:
    """Return a job as one object of JSON."""
    return {
        "job": job.job,
        "procedure": job.procedure,
        "opened": iso(job.opened_at_s),
        "last": iso(job.last_at_s),
        "complaint": job.complaint,
        "outcome": job.outcome,
        "events": job.events,
        "unreadable": job.unreadable,
        "appliance": job.appliance,
        "model": job.model,
        "serial": job.serial,
        "complaint_says": job.complaint_says or None,
        "faults": [
            {"fault": fault.cause, "says": fault.says or None, "state": fault.state.value} for fault in job.faults
        ],
        "parts": [*job.parts],
        "worked_s": job.worked_s,
        "tests": job.tests,
        "proofs_of_dead": job.proofs_of_dead,
        "record": job.record,
        "laptop": job.laptop or None,
        "found": None if job.found is None else _found_object(job.found),
    }


def _found_object(found: "Found") -> dict[str, Any]:
    return {"who": found.who.value, "event": found.event or None, "at": iso(found.at_s), "text": found.text}


def iso(at_s: float | None) -> str | None:
    """Return a time as it is written in JSON: by the computer's clock, with its distance from UTC."""
    return None if at_s is None else datetime.fromtimestamp(at_s).astimezone().isoformat(timespec="seconds")


def show_table(page: "Page", shop: bool) -> None:
    """Print jobs as a table; `shop` says that they are of several laptops."""
    from rich.console import Console

    headings = ["job", "last", *(["laptop"] if shop else []), "model", "complaint", "fault", "outcome"]
    # A name that is typed and a time are one piece.
    show_rows(Console(), headings, [_cells(job, shop) for job in page.jobs], whole=2)


def show_found(page: "Page", shop: bool) -> None:
    """Print each job with the words that were found below it: a line of speech is too long for a column."""
    from rich.console import Console
    from rich.padding import Padding

    console = Console(highlight=False)
    for job in page.jobs:
        show_pieces(console, [printable(cell) for cell in _cells(job, shop) if cell], style="bold")
        console.print(Padding(_where(job.found), (0, 0, 0, 4)))
    console.print()


def _cells(job: "JobListed", shop: bool) -> list[str]:
    laptop = [job.laptop or job.record[:8]] if shop else []
    complaint = job.complaint_says or job.complaint or "complaint not recorded"
    return [job.job, _minute(job.last_at_s), *laptop, job.model or "", complaint, _faults(job), _outcome(job)]


def tell_more(page: "Page", shop: bool) -> None:
    """Print how many jobs are not shown, and what to do with one."""
    if page.total > len(page.jobs):
        typer.echo(f"{page.total - len(page.jobs)} more; all with --limit 0, or look for less.")
    # A shop's jobs stand in other laptops' records: no report of them can be written here.
    if not shop:
        typer.echo("Report of one: voicetech report JOB")


def _faults(job: "JobListed") -> str:
    from voicetech.summary.records import FaultState

    found = [fault.cause for fault in job.faults if fault.state.found]
    suspected = [fault.cause for fault in job.faults if fault.state is FaultState.SUSPECTED]
    return ", ".join([*found, *(f"{cause}?" for cause in suspected)])


def _outcome(job: "JobListed") -> str:
    told = job.outcome or "open"
    return f"{told}; {job.unreadable} not readable" if job.unreadable else told


def _where(found: "Found | None") -> "Text":
    from rich.text import Text

    if found is None:
        return Text("")
    event = f" (event {found.event})" if found.event else ""
    where = Text(f"{found.who.value}{event}: ", style="dim")
    words = Text(printable(found.text))
    for first, end in found.spans:
        words.stylize("bold underline", first, end)
    return where + words


def _minute(at_s: float | None) -> str:
    return "not known" if at_s is None else f"{datetime.fromtimestamp(at_s).astimezone():%Y-%m-%d %H:%M}"
