"""`voicetech upkeep`: the state of the record of jobs, and what can be saved of a damaged one."""

import json
import os
import sys
from contextlib import suppress
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.jobs import HOW_TO_START
from voicetech.cli.joining import plain_errors, record_to_read, stop
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.cli.losses import Outcome
    from voicetech.journal.checking import Checked

_SHOWN: Final = 20
_MEGABYTE: Final = 1_000_000


def upkeep(
    mend: Annotated[
        bool,
        typer.Option("--mend", help="Read what can be read of a damaged record into a new one."),
    ] = False,
    begin_anew: Annotated[
        bool,
        typer.Option("--begin-anew", help="Move a lost or unreadable record aside, so that a new one can begin."),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object instead of words.")] = False,
) -> None:
    """Show where the record of jobs is and whether it and the sounds are whole.

    Every event and every sound is looked at, and the list of jobs is asked whether it knew of more; nothing is changed.
    With --mend a damaged record is read page by page, past what SQLite gives up at, into a new one that takes its
    place; the damaged files are kept beside it, and jobs and ends of jobs that are gone are named. Where the record
    itself is gone or cannot be read, and no backup of it is to be had, --begin-anew moves what there is of it, with its
    sounds, reports, list of jobs and damaged copies, to a folder of their own, and deletes nothing. Ends with status 1
    where something is wrong or was lost.

    Examples: voicetech upkeep, voicetech upkeep --mend
    """
    if mend and begin_anew:
        stop("Give --mend or --begin-anew, not both.", code=2)
    with plain_errors():
        if begin_anew:
            _begin_anew(as_json)
            return
        path = _log_of_lost_record() if mend else None
        path = path or record_to_read()
        if path is None:
            stop(HOW_TO_START)
        outcome = _mend(path, as_json) if mend else None
        whole = _check(path, as_json, outcome)
    if not whole or (outcome is not None and not outcome.whole):
        raise typer.Exit(1)


def _begin_anew(as_json: bool) -> None:
    from voicetech.journal.lost import begin_anew
    from voicetech.journal.place import home_folder

    begun = begin_anew(home_folder(os.environ), datetime.now().astimezone())
    moved = [path.name for path in begun.moved]
    if as_json:
        typer.echo(json.dumps({"aside": os.fspath(begun.aside), "moved": moved, "unreadable": begun.unreadable}))
        return
    typer.echo(f"Moved to {begun.aside}: {', '.join(moved)}.")
    if begun.unreadable:
        typer.echo("The next job begins a new record. What can be read of the old one may still be saved: set")
        typer.echo("VOICETECH_HOME to that folder, then: voicetech upkeep --mend")
    else:
        typer.echo("The next job begins a new record. Where the old record is found, put it into that folder and set")
        typer.echo("VOICETECH_HOME to it to read it.")


def _log_of_lost_record() -> Path | None:
    """Return where the record was, where it is gone and its log is still there: events can be read out of that."""
    from voicetech.journal.lost import left_of_lost_record
    from voicetech.journal.place import home_folder, journal_path

    home = home_folder(os.environ)
    log = journal_path(home).with_name(f"{journal_path(home).name}-wal")
    return journal_path(home) if log in left_of_lost_record(home) else None


def _mend(path: Path, quiet: bool) -> "Outcome | None":
    from voicetech.cli.losses import in_words, mended
    from voicetech.journal.checking import check
    from voicetech.journal.errors import JournalError
    from voicetech.journal.place import sounds_folder

    found = None
    if path.exists() and path.stat().st_size:
        with suppress(JournalError):
            found = check(path, sounds_folder(path.parent))
    if found is not None and found.readable:
        if not quiet:
            whole = "The record is whole" if not found.wrong else "The file itself is sound"
            typer.echo(f"{whole}; there is nothing to mend.")
        return None
    outcome = mended(path, datetime.now().astimezone())
    if not quiet:
        for line in in_words(outcome):
            typer.echo(line)
    return outcome


def _check(path: Path, as_json: bool, outcome: "Outcome | None") -> bool:
    from voicetech.cli.losses import as_object, unlike_list
    from voicetech.journal.checking import check
    from voicetech.journal.place import sounds_folder

    # The list is read first: the record only grows meanwhile.
    unlike = unlike_list(path)
    found = check(path, sounds_folder(path.parent))
    whole = found.whole and not unlike
    if as_json:
        mended = {} if outcome is None else {"mended": as_object(outcome)}
        told = {**asdict(found), "unlike_list": unlike, "whole": whole, **mended}
        typer.echo(json.dumps(told, default=os.fspath))
    else:
        _tell(found)
        if unlike:
            typer.echo("The list of jobs (archive.db) was made of more than the record holds now:")
            _tell_wrong(unlike)
            typer.echo("  Look for a newer copy of the record before you list jobs: the list is made anew then.")
    return whole


def _tell(found: "Checked") -> None:
    typer.echo(f"Record: {found.path} ({found.size_bytes / _MEGABYTE:.1f} MB, layout {found.layout})")
    deleted = f", {so_many(found.deleted, 'job')} deleted" if found.deleted else ""
    not_whole = f" whole, {found.unreadable} missing or changed" if found.unreadable else ""
    typer.echo(
        f"  {so_many(found.jobs, 'job')}, {so_many(found.events, 'event')}{not_whole}, "
        f"{so_many(found.marks, 'mark')} of reviews{deleted}"
    )
    things = so_many(len(found.wrong), "thing is wrong", "things are wrong")
    typer.echo("  every event is whole" if not found.wrong else f"  {things}:")
    _tell_wrong(found.wrong)
    if not found.readable:
        typer.echo("  What can be saved is saved by: voicetech upkeep --mend")
    elif found.wrong:
        typer.echo("  What is missing or was changed can only be put back from a copy of the record.")
    typer.echo(f"Sounds: {found.sounds.whole} whole, {len(found.sounds.wrong)} not")
    _tell_wrong(found.sounds.wrong)
    if found.sounds.nobodys:
        files = so_many(len(found.sounds.nobodys), "file belongs", "files belong")
        typer.echo(f"  {files} to no event: of an answer that is being recorded just now,")
        typer.echo("  of a job that was deleted, or of events that were lost:")
        for file in found.sounds.nobodys[:_SHOWN]:
            typer.echo(f"    {file}")


def _tell_wrong(wrong: tuple[str, ...]) -> None:
    for what in wrong[:_SHOWN]:
        sys.stdout.write(f"    {what}\n")
    if len(wrong) > _SHOWN:
        sys.stdout.write(f"    and {len(wrong) - _SHOWN} more; all of them with --json\n")
