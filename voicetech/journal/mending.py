"""A damaged record made whole again as far as anything of it can be read; the damaged files are kept aside.

An event that is lost leaves a gap in its job. The job can then not be worked on, but it can still be read.
"""

import os
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final

from voicetech.journal.copies import BESIDE, DAMAGED, MENDING
from voicetech.journal.errors import BEGIN_ANEW, JournalError, explained
from voicetech.journal.migrations import MIGRATIONS
from voicetech.journal.pages import Pages, Row, Value, pages_of, rows_of
from voicetech.journal.sealing import SealedRow, broken
from voicetech.journal.store import open_journal

_KIND: Final = re.compile(r"[a-z-]+/\d+")
_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_RECORD_ID: Final = re.compile(r"[0-9a-f]{32}")
_FOLLOWS: Final = next(
    statement for statement in MIGRATIONS[0].statements if statement.startswith("CREATE TRIGGER event_follows")
)


@dataclass(frozen=True, slots=True)
class MendedJob:
    """What was found of a job: how many events, which numbers are missing among them, which of them were changed."""

    job: str
    events: int
    missing: tuple[int, ...]
    changed: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Mended:
    """What was found, and where the damaged files were put.

    `missing` is how many events are missing in all as far as the record's own numbering tells: those of jobs of which
    nothing was found are among them, those recorded last of all are not. `record_id` is None where it was not found.
    """

    jobs: tuple[MendedJob, ...]
    marks: int
    aside: tuple[Path, ...]
    forgotten: tuple[str, ...]
    record_id: str | None
    missing: int


@dataclass(slots=True)
class _Found:
    """The rows of each table, by their keys."""

    events: dict[int, tuple[Value, ...]] = field(default_factory=dict)
    marks: dict[int, tuple[Value, ...]] = field(default_factory=dict)
    written: dict[str, tuple[Value, ...]] = field(default_factory=dict)
    forgotten: dict[str, tuple[Value, ...]] = field(default_factory=dict)
    record_id: str | None = None


def mend(path: Path, now: datetime, make_way: Callable[[str | None], None] = lambda _: None) -> Mended:
    """Return what was read out of a damaged record into a new one, which has taken its place by then.

    The damaged files are kept beside it, named after `now`. `make_way` is called when the new one is written and before
    it takes its place, with the record's id or None where that is lost: what was made of the old one can be put aside.
    Raises JournalError where nothing can be read or written.
    """
    try:
        found = _sorted(rows_of(_pages(path)))
        if not found.events:
            raise JournalError(
                f"No event of any job can be read out of {path}. Nothing was changed. Put a backup copy in its place, "
                f"or begin a new record with: {BEGIN_ANEW} (it moves that file aside and deletes nothing)."
            )
        new = path.with_name(f"{path.name}{MENDING}")
        _remove(new)
        _write(new, found)
        make_way(found.record_id)
        aside = _put_aside(path, now)
        new.replace(path)
    except sqlite3.Error as error:
        raise explained(error, path) from error
    except OSError as error:
        raise JournalError(
            f"The record of jobs cannot be mended in {path.parent} ({error.strerror or error}). "
            f"Free some space there and see that it can be written, then try again."
        ) from error
    return Mended(
        jobs=_jobs(found),
        marks=len(found.marks),
        aside=aside,
        forgotten=tuple(sorted(found.forgotten)),
        record_id=found.record_id,
        missing=_missing(found),
    )


def events_in(path: Path) -> dict[str, int]:
    """Return how many events of each job can be read in this file, damaged or not, and in its log. Raises OSError."""
    return {job.job: job.events for job in _jobs(_sorted(rows_of(_pages(path))))}


def _pages(path: Path) -> Pages:
    log = path.with_name(f"{path.name}-wal")
    return pages_of(*(file.read_bytes() if file.exists() else b"" for file in (path, log)))


def _missing(found: _Found) -> int:
    deleted = [(int(str(row[2])), int(str(row[4]))) for row in found.forgotten.values()]
    last = max([*found.events, *(last_event for _, last_event in deleted)])
    return max(0, last - len(found.events) - sum(events for events, _ in deleted))


