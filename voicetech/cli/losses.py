"""What is told of a mended record: what was saved, and by job what is missing."""

import os
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.archive.comparing import Known, LostOfJob
    from voicetech.journal.mending import Mended


@dataclass(frozen=True, slots=True)
class Outcome:
    """A record mended, with what was lost of its jobs.

    `compared` where a list of jobs was there to hold it against, which is `kept` where it knows of something lost;
    `reports` are reports of jobs that are gone, and `nameless` counts missing events whose job nobody can tell.
    """

    done: "Mended"
    lost: "tuple[LostOfJob, ...]"
    compared: bool
    kept: tuple[Path, ...]
    reports: tuple[Path, ...]
    nameless: int

    @property
    def whole(self) -> bool:
        """Return whether nothing is known to be lost."""
        return not (self.lost or self.reports or self.nameless)


def mended(path: Path, now: datetime) -> Outcome:
    """Return what became of a damaged record and its jobs; the list of jobs beside it is made anew when next asked for.

    Raises JournalError.
    """
    from voicetech.archive.comparing import Stored, known_of, lost, put_aside
    from voicetech.archive.local import archive_path
    from voicetech.journal.mending import mend

    home = path.parent
    kept: list[Path] = []
    known: Known | None = None

    def make_way(record_id: str | None) -> None:
        nonlocal known
        known = known_of(archive_path(home), record_id)
        kept.extend(put_aside(home, now))

    done = mend(path, now, make_way)
    stored = {job.job: Stored(job.events + len(job.missing), job.missing, job.changed) for job in done.jobs}
    found = lost(known, stored, done.forgotten)
    named = {*stored, *done.forgotten, *(each.job for each in found)}
    reports = _reports_of_others(home, named)
    missing = sum(len(each.missing) for each in found)
    nameless = max(0, done.missing - missing)
    outcome = Outcome(done, found, known is not None, tuple(kept), reports, nameless)
    if not outcome.whole:
        return outcome
    # It knew nothing that the record does not know.
    for file in kept:
        file.unlink(missing_ok=True)
    return replace(outcome, kept=())


def _reports_of_others(home: Path, named: set[str]) -> tuple[Path, ...]:
    from voicetech.journal.place import is_job_id, reports_folder

    folder = reports_folder(home)
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    others = {file.stem: file for file in files if is_job_id(file.stem) and file.stem not in named}
    return tuple(others.values())


def unlike_list(path: Path) -> tuple[str, ...]:
    """Return in words of which jobs the list beside the record knows more than the record. Raises JournalError."""
    from voicetech.archive.comparing import Stored, known_of, lost
    from voicetech.archive.local import archive_path
    from voicetech.journal.store import open_to_read

    with open_to_read(path) as journal:
        record_id = journal.record_id
    known = known_of(archive_path(path.parent), record_id)
    if known is None:
        return ()
    with open_to_read(path) as journal:
        events = {job: count for job, (count, _, _) in journal.sizes().items()}
        found = lost(known, {job: Stored(count) for job, count in events.items()}, journal.forgotten())
    return tuple(
        f"job {each.job} is gone" + ("" if each.had is None else f": it had {so_many(each.had, 'event')}")
        if each.gone
        else f"job {each.job} had {so_many(each.had or 0, 'event')}, and {each.whole} are there"
        for each in found
    )


def as_object(outcome: Outcome) -> dict[str, object]:
    """Return it as JSON holds it."""
    done = outcome.done
    return {
        "whole": outcome.whole,
        "events_whole": _whole(done),
        "jobs": len(done.jobs),
        "marks": done.marks,
        "lost": [{**asdict(each), "gone": each.gone} for each in outcome.lost],
        "gone_by_reports": [path.stem for path in outcome.reports],
        "missing_of_unknown_jobs": outcome.nameless,
        "compared_with_list": outcome.compared,
        "kept": [os.fspath(path) for path in (*done.aside, *outcome.kept)],
    }


def in_words(outcome: Outcome) -> Iterator[str]:
    """Yield the lines it is told in."""
    done = outcome.done
    yield (
        f"Mended. Saved whole: {so_many(_whole(done), 'event')} of {so_many(len(done.jobs), 'job')}, "
        f"{so_many(done.marks, 'mark')} of reviews."
    )
    hurt = [each for each in outcome.lost if not each.gone]
    gone = [each for each in outcome.lost if each.gone]
    missing = sum(len(each.missing) for each in outcome.lost)
    changed = sum(len(each.changed) for each in outcome.lost)
    if missing:
        yield f"Missing: {so_many(missing, 'event')} of {so_many(sum(bool(e.missing) for e in outcome.lost), 'job')}."
    if changed:
        yield f"Changed by the damage and left out: {so_many(changed, 'event')}."
    for each in hurt:
        yield f"  {_of_job(each)}"
    if gone or outcome.reports:
        yield f"These jobs are gone: {', '.join(_gone(gone, outcome.reports))}."
    if outcome.nameless:
        more = "more " if missing else ""
        yield f"Missing {more}of jobs that nobody can name: {so_many(outcome.nameless, 'event')}."
    if outcome.compared:
        yield "This was held against the list of jobs (archive.db). What was recorded after jobs were listed last and"
        yield "stood at the end of the record would be lost unseen."
    else:
        yield "No list of jobs (archive.db) was there to hold it against: a job that is gone, and what a job had after"
        yield "its last event here, would be lost unseen."
    for path in done.aside:
        yield f"The damaged file is kept: {path}"
    for path in outcome.kept:
        yield f"The old list, with what it knows of these jobs, is kept: {path}"


def _of_job(each: "LostOfJob") -> str:
    from voicetech.journal.gaps import numbers_told

    had = f"had {so_many(each.had, 'event')}, {each.whole} were saved" if each.had is not None else ""
    told = [f"Job {each.job} {had}" if had else f"Of job {each.job} {so_many(each.whole, 'event')} were saved"]
    if each.missing:
        told.append(f"{numbers_told(each.missing)} {'is' if len(each.missing) == 1 else 'are'} missing")
    if each.changed:
        told.append(f"{numbers_told(each.changed)} {'was' if len(each.changed) == 1 else 'were'} changed by the damage")
    return "; ".join(told) + "."


def _gone(gone: "Sequence[LostOfJob]", reports: Sequence[Path]) -> Iterator[str]:
    for each in gone:
        yield each.job if each.had is None else f"{each.job} (it had {so_many(each.had, 'event')})"
    for path in reports:
        yield f"{path.stem} (its report is {path})"


def _whole(done: "Mended") -> int:
    return sum(job.events - len(job.changed) for job in done.jobs)
