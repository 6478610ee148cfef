"""What a laptop's archive knows of the record beside it, held against what the record holds: jobs that got lost.

The archive follows the record, so it never knows more than the record held once. Nothing is changed here.
"""

import sqlite3
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from voicetech.archive.local import archive_path, is_ours
from voicetech.journal.copies import BEFORE
from voicetech.journal.store import connected_to_read


@dataclass(frozen=True, slots=True)
class Known:
    """What an archive knows of a record: how many events each job had, None where it only knows its name."""

    jobs: Mapping[str, int | None]


@dataclass(frozen=True, slots=True)
class LostOfJob:
    """What was lost of a job: `had` is how many events it had, None where nobody knows, and `whole` how many are left.

    `missing` are the numbers of events that are not there, `changed` of those that were changed by damage.
    """

    job: str
    had: int | None
    whole: int
    missing: tuple[int, ...] = ()
    changed: tuple[int, ...] = ()

    @property
    def gone(self) -> bool:
        """Return whether nothing is left of it."""
        return not self.whole and not self.changed


@dataclass(frozen=True, slots=True)
class Stored:
    """What a record holds of a job: its highest number, which numbers below are missing, which events were changed."""

    last: int
    missing: tuple[int, ...] = ()
    changed: tuple[int, ...] = ()


def known_of(path: Path, record_id: str | None) -> Known | None:
    """Return what the archive in this file knows of the record with this id; None where there is none it knows of.

    Where the record no longer tells its id, the archive is taken to be of the record that it lies beside.
    """
    if not is_ours(path):
        return None
    try:
        connection = connected_to_read(path)
    except sqlite3.Error:
        return None
    try:
        records = [row[0] for row in connection.execute("SELECT id FROM record")]
        of = record_id if record_id is not None else records[0] if len(records) == 1 else None
        if of not in records:
            return None
        waiting = connection.execute("SELECT job FROM pending WHERE record = ?", (of,))
        jobs: dict[str, int | None] = {job: None for (job,) in waiting}
        jobs |= dict(connection.execute("SELECT job, events FROM job WHERE record = ?", (of,)))
        return Known(jobs)
    except sqlite3.Error:
        return None
    finally:
        connection.close()


def lost(known: Known | None, stored: Mapping[str, Stored], forgotten: Collection[str]) -> tuple[LostOfJob, ...]:
    """Return what was lost, by job; jobs that were deleted are not lost."""
    had = {} if known is None else known.jobs
    names = sorted({*had, *stored} - set(forgotten))
    found = (_lost_of(name, had.get(name), stored.get(name, Stored(0))) for name in names)
    return tuple(each for each in found if each.missing or each.changed or each.gone)


def _lost_of(job: str, had: int | None, stored: Stored) -> LostOfJob:
    # An archive counts the events that are there, so that a job with an older gap had more than its count says.
    tail = range(stored.last + 1, (had or 0) + 1)
    whole = stored.last - len(stored.missing) - len(stored.changed)
    at_least = max(had or 0, stored.last) if had is not None else None
    return LostOfJob(job, at_least, whole, (*stored.missing, *tail), stored.changed)


def put_aside(home: Path, now: datetime) -> tuple[Path, ...]:
    """Return the files of this folder's archive under their new names; it is made anew when jobs are listed next."""
    path = archive_path(home)
    if not is_ours(path):
        return ()
    path.with_name(f"{path.name}-shm").unlink(missing_ok=True)
    moved: list[Path] = []
    # The log first: an archive without its log is behind, a log without its archive would be taken for a new one's.
    for suffix in ("-wal", ""):
        file = path.with_name(f"{path.name}{suffix}")
        if file.exists():
            moved.append(file.replace(path.with_name(f"{path.name}{BEFORE}{now:%Y%m%d-%H%M%S}{suffix}")))
    return tuple(moved)
