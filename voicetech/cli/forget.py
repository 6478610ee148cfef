"""`voicetech forget`: whole jobs deleted on request, with their sounds."""

import os
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import plain_errors, record_to_read, stop
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.journal.forgetting import Forgotten


def forget(
    jobs: Annotated[list[str], typer.Argument(metavar="JOB…", help="Names of jobs, or: last")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask first.")] = False,
) -> None:
    """Delete whole jobs with their sounds, reviews and reports, and look whether anything is left of them.

    There is no way back. What stays is that there was a job of this name and how many events it had. Copies that were
    made elsewhere (reports sent, backups) are not reached; a shop's archive deletes it too at the next voicetech push.
    A job may be named once more to finish what was broken off. Ends with status 1 where anything is left.

    Examples: voicetech forget 20261126-0941-k7, voicetech forget last --yes
    """
    from voicetech.archive.remains import left_in_archive, traces_of
    from voicetech.journal.forgetting import forget as forget_job
    from voicetech.journal.place import journal_path, ready_home, sounds_folder

    clean = True
    with plain_errors():
        if record_to_read() is None:
            stop(HOW_TO_START)
        home = ready_home(os.environ)
        named = _named(journal_path(home), jobs)
        if not yes and not _agreed(named):
            stop("Nothing was deleted.")
        traces = [traces_of(home, job) for job in named]
        remains = {}
        for job in named:
            done, remains[job] = forget_job(journal_path(home), sounds_folder(home), job, time.time())
            written = _remove_written(home, job)
            typer.echo(_in_words(done, written))
        clean = _forget_in_archive(home)
        for each in traces:
            left = (*remains[each.job].in_files, *left_in_archive(home, each))
            clean = _tell_remains(each.job, left, remains[each.job].sounds) and clean
    if not clean:
        raise typer.Exit(1)


def _forget_in_archive(home: Path) -> bool:
    from voicetech.archive.local import archive_path, forget_locally
    from voicetech.journal.place import journal_path
    from voicetech.journal.store import open_journal

    with open_journal(journal_path(home)) as journal:
        gone = forget_locally(journal, home)
    if not gone:
        sys.stderr.write(f"Something of it may be left in {archive_path(home)}. Delete that file: it is made anew.\n")
    return gone


def _named(record: Path, jobs: list[str]) -> list[str]:
    from voicetech.journal.store import open_journal

    with open_journal(record) as journal:
        gone = journal.forgotten()
        return list(dict.fromkeys(job if job in gone else job_named(journal, job) for job in jobs))


def _agreed(jobs: list[str]) -> bool:
    if not sys.stdin.isatty():
        stop("Deleting cannot be taken back. Say that you mean it with --yes")
    what = f"job {jobs[0]}" if len(jobs) == 1 else f"{len(jobs)} jobs ({', '.join(jobs)})"
    return typer.confirm(f"Delete {what} with sounds, reviews and reports? This cannot be taken back")


def _remove_written(home: Path, job: str) -> int:
    """Return how many files were removed that reports of the job had been written to, where they go by themselves."""
    from voicetech.journal.place import reports_folder
    from voicetech.reports.writing import report_path

    stem = report_path(reports_folder(home), job).stem
    written = [path for path in reports_folder(home).glob("*") if path.name.startswith(f"{stem}.")]
    for path in written:
        path.unlink(missing_ok=True)
    return len(written)


def _in_words(done: "Forgotten", written: int) -> str:
    told = [so_many(done.sounds, "sound"), so_many(written, "report")]
    kept = so_many(
        done.shared_sounds, "sound stays because other jobs have it", "sounds stay because other jobs have them"
    )
    shared = f" {kept} too." if done.shared_sounds else ""
    if done.before_s is None:
        told = [so_many(done.events, "event"), told[0], so_many(done.marks, "mark"), told[1]]
        return f"Job {done.job} is deleted: {', '.join(told)}.{shared}"
    when = datetime.fromtimestamp(done.before_s).astimezone()
    rest = f"Of what was left of it {', '.join(told)} are deleted now." if done.sounds or written else "It stays so."
    return f"Job {done.job} was deleted before, on {when:%Y-%m-%d} at {when:%H:%M}. {rest}{shared}"


def _tell_remains(job: str, files: tuple[Path, ...], sounds: tuple[Path, ...]) -> bool:
    if not files and not sounds:
        typer.echo(f"Looked through the record, the list of jobs and the sounds: nothing is left of job {job}.")
        return True
    for path in (*files, *sounds):
        # A copy from before a mend holds other jobs too, and nobody but its owner knows whether it is still needed.
        kept = ".damaged-" in path.name or path.name.startswith("archive.db.")
        how = (
            "a copy kept aside: delete it once you need it no more"
            if kept
            else "close other programs and run this again"
        )
        sys.stderr.write(f"Of job {job} something is left in {path}; {how}.\n")
    return False
