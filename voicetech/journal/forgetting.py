"""A whole job deleted on request, with its sounds; afterwards it is looked for, in the very bytes of the files.

What stays is that there was a job of this name, how many events it had, and the names of its sounds.
"""

import json
import re
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicetech.events import KINDS, InputReceived
from voicetech.journal.copies import lost_folders, other_files
from voicetech.journal.errors import JournalError, explained
from voicetech.journal.place import sounds_folder
from voicetech.journal.searching import files_holding
from voicetech.journal.sounds import sound_path
from voicetech.journal.store import BUSY_S, open_journal

_INPUT_KINDS: Final = tuple(kind for kind, record in KINDS.items() if record is InputReceived)


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What was deleted of a job. `shared_sounds` also belong to other jobs and were kept for them.

    `before_s` is when the job had been deleted already, in seconds since the epoch; None where it is deleted now.
    """

    job: str
    events: int
    marks: int
    sounds: int
    shared_sounds: int
    before_s: float | None = None


@dataclass(frozen=True, slots=True)
class Remains:
    """What is left of a deleted job: bytes of it in the record's files and in copies of it, and sound files."""

    in_files: tuple[Path, ...]
    sounds: tuple[Path, ...]

    @property
    def nothing(self) -> bool:
        """Return whether nothing is left."""
        return not self.in_files and not self.sounds


def forget(path: Path, sounds: Path, job: str, at_s: float, *, lost: bool = False) -> tuple[Forgotten, Remains]:
    """Return what was deleted of a job, and what is left: nothing, where all went well and there are no copies.

    Copies that were kept when the record was mended or another was begun are looked through and left as they are.
    Deleting a job again finishes what was broken off. A job that the record lost is noted as deleted where `lost` says
    so. Raises JournalError where there is no such job, or the record cannot be written.
    """
    with open_journal(path) as journal:
        known = journal.holds(job)
        named = tuple(
            event.sound_sha256
            for event in journal.readable_events(job).events
            if isinstance(event, InputReceived) and event.sound_sha256 is not None
        )
    connection = _connected(path)
    try:
        connection.execute("PRAGMA secure_delete = ON")
        seals = _seals(connection, job)
        before_s = None if known else _deleted_at_s(connection, job)
        new = known or (lost and before_s is None)
        events, marks = _delete(connection, job, tuple(dict.fromkeys(named)), at_s) if new else (0, 0)
        own = _sounds_of(connection, job)
        if own is None:
            raise JournalError(f"There is no job {job}. See the list with: voicetech jobs")
        _write_anew(connection, path, job)
        # What was deleted still stands in the log beside the file until that is merged and cut off.
        busy = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        shared = _in_other_jobs(connection, own)
        gone = [sha256 for sha256 in own if sha256 not in shared and _remove(sound_path(sounds, sha256))]
    except sqlite3.Error as error:
        raise explained(error, path) from error
    finally:
        connection.close()
    if busy:
        raise JournalError(
            f"Job {job} is deleted, but another program holds the record, so that its log still holds old bytes. "
            f"Close the other voicetech and run this once more."
        )
    folders = (sounds, *(sounds_folder(folder) for folder in lost_folders(path.parent)))
    files = (sound_path(folder, sha256) for folder in folders for sha256 in own if sha256 not in shared)
    left = tuple(file for file in files if file.exists())
    return Forgotten(job, events, marks, len(gone), len(shared), before_s), Remains(_holding(path, job, seals), left)


def copies_holding(path: Path, job: str) -> tuple[Path, ...]:
    """Return the copies of the record in this file in which rows of a job stand that the record may not hold."""
    return files_holding(other_files(path.parent, path.name), _beginnings(job))


def _write_anew(connection: sqlite3.Connection, path: Path, job: str) -> None:
    # Where a page was divided or rows were moved, what stood there before stays between the rows until the page is
    # filled: bytes that no deletion reaches.
    try:
        connection.execute("VACUUM")
    except sqlite3.Error as error:
        raise JournalError(
            f"Job {job} is deleted, but {path} cannot be written anew ({error}), so that old bytes of it may still "
            f"stand there. Free as much space as that file takes, close the other voicetech and run this once more. "
            f"If it is damaged, mend it first with: voicetech upkeep --mend"
        ) from error


