"""`voicetech upkeep`: the state of the record of jobs, and what can be saved of a damaged one."""

import json
import os
import sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.jobs import HOW_TO_START
from voicetech.cli.joining import plain_errors, record_to_read, stop

if TYPE_CHECKING:
    from voicetech.journal.checking import Checked
    from voicetech.journal.mending import Mended

_SHOWN: Final = 20
_MEGABYTE: Final = 1_000_000


def upkeep(
    mend: Annotated[
        bool,
        typer.Option("--mend", help="Read what can be read of a damaged record into a new one."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object instead of words.")] = False,
) -> None:
    """Show where the record of jobs is and whether it and the sounds are whole.

    Every event and every sound is looked at; nothing is changed. With --mend a damaged record is read page by page,
    past what SQLite gives up at, into a new one that takes its place; the damaged files are kept beside it. Ends with
    status 1 where something is wrong.

    Examples: voicetech upkeep, voicetech upkeep --mend
    """
    with plain_errors():
        path = record_to_read()
        if path is None:
            stop(HOW_TO_START)
        if mend:
            _mend(path, as_json)
        whole = _check(path, as_json)
    if not whole:
        raise typer.Exit(1)


def _mend(path: Path, quiet: bool) -> None:
    from voicetech.journal.checking import check
    from voicetech.journal.errors import JournalError
    from voicetech.journal.mending import mend
    from voicetech.journal.place import sounds_folder

    try:
        found = check(path, sounds_folder(path.parent))
    except JournalError:
        found = None
    if found is not None and found.readable:
        if not quiet:
            whole = "The record is whole" if not found.wrong else "The file itself is sound"
            typer.echo(f"{whole}; there is nothing to mend.")
        return
    done = mend(path, datetime.now().astimezone())
    if not quiet:
        _tell_mended(done)


def _tell_mended(done: "Mended") -> None:
    events = sum(job.events for job in done.jobs)
    typer.echo(f"Mended: {events} events of {len(done.jobs)} jobs and {done.marks} marks were read out.")
    for job in done.jobs:
        if job.missing:
            typer.echo(f"  job {job.job}: {len(job.missing)} events are lost among its {job.events}")
        if job.changed:
            typer.echo(f"  job {job.job}: {len(job.changed)} events were changed by the damage and are left out")
    typer.echo("What a job had after its last event that was read cannot be told.")
    for aside in done.aside:
        typer.echo(f"The damaged file is kept: {aside}")


def _check(path: Path, as_json: bool) -> bool:
    from voicetech.journal.checking import check
    from voicetech.journal.place import sounds_folder

    found = check(path, sounds_folder(path.parent))
    if as_json:
        typer.echo(json.dumps({**asdict(found), "whole": found.whole}, default=os.fspath))
    else:
        _tell(found)
    return found.whole


def _tell(found: "Checked") -> None:
    typer.echo(f"Record: {found.path} ({found.size_bytes / _MEGABYTE:.1f} MB, layout {found.layout})")
    deleted = f", {found.deleted} jobs deleted" if found.deleted else ""
    typer.echo(f"  {found.jobs} jobs, {found.events} events, {found.marks} marks of reviews{deleted}")
    typer.echo("  every event is whole" if not found.wrong else f"  {len(found.wrong)} things are wrong:")
    _tell_wrong(found.wrong)
    if not found.readable:
        typer.echo("  What can be saved is saved by: voicetech upkeep --mend")
    elif found.wrong:
        typer.echo("  What is missing or was changed can only be put back from a copy of the record.")
    typer.echo(f"Sounds: {found.sounds.whole} whole, {len(found.sounds.wrong)} not")
    _tell_wrong(found.sounds.wrong)
    if found.sounds.nobodys:
        typer.echo(
            f"  {len(found.sounds.nobodys)} files belong to no event: of an answer that is being recorded just now,"
        )
        typer.echo("  of a job that was deleted, or of events that were lost:")
        for file in found.sounds.nobodys[:_SHOWN]:
            typer.echo(f"    {file}")


def _tell_wrong(wrong: tuple[str, ...]) -> None:
    for what in wrong[:_SHOWN]:
        sys.stdout.write(f"    {what}\n")
    if len(wrong) > _SHOWN:
        sys.stdout.write(f"    and {len(wrong) - _SHOWN} more; all of them with --json\n")
