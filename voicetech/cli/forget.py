"""`voicetech forget`: whole jobs deleted on request, with their sounds."""

import os
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import plain_errors, record_to_read, stop
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.cli.leftovers import Leftovers
    from voicetech.journal.forgetting import Forgotten
    from voicetech.journal.store import Journal


def forget(
    jobs: Annotated[list[str], typer.Argument(metavar="JOB…", help="Names of jobs, or: last")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask first.")] = False,
    copies: Annotated[
        bool,
        typer.Option("--copies", help="Delete whole copies too that were kept of a damaged record and hold the job."),
    ] = False,
) -> None:
    """Delete whole jobs with their sounds, reviews and reports, and look whether anything is left of them.

    There is no way back. What stays is that there was a job of this name and how many events it had. Copies that were
    kept when the record was mended or begun anew are looked through: with --copies the former are deleted whole, with
    whatever they hold of other jobs, else it is told what to do. Copies that were made elsewhere (reports sent,
    backups) are not reached; a shop's archive deletes it too at the next voicetech push. A job may be named once more
    to finish what was broken off, and one that the record lost to delete what is left of it. Ends with status 1 where
    anything is left.

    Examples: voicetech forget 20261126-0941-k7, voicetech forget last --yes
    """
    from voicetech.archive.remains import left_in_archive, traces_of
    from voicetech.cli.leftovers import Leftovers, tell
    from voicetech.journal.forgetting import forget as forget_job
    from voicetech.journal.place import journal_path, ready_home, sounds_folder

    with plain_errors():
        if record_to_read() is None:
            stop(_no_record())
        home = ready_home(os.environ)
        named = _named(home, jobs)
        if not yes and not _agreed(home, named, copies=copies):
            stop("Nothing was deleted.")
        traces = [traces_of(home, job) for job in named]
        remains = {}
        for job in named:
            path = journal_path(home)
            done, remains[job] = forget_job(path, sounds_folder(home), job, time.time(), lost=True)
            written = _remove_written(home, job)
            typer.echo(_in_words(done, written))
        clean = _forget_in_archive(home)
        found = [
            Leftovers(
                each.job,
                (
                    *remains[each.job].in_files,
                    *left_in_archive(home, each),
                    *remains[each.job].sounds,
                    *_written_aside(home, each.job),
                ),
            )
            for each in traces
        ]
        if copies:
            found = _without_copies(home, found)
        clean = tell(home, found) and clean
    if not clean:
        raise typer.Exit(1)


def _no_record() -> str:
    from voicetech.journal.copies import lost_folders
    from voicetech.journal.place import home_folder

    older = lost_folders(home_folder(os.environ))
    if not older:
        return HOW_TO_START
    named = ", ".join(os.fspath(folder) for folder in older)
    return (
        f"No jobs yet, but older records were moved to {named}. Set VOICETECH_HOME to such a folder and run it there."
    )


def _written_aside(home: Path, job: str) -> list[Path]:
    from voicetech.journal.copies import lost_folders

    return [path for folder in lost_folders(home) for path in _written(folder, job)]


def _without_copies(home: Path, found: "Sequence[Leftovers]") -> "list[Leftovers]":
    """Return what is left when the whole copies are deleted that something is left in; they are told."""
    from voicetech.cli.leftovers import Leftovers, copies_among, lost_with

    copies = copies_among(home, [file for each in found for file in each.files])
    if not copies:
        return [*found]
    told = [*lost_with(home, copies, [each.job for each in found])]
    typer.echo("\n".join([f"Deleted whole: {', '.join(path.name for path in copies)}.", *told]))
    for path in copies:
        with suppress(OSError):
            path.unlink()
    return [Leftovers(each.job, tuple(file for file in each.files if file.exists())) for each in found]


def _forget_in_archive(home: Path) -> bool:
    from voicetech.archive.local import archive_path, forget_locally
    from voicetech.journal.place import journal_path
    from voicetech.journal.store import open_journal

    with open_journal(journal_path(home)) as journal:
        gone = forget_locally(journal, home)
    if not gone:
        sys.stderr.write(f"Something of it may be left in {archive_path(home)}. Delete that file: it is made anew.\n")
    return gone


def _named(home: Path, jobs: list[str]) -> list[str]:
    from voicetech.journal.place import journal_path
    from voicetech.journal.store import open_journal

    with open_journal(journal_path(home)) as journal:
        gone = journal.forgotten()
        return list(
            dict.fromkeys(
                job if job in gone or _lost_with_traces(home, journal, job) else job_named(journal, job) for job in jobs
            )
        )


def _lost_with_traces(home: Path, journal: "Journal", job: str) -> bool:
    """Return whether the record holds nothing of a job, and something of it is left elsewhere in its folder."""
    from voicetech.archive.remains import left_in_archive, traces_of
    from voicetech.journal.forgetting import copies_holding
    from voicetech.journal.place import is_job_id, journal_path

    if journal.holds(job) or job == "last":
        return False
    if copies_holding(journal_path(home), job):
        return True
    # A name of somebody's own choice may be how another one begins.
    return is_job_id(job) and bool(left_in_archive(home, traces_of(home, job)) or _written(home, job))


def _agreed(home: Path, jobs: list[str], *, copies: bool) -> bool:
    if not sys.stdin.isatty():
        stop("Deleting cannot be taken back. Say that you mean it with --yes")
    what = f"job {jobs[0]}" if len(jobs) == 1 else f"{len(jobs)} jobs ({', '.join(jobs)})"
    held = _copies_holding(home, jobs) if copies else ()
    if held:
        from voicetech.cli.leftovers import lost_with

        typer.echo(f"Copies that are deleted whole: {', '.join(path.name for path in held)}.")
        for line in lost_with(home, held, jobs):
            typer.echo(line)
    too = ", and these copies" if held else ""
    return typer.confirm(f"Delete {what} with sounds, reviews and reports{too}? This cannot be taken back")


def _copies_holding(home: Path, jobs: list[str]) -> tuple[Path, ...]:
    from voicetech.archive.remains import left_in_archive, traces_of
    from voicetech.cli.leftovers import copies_among
    from voicetech.journal.forgetting import copies_holding
    from voicetech.journal.place import journal_path

    of_record = [file for job in jobs for file in copies_holding(journal_path(home), job)]
    return copies_among(
        home, [*of_record, *(file for job in jobs for file in left_in_archive(home, traces_of(home, job)))]
    )


def _remove_written(home: Path, job: str) -> int:
    """Return how many files were removed that reports of the job had been written to, where they go by themselves."""
    written = _written(home, job)
    for path in written:
        path.unlink(missing_ok=True)
    return len(written)


def _written(home: Path, job: str) -> list[Path]:
    """Return the files that reports of the job were written to, where they go by themselves."""
    from voicetech.journal.place import reports_folder
    from voicetech.reports.writing import report_path

    stem = report_path(reports_folder(home), job).stem
    return [path for path in reports_folder(home).glob("*") if path.name.startswith(f"{stem}.")]


def _in_words(done: "Forgotten", written: int) -> str:
    told = [so_many(done.sounds, "sound"), so_many(written, "report")]
    kept = so_many(
        done.shared_sounds, "sound stays because other jobs have it", "sounds stay because other jobs have them"
    )
    shared = f" {kept} too." if done.shared_sounds else ""
    if done.before_s is None and not done.events:
        return f"Job {done.job} is not in the record; it is noted there as deleted. Deleted of it: {told[1]}."
    if done.before_s is None:
        told = [so_many(done.events, "event"), told[0], so_many(done.marks, "mark"), told[1]]
        return f"Job {done.job} is deleted: {', '.join(told)}.{shared}"
    when = datetime.fromtimestamp(done.before_s).astimezone()
    rest = f"Of what was left of it {', '.join(told)} are deleted now." if done.sounds or written else "It stays so."
    return f"Job {done.job} was deleted before, on {when:%Y-%m-%d} at {when:%H:%M}. {rest}{shared}"