def _connected(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=BUSY_S, isolation_level=None)


def _seals(connection: sqlite3.Connection, job: str) -> tuple[bytes, ...]:
    rows = connection.execute("SELECT seal FROM event WHERE job = ? AND seal IS NOT NULL", (job,)).fetchall()
    return tuple(bytes(seal) for (seal,) in rows)


def _deleted_at_s(connection: sqlite3.Connection, job: str) -> float | None:
    row = connection.execute("SELECT at_s FROM forgotten WHERE job = ?", (job,)).fetchone()
    return None if row is None else float(row[0])


def _delete(connection: sqlite3.Connection, job: str, sounds: Sequence[str], at_s: float) -> tuple[int, int]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(
            """INSERT OR IGNORE INTO forgotten (job, at_s, events, sounds, last_event, last_mark)
            SELECT ?, ?, count(*), ?,
                coalesce((SELECT max(nr) FROM event), 0),
                coalesce((SELECT max(nr) FROM mark), 0)
            FROM event WHERE job = ?""",
            (job, at_s, json.dumps(sounds), job),
        )
        marks = connection.execute("DELETE FROM mark WHERE job = ?", (job,)).rowcount
        events = connection.execute("DELETE FROM event WHERE job = ?", (job,)).rowcount
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
    return events, marks


def _sounds_of(connection: sqlite3.Connection, job: str) -> tuple[str, ...] | None:
    row = connection.execute("SELECT sounds FROM forgotten WHERE job = ?", (job,)).fetchone()
    return None if row is None else tuple(json.loads(row[0]))


def _in_other_jobs(connection: sqlite3.Connection, sounds: Iterable[str]) -> frozenset[str]:
    shared: set[str] = set()
    for sha256 in sounds:
        for kind in _INPUT_KINDS:
            found = connection.execute(
                "SELECT 1 FROM event WHERE kind = ? AND instr(body, ?) > 0 LIMIT 1", (kind, sha256)
            ).fetchone()
            if found is not None:
                shared.add(sha256)
    return frozenset(shared)


def _remove(file: Path) -> bool:
    try:
        file.unlink()
    except FileNotFoundError:
        return False
    except OSError:
        # It is found again when what is left is looked for, and told there.
        return False
    return True


def _holding(path: Path, job: str, seals: Sequence[bytes]) -> tuple[Path, ...]:
    """Return those of the record's files and copies that hold any of these seals, or the beginning of a row of the job.

    A seal is 32 bytes that stand nowhere else, but once the job is deleted nobody knows them any more.
    """
    files = (path, path.with_name(f"{path.name}-wal"), *other_files(path.parent, path.name))
    return files_holding(files, _beginnings(job), seals)


def _beginnings(job: str) -> tuple[bytes, ...]:
    """Return patterns that the beginnings of a job's rows fit, and the row that says it was deleted does not.

    First of what type each column is (the name's tells how long it is, a seal's is L), then their values: the name, an
    event's number, the kind. Source: sqlite.org/fileformat2.html (from memory); the columns are those of `migrations`.
    """
    name = job.encode()
    type_of_name = 13 + 2 * len(name)
    told = bytes([type_of_name] if type_of_name < 128 else [128 | type_of_name >> 7, type_of_name & 127])
    number, text, long_text = rb"[\x00-\x09]", rb"[\x0d-\x7f]", rb"[\x80-\xff]{0,4}[\x00-\x7f]"
    begins, named, kind = re.escape(told), re.escape(name), rb"[a-z-]+/[0-9]"
    event = rb"\x00%b%b%b%b%b[\x00L]?%b.{0,8}%b" % (begins, number, text, number, long_text, named, kind)
    mark = rb"\x00%b%b%b%b%b" % (begins, text, long_text, named, kind)
    mark_in_index = rb"[\x05-\x0a]%b%b%b%b%b%b" % (begins, text, long_text, number, named, kind)
    return event, mark, mark_in_index
