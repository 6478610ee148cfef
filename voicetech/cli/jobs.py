"""`voicetech jobs`: what is in the record, or in the shop's archive, listed, searched and counted."""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.job_list import as_object, show_found, show_table, tell_more
from voicetech.cli.joining import plain_errors, record_read, record_to_read, stop
from voicetech.cli.options import day, refuse
from voicetech.cli.outputs import check_outputs, file_named

if TYPE_CHECKING:
    from voicetech.archive.listing import Filters
    from voicetech.archive.opening import Archive
    from voicetech.journal.store import Journal

HOW_TO_START = "No jobs yet. Start one with: voicetech chat"
_NONE_FITS: Final = "No job fits. Look for less, or list all of them with: voicetech jobs"
_NONE_BROUGHT: Final = "No jobs there yet. Bring yours with: voicetech push"
_SHOWN: Final = 50
"""How many jobs a table shows unless told otherwise (judgement, no source)."""

Address = Annotated[
    str | None,
    typer.Option(
        "--archive",
        metavar="ADDRESS",
        help="Look in a shop's archive instead of this laptop's record; for its address see voicetech push.",
    ),
]


def jobs(
    about: Annotated[
        str | None,
        typer.Option(
            "--about",
            metavar="WORDS",
            help="Words that were said by the technician or the program, or stand in what is known of the job. All of "
            "them have to be there; the last may go on.",
        ),
    ] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="WHO", help="Whose words: technician, program, reviewer or record."),
    ] = None,
    appliance: Annotated[str | None, typer.Option("--appliance", metavar="NAME", help="The appliance.")] = None,
    model: Annotated[
        str | None, typer.Option("--model", metavar="MODEL", help="A part of the model number, spelled or written.")
    ] = None,
    complaint: Annotated[
        str | None, typer.Option("--complaint", metavar="NAME", help="What the customer complained of.")
    ] = None,
    fault: Annotated[
        str | None, typer.Option("--fault", metavar="NAME", help="A fault that was found or is suspected.")
    ] = None,
    part: Annotated[
        str | None,
        typer.Option("--part", metavar="NAME", help="A part at fault, or needed for the repair."),
    ] = None,
    outcome: Annotated[
        str | None, typer.Option("--outcome", metavar="NAME", help="How it ended, such as repaired; open for not yet.")
    ] = None,
    since: Annotated[
        date | None, typer.Option("--since", parser=day, metavar="DATE", help="Worked on that day or later.")
    ] = None,
    until: Annotated[
        date | None, typer.Option("--until", parser=day, metavar="DATE", help="Worked on that day or earlier.")
    ] = None,
    limit: Annotated[
        int | None,
        typer.Option(
            "--limit", min=0, metavar="N", help=f"How many are shown, 0 for all. A table shows {_SHOWN}, --json all."
        ),
    ] = None,
    archive: Address = None,
    shared: Annotated[bool, typer.Option("--shared", help="The shop's archive that VOICETECH_ARCHIVE names.")] = False,
    laptop: Annotated[
        str | None, typer.Option("--laptop", metavar="NAME", help="Jobs of one laptop in a shop's archive.")
    ] = None,
    figures: Annotated[bool, typer.Option("--figures", help="Figures over all these jobs instead of a list.")] = False,
    plots: Annotated[
        Path | None,
        typer.Option(
            "--plots", parser=file_named, metavar="FILE", help="Write the figures as a page with plots (HTML)."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="JSON instead of a table: one object a line.")] = False,
) -> None:
    """List the jobs on record, the one worked on last first; pick them by what is known of them or was said.

    The name in the first column is what voicetech report and voicetech chat --resume take. Names of faults,
    complaints and parts may be shortened; a name that no job has is answered with those there are.

    Examples: voicetech jobs --about "burnt terminal", voicetech jobs --fault bake --since 2026-11-01,
    voicetech jobs --figures, voicetech jobs --plots shop.html
    """
    if laptop is not None and not (archive or shared):
        stop("--laptop is for a shop's archive: add --shared or --archive ADDRESS. All jobs here are this laptop's.")
    if archive is not None:
        refuse({"--shared": shared}, "names the archive in VOICETECH_ARCHIVE, --archive another: give one of them")
    if plots is not None:
        refuse({"--json": as_json}, "is for a list or for --figures; --plots writes a page: give one of them")
    if figures or plots is not None:
        refuse({"--limit": limit is not None}, "is for the list; figures are of all jobs that fit: leave it out")
    if since is not None and until is not None and since > until:
        stop(f"--since {since} is after --until {until}, so no job can fit. Exchange the two days.", code=2)
    check_outputs([("--plots", plots)])
    with plain_errors():
        filters = _filters(about, by, appliance, model, complaint, fault, part, outcome, since, until, laptop)
        with _opened(archive, shared) as opened:
            if opened is None:
                _tell_empty(HOW_TO_START, as_json)
                return
            if plots is not None:
                from voicetech.cli.job_figures import write_plots

                write_plots(opened, filters, plots)
            if figures:
                from voicetech.cli.job_figures import show_figures

                show_figures(opened, filters, as_json)
            if figures or plots is not None:
                return
            _list(opened, filters, limit, as_json, shop=shared or archive is not None)