def _sorted(rows: Iterable[Row]) -> _Found:
    found = _Found()
    for number, values in rows:
        match values:
            case (None, str(), int(), str(kind), _, str(), *seal) if number is not None and _KIND.fullmatch(kind):
                if len(seal) < 2 and all(each is None or isinstance(each, bytes) for each in seal):
                    found.events[number] = (number, *values[1:6], *(seal or [None]))
            case (None, str(), str(kind), str()) if number is not None and _KIND.fullmatch(kind):
                found.marks[number] = (number, *values[1:])
            case (str(digest), str(), bytes()) if number is None and _SHA256.fullmatch(digest):
                found.written[digest] = values
            case (str(job), float() | int(), int(), str(), int(), int()) if number is None:
                found.forgotten[job] = values
            case ("id", str(name)) if number is None and _RECORD_ID.fullmatch(name):
                found.record_id = name
            case _:
                pass
    for number, row in list(found.events.items()):
        if row[1] in found.forgotten:
            del found.events[number]
    return found


def _write(new: Path, found: _Found) -> None:
    open_journal(new).close()
    connection = sqlite3.connect(new, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("BEGIN IMMEDIATE")
        if found.record_id is not None:
            connection.execute("UPDATE record SET value = ? WHERE name = 'id'", (found.record_id,))
        # A gap is allowed here and nowhere else: the numbers of events are not changed to hide that one is lost.
        connection.execute("DROP TRIGGER event_follows")
        for nr in sorted(found.events):
            connection.execute(
                "INSERT OR IGNORE INTO event (nr, job, seq, kind, at_s, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?)",
                found.events[nr],
            )
        connection.execute(_FOLLOWS)
        for nr in sorted(found.marks):
            connection.execute("INSERT OR IGNORE INTO mark (nr, job, kind, body) VALUES (?, ?, ?, ?)", found.marks[nr])
        connection.executemany(
            "INSERT INTO written (digest, procedure, files) VALUES (?, ?, ?)", found.written.values()
        )
        connection.executemany(
            "INSERT INTO forgotten (job, at_s, events, sounds, last_event, last_mark) VALUES (?, ?, ?, ?, ?, ?)",
            found.forgotten.values(),
        )
        connection.execute("COMMIT")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode = DELETE")
    finally:
        connection.close()


def _put_aside(path: Path, now: datetime) -> tuple[Path, ...]:
    """Return the copies of the damaged files; the originals beside the file are gone by then, or SQLite would take
    them for the new file's.
    """
    stem = f"{path.name}{DAMAGED}{now:%Y%m%d-%H%M%S}"
    copies: list[Path] = []
    for suffix in ("", "-wal"):
        original = path.with_name(f"{path.name}{suffix}")
        if original.exists():
            copy = path.with_name(f"{stem}{suffix}")
            shutil.copy2(original, copy)
            _flush(copy)
            copies.append(copy)
    for suffix in BESIDE:
        path.with_name(f"{path.name}{suffix}").unlink(missing_ok=True)
    return tuple(copies)


def _flush(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _remove(new: Path) -> None:
    for suffix in ("", *BESIDE):
        new.with_name(f"{new.name}{suffix}").unlink(missing_ok=True)


def _jobs(found: _Found) -> tuple[MendedJob, ...]:
    by_job: dict[str, dict[int, SealedRow]] = {}
    for _, job, seq, kind, _, body, seal in found.events.values():
        row = SealedRow(int(str(seq)), str(kind), str(body).encode(), seal if isinstance(seal, bytes) else None)
        by_job.setdefault(str(job), {})[row.seq] = row
    return tuple(_job(job, rows) for job, rows in sorted(by_job.items()))


def _job(job: str, rows: dict[int, SealedRow]) -> MendedJob:
    missing = tuple(seq for seq in range(1, max(rows) + 1) if seq not in rows)
    return MendedJob(job, len(rows), missing, broken(job, [rows[seq] for seq in sorted(rows)]))