def _filters(
    about: str | None,
    by: str | None,
    appliance: str | None,
    model: str | None,
    complaint: str | None,
    fault: str | None,
    part: str | None,
    outcome: str | None,
    since: date | None,
    until: date | None,
    laptop: str | None,
) -> "Filters":
    from voicetech.archive.keeping import model_words
    from voicetech.archive.listing import Filters
    from voicetech.summary.records import Who
    from voicetech.summary.words import wanted

    words = () if about is None else wanted(about)
    if about is not None and not words:
        stop(f'There is no word to look for in {about!r}. Give letters or digits: --about "burnt terminal"')
    if by is not None and by not in [who.value for who in Who]:
        stop(f"--by is one of {', '.join(who.value for who in Who)}, not {by!r}.")
    if by is not None and about is None:
        stop("--by says whose words: give the words with --about WORDS.")
    if model is not None and not model_words(model):
        stop(f"There is no letter or digit in the model {model!r}.")
    return Filters(
        words=words,
        who=None if by is None else Who(by),
        appliance=appliance,
        model=model,
        complaint=complaint,
        fault=fault,
        part=part,
        outcome=outcome,
        since_s=None if since is None else _begin_s(since),
        until_s=None if until is None else _begin_s(until + timedelta(days=1)),
        record=laptop,
    )


def _begin_s(day: date) -> float:
    """Return when a day begins by the clock of this computer."""
    return datetime(day.year, day.month, day.day).astimezone().timestamp()


@contextmanager
def _opened(address: str | None, shared: bool) -> "Iterator[Archive | None]":
    """Give the archive that is looked in, None where this laptop has no record yet."""
    from voicetech.archive.address import address_given
    from voicetech.archive.opening import open_archive

    if address is not None or shared:
        with open_archive(address_given(address, os.environ), make=False) as archive:
            yield archive
        return
    from voicetech.archive.local import local_archive
    from voicetech.cli.progress import counted
    from voicetech.journal.place import home_folder

    record = record_to_read()
    if record is None:
        yield None
        return
    home = home_folder(os.environ)
    with (
        record_read(record) as journal,
        counted("Reading the record") as progress,
        local_archive(journal, home, _remark, progress) as archive,
    ):
        progress.close()
        yield archive


def _remark(words: str) -> None:
    sys.stderr.write(f"{words}\n")


def _list(archive: "Archive", filters: "Filters", limit: int | None, as_json: bool, shop: bool) -> None:
    from voicetech.archive.listing import is_empty, jobs_listed

    most = (None if as_json else _SHOWN) if limit is None else limit or None
    page = jobs_listed(archive, filters, most)
    if not page.jobs and not (page.total and as_json):
        _tell_empty((_NONE_BROUGHT if shop else HOW_TO_START) if is_empty(archive) else _NONE_FITS, as_json)
    elif as_json:
        for job in page.jobs:
            typer.echo(json.dumps(as_object(job)))
        if page.total > len(page.jobs):
            more = page.total - len(page.jobs)
            _remark(f"{more} more {'fits' if more == 1 else 'fit'}; --limit 0 gives all of them.")
    else:
        if filters.words:
            show_found(page, shop)
        else:
            show_table(page, shop)
        tell_more(page, shop)


def _tell_empty(words: str, as_json: bool) -> None:
    if as_json:
        _remark(words)
    else:
        typer.echo(words)


def job_named(journal: "Journal", job: str) -> str:
    """Return the name of a job on record, "last" being the latest; the command ends where there is none."""
    if job == "last":
        last = journal.last_job()
        return last if last is not None else stop(HOW_TO_START)
    if not journal.holds(job):
        stop(f"There is no job {job}. See the list with: voicetech jobs")
    return job
