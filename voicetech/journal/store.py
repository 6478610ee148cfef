"""The record of every job: events in SQLite, appended and never changed.

A job's events are numbered 1, 2, 3 …; the table refuses a number that is taken or leaves a gap, so that of
two writers exactly one wins. What `append` has returned from survives the death of the program and a
power cut (write-ahead log, flushed at every commit). This module decides nothing and speaks nothing.
"""

import json
import os
import sqlite3
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Self, TypeVar
from urllib.parse import quote

from voicetech.events import (
    KINDS,
    AnswerTaken,
    AnswerWithdrawn,
    Event,
    JobClosed,
    JobOpened,
    UnreadableEventError,
    decoded,
    encoded,
)
from voicetech.journal.errors import JournalError, LostRaceError, explained, not_writable
from voicetech.journal.migrations import APPLICATION_ID, MIGRATIONS, apply, version_of
from voicetech.journal.sealing import FIRST, SealedRow, broken, seal
from voicetech.marks import Mark, UnreadableMarkError, decoded_mark, encoded_mark
from voicetech.procedure import WrittenFile

Said = TypeVar("Said", Event, Mark)

BUSY_S: Final = 5.0
"""How long to wait for another program that is writing (judgement, no source)."""

COMPLAINT_FIELD: Final = "complaint"
"""The field under which a job's complaint is answered."""

_LISTED: Final = tuple(
    kind for kind, record in KINDS.items() if record in (JobOpened, AnswerTaken, AnswerWithdrawn, JobClosed)
)


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job in a list; times in seconds since the epoch, None where the record does not say."""

    job: str
    procedure: str | None
    opened_at_s: float | None
    last_at_s: float | None
    complaint: str | None
    outcome: str | None
    events: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An event that could not be read: its number, its stored kind, and why."""

    seq: int
    kind: str
    why: str


@dataclass(frozen=True, slots=True)
class ReadableEvents:
    """What can be read of a job, in order, and what cannot; `numbers` are those of the events."""

    events: tuple[Event, ...]
    left_out: tuple[LeftOut, ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Reached:
    """How far somebody has read the record: the highest numbers of an event and of a mark."""

    event_nr: int = 0
    mark_nr: int = 0


@dataclass(frozen=True, slots=True)
class Changes:
    """What became of the record since it was read last: jobs that are new or go on, and jobs that were deleted."""

    jobs: tuple[str, ...]
    forgotten: tuple[str, ...]
    reached: Reached


class Journal:
    """The record, over an open connection in autocommit mode; made by `open_journal`."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self._path = path
        self._file = _file_at(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def append(self, job: str, expected_seq: int, events: Sequence[Event]) -> int:
        """Return the number of the job's last event, all of `events` being on disk by then, or none of them.

        `expected_seq` is how many events the caller knows this job to have (0 for a new one). Raises
        LostRaceError where the record has another count, JournalError where it cannot be written.
        """
        written = [_as_text(encoded, event) for event in events]
        self._refuse_where_gone()
        with self._plainly():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                self._insert(job, expected_seq, events, written)
                self._connection.execute("COMMIT")
            except sqlite3.IntegrityError:
                raise _lost_race(job) from None
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
        return expected_seq + len(written)

    def _refuse_where_gone(self) -> None:
        """Raise JournalError where the file was deleted or replaced: what is written to it now is nowhere."""
        if self._file is not None and _file_at(self._path) != self._file:
            raise JournalError(
                f"The record of jobs {self._path} was deleted, moved or replaced while this job was at work. "
                f"Nothing of this turn is on record. Put the record back where it was, then take the job up again."
            )

    def _insert(self, job: str, expected_seq: int, events: Sequence[Event], written: Sequence[tuple[str, str]]) -> None:
        last = self._connection.execute(
            "SELECT seq, seal FROM event WHERE job = ? ORDER BY seq DESC LIMIT 1", (job,)
        ).fetchone() or (0, FIRST)
        if last[0] != expected_seq:
            raise _lost_race(job)
        before = last[1] or FIRST
        nr = self._reached().event_nr
        for seq, (event, (kind, body)) in enumerate(zip(events, written, strict=True), start=expected_seq + 1):
            before = seal(before, job, seq, kind, body.encode())
            self._connection.execute(
                "INSERT INTO event (nr, job, seq, kind, at_s, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (nr + seq - expected_seq, job, seq, kind, getattr(event, "at_s", None), body, before),
            )

    def events(self, job: str) -> tuple[Event, ...]:
        """Return a job's events in order, none for an unknown job; JournalError names an unreadable one."""
        readable = self.readable_events(job)
        if readable.left_out:
            first = readable.left_out[0]
            raise JournalError(
                f"Event {first.seq} of job {job} cannot be read: {first.why}. The job cannot go on safely. "
                f"Install the newest voicetech, or start a new job; a report of the rest can be written."
            )
        return readable.events

    def since(self, job: str, seq: int) -> tuple[Event, ...]:
        """Return a job's events after number `seq`, none where nobody has gone on with it; JournalError as `events`."""
        with self._plainly():
            last = self._connection.execute("SELECT max(seq) FROM event WHERE job = ?", (job,)).fetchone()[0]
        return () if last is None or last <= seq else self.events(job)[seq:]

    def readable_events(self, job: str) -> ReadableEvents:
        """Return what can be read of a job, and what was left out; JournalError where the file fails.

        Left out is what is missing, what no kind of event fits, and what was changed after it was recorded.
        """
        return readable(job, self.stored(job))

    def stored(self, job: str) -> tuple[SealedRow, ...]:
        """Return a job's events as they are stored, in order; none for an unknown job."""
        with self._plainly():
            rows = self._connection.execute(
                "SELECT seq, kind, CAST(body AS BLOB), seal FROM event WHERE job = ? ORDER BY seq", (job,)
            ).fetchall()
        return tuple(SealedRow(*row) for row in rows)

    def sizes(self) -> dict[str, tuple[int, bytes | None, int]]:
        """Return how many events each job has, the seal of its last one, and how many marks."""
        last = "(SELECT seal FROM event AS e WHERE e.job = event.job ORDER BY seq DESC LIMIT 1)"
        marks = "(SELECT count(*) FROM mark WHERE mark.job = event.job)"
        with self._plainly():
            rows = self._connection.execute(f"SELECT job, count(*), {last}, {marks} FROM event GROUP BY job")  # noqa: S608
            return {job: (events, seal, marks) for job, events, seal, marks in rows}

    def stored_marks(self, job: str) -> tuple[tuple[str, str], ...]:
        """Return a job's marks as they are stored, kind and body, in the order they were made."""
        with self._plainly():
            rows = self._connection.execute("SELECT kind, body FROM mark WHERE job = ? ORDER BY nr", (job,)).fetchall()
        return tuple((kind, body) for kind, body in rows)

    @property
    def record_id(self) -> str:
        """Return what tells this record from every other one: 32 hexadecimal digits, drawn when it was made."""
        with self._plainly():
            return str(self._connection.execute("SELECT value FROM record WHERE name = 'id'").fetchone()[0])

    def holds(self, job: str) -> bool:
        """Return whether there is a job of this name."""
        with self._plainly():
            return self._connection.execute("SELECT 1 FROM event WHERE job = ? LIMIT 1", (job,)).fetchone() is not None

    def keep_written(self, digest: str, procedure: str, files: Sequence[WrittenFile]) -> None:
        """Keep the files a procedure is written in, named by their digest; nothing changes where they are kept already.

        Raises JournalError where they cannot be written.
        """
        with self._plainly():
            known = self._connection.execute("SELECT 1 FROM written WHERE digest = ?", (digest,)).fetchone()
            if known is not None:
                return
            text = zlib.compress(json.dumps([[file.name, file.text] for file in files]).encode())
            self._connection.execute(
                "INSERT OR IGNORE INTO written (digest, procedure, files) VALUES (?, ?, ?)", (digest, procedure, text)
            )

    def written(self, digest: str) -> tuple[WrittenFile, ...]:
        """Return the files of the procedure with this digest, its own file first.

        None where they are not kept, or cannot be read.
        """
        with self._plainly():
            row = self._connection.execute("SELECT files FROM written WHERE digest = ?", (digest,)).fetchone()
        try:
            named = () if row is None else json.loads(zlib.decompress(row[0]))
        except (TypeError, ValueError, zlib.error):
            # Damaged; a job can be read without them, and says that it was.
            return ()
        return tuple(WrittenFile(name, text) for name, text in named)

    def add_marks(self, job: str, marks: Sequence[Mark]) -> int:
        """Return how many of these marks are new; all are on disk by then, or none where JournalError is raised.

        A mark that is on record already is left as it is, so that the same marks may be brought twice.
        """
        written = [(job, *_as_text(encoded_mark, mark)) for mark in marks]
        if not self.holds(job):
            raise JournalError(f"There is no job {job} to mark. See the list with: voicetech jobs")
        with self._plainly():
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                nr = self._reached().mark_nr
                new = 0
                for row in written:
                    new += self._connection.execute(
                        "INSERT OR IGNORE INTO mark (nr, job, kind, body) VALUES (?, ?, ?, ?)", (nr + new + 1, *row)
                    ).rowcount
                self._connection.execute("COMMIT")
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
        return new

    def marks(self, job: str) -> tuple[Mark, ...]:
        """Return the marks of a job in the order they were made; JournalError where one cannot be read."""
        try:
            return tuple(decoded_mark(kind, body) for kind, body in self.stored_marks(job))
        except UnreadableMarkError as error:
            raise JournalError(f"A mark of job {job} cannot be read: {error}. Install the newest voicetech.") from error

    def forgotten(self) -> tuple[str, ...]:
        """Return the names of the jobs that were deleted."""
        with self._plainly():
            rows = self._connection.execute("SELECT job FROM forgotten ORDER BY job").fetchall()
        return tuple(job for (job,) in rows)

    def changes(self, since: Reached) -> Changes:
        """Return what became of the record since it was read that far; everything where that is `Reached()`."""
        with self._plainly():
            self._connection.execute("BEGIN")
            try:
                jobs = self._connection.execute(
                    "SELECT DISTINCT job FROM event WHERE nr > ? UNION SELECT job FROM mark WHERE nr > ? ORDER BY job",
                    (since.event_nr, since.mark_nr),
                ).fetchall()
                forgotten = self.forgotten()
                reached = self._reached()
            finally:
                self._connection.execute("ROLLBACK")
        return Changes(tuple(job for (job,) in jobs), forgotten, reached)

    def _reached(self) -> Reached:
        row = self._connection.execute(
            """SELECT
                max(coalesce((SELECT max(nr) FROM event), 0), coalesce((SELECT max(last_event) FROM forgotten), 0)),
                max(coalesce((SELECT max(nr) FROM mark), 0), coalesce((SELECT max(last_mark) FROM forgotten), 0))"""
        ).fetchone()
        return Reached(*row)

    def jobs(self) -> tuple[JobLine, ...]:
        """Return every job, the one written to last first."""
        with self._plainly():
            counts = self._connection.execute(
                "SELECT job, count(*), max(at_s) FROM event GROUP BY job ORDER BY max(nr) DESC"
            ).fetchall()
            marks = ", ".join("?" for _ in _LISTED)
            told = self._connection.execute(
                f"SELECT job, kind, CAST(body AS BLOB) FROM event WHERE kind IN ({marks}) ORDER BY job, seq",  # noqa: S608
                _LISTED,
            ).fetchall()
        by_job: dict[str, list[Event]] = {job: [] for job, _, _ in counts}
        for job, kind, body in told:
            try:
                by_job.setdefault(job, []).append(decoded(kind, body.decode()))
            except (UnreadableEventError, UnicodeDecodeError):
                continue
        return tuple(_line(job, by_job[job], last_at_s, count) for job, count, last_at_s in counts)

    def last_job(self) -> str | None:
        """Return the job that was written to last, None where there is none."""
        with self._plainly():
            row = self._connection.execute("SELECT job FROM event ORDER BY nr DESC LIMIT 1").fetchone()
        return None if row is None else str(row[0])

    def close(self) -> None:
        """Close the file; safe to call twice."""
        self._connection.close()

    @contextmanager
    def _plainly(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise explained(error, self._path) from error
        except UnicodeEncodeError:
            raise JournalError("What was given has signs in it that are no letters. Write it again.") from None


def _file_at(path: Path) -> tuple[int, int] | None:
    """Return what tells the file that is there from every other; None where there is none, or it is empty."""
    try:
        found = path.stat()
    except OSError:
        return None
    return (found.st_dev, found.st_ino) if found.st_size else None


def readable(job: str, rows: Sequence[SealedRow]) -> ReadableEvents:
    """Return what can be read of a job's events as they are stored, in order, and what was left out."""
    changed = set(broken(job, rows))
    events: list[Event] = []
    numbers: list[int] = []
    left_out: list[LeftOut] = []
    for row in rows:
        left_out += [LeftOut(seq, "", "it is missing") for seq in range(_next(numbers, left_out), row.seq)]
        if row.seq in changed:
            left_out.append(LeftOut(row.seq, row.kind, "it was changed after it was recorded"))
            continue
        try:
            events.append(decoded(row.kind, row.body.decode()))
            numbers.append(row.seq)
        except (UnreadableEventError, UnicodeDecodeError) as error:
            left_out.append(LeftOut(row.seq, row.kind, str(error)))
    return ReadableEvents(tuple(events), tuple(left_out), tuple(numbers))


def open_journal(path: Path, *, busy_s: float = BUSY_S) -> Journal:
    """Return the record in this file, made where it is missing and brought up to date.

    `busy_s` is how many seconds to wait for another program's write. Raises JournalError where the folder is
    missing, the file cannot be written, is not ours, is damaged, or was written by a newer program.
    """
    if not path.parent.is_dir():
        raise JournalError(
            f"There is no folder {path.parent} to keep the record of jobs in. "
            f"Make it, or point VOICETECH_HOME at a folder that exists."
        )
    _refuse_a_folder(path)
    try:
        connection = sqlite3.connect(path, timeout=busy_s, isolation_level=None)
    except sqlite3.Error as error:
        raise explained(error, path) from error
    with _closed_on_failure(connection, path):
        _refuse_strangers(connection, path)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        # Without this a Mac's disk may still hold a commit in its own memory; elsewhere it does nothing.
        connection.execute("PRAGMA fullfsync = ON")
        apply(connection)
        if not os.access(path, os.W_OK):
            # Its owner may still write beside it, and SQLite opens it then and fails at the first answer.
            raise not_writable(path)
    return Journal(connection, path)


@contextmanager
def _closed_on_failure(connection: sqlite3.Connection, path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        connection.close()
        raise explained(error, path) from error
    except JournalError:
        connection.close()
        raise


def open_to_read(path: Path) -> Journal:
    """Return the record in this file for reading only: the file and its folder are left exactly as they are.

    A record of an older layout is read as it would be after its update. Raises JournalError where there is no such
    file, it is not ours, is damaged, or was written by a newer program.
    """
    if not path.exists():
        raise JournalError(f"There is no record of jobs at {path}. Name the folder that holds one (jobs.db).")
    _refuse_a_folder(path)
    try:
        connection = connected_to_read(path)
    except sqlite3.Error as error:
        raise explained(error, path) from error
    with _closed_on_failure(connection, path):
        _refuse_strangers(connection, path)
        if version_of(connection) < len(MIGRATIONS):
            connection = _updated_in_memory(connection)
    return Journal(connection, path)


def connected_to_read(path: Path) -> sqlite3.Connection:
    """Return a connection that leaves the file and its folder exactly as they are. Raises sqlite3.Error."""
    # What another program has written but not yet merged into the file lies beside it and is only seen by a
    # connection that may lock. Where no lock can be made nobody else can be writing either, and then, with nothing
    # beside the file, it may be read without one.
    beside = path.with_name(f"{path.name}-wal")
    ways = ["mode=rw", "mode=ro"]
    if not beside.exists() or not beside.stat().st_size:
        ways.append("mode=ro&immutable=1")
    for way in ways[:-1]:
        with suppress(sqlite3.OperationalError):
            return _connected(path, way)
    return _connected(path, ways[-1])


def _connected(path: Path, way: str) -> sqlite3.Connection:
    address = f"file:{quote(str(path.absolute()))}?{way}"
    connection = sqlite3.connect(address, uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        connection.execute("PRAGMA query_only = ON")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _updated_in_memory(connection: sqlite3.Connection) -> sqlite3.Connection:
    copy = sqlite3.connect(":memory:", isolation_level=None)
    connection.backup(copy)
    connection.close()
    apply(copy)
    return copy


def _refuse_a_folder(path: Path) -> None:
    if path.is_dir():
        raise JournalError(
            f"{path} is a folder, and the record of jobs is a file of that name. "
            f"Move the folder aside, or point VOICETECH_HOME at another place."
        )


def _refuse_strangers(connection: sqlite3.Connection, path: Path) -> None:
    version = version_of(connection)
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    used = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] > 0
    if used and mark != APPLICATION_ID:
        raise JournalError(
            f"{path} belongs to another program. Nothing in it was changed. "
            f"Move that file aside, or point VOICETECH_HOME at another folder."
        )
    if version > len(MIGRATIONS):
        raise JournalError(
            f"{path} was written by a newer voicetech (layout {version}; this one knows {len(MIGRATIONS)}). "
            f"Nothing in it was changed. "
            f"Install the newest voicetech, or point VOICETECH_HOME at another folder."
        )


def _next(numbers: Sequence[int], left_out: Sequence[LeftOut]) -> int:
    return 1 + max(numbers[-1] if numbers else 0, left_out[-1].seq if left_out else 0)


def _lost_race(job: str) -> LostRaceError:
    return LostRaceError(
        f"Job {job} was changed by another voicetech in the meantime. Nothing was written. "
        f"Close the other one, then open the job again to go on from what is on record."
    )


def _as_text(encode: Callable[[Said], tuple[str, str]], said: Said) -> tuple[str, str]:
    try:
        return encode(said)
    except ValueError as error:
        raise JournalError(
            f"What was said cannot be written down: it holds characters that are not text ({error}). "
            f"Say or type it again."
        ) from error


def _line(job: str, events: Sequence[Event], last_at_s: float | None, count: int) -> JobLine:
    opened: JobOpened | None = None
    outcome: str | None = None
    complaints: dict[int, str] = {}
    for event in events:
        match event:
            case JobOpened():
                opened = event
            case AnswerTaken(field=field, seq=seq, value=value) if field == COMPLAINT_FIELD:
                complaints[seq] = value
            case AnswerWithdrawn(seq=first):
                complaints = {seq: value for seq, value in complaints.items() if seq < first}
            case JobClosed():
                outcome = event.outcome
            case _:
                pass
    return JobLine(
        job=job,
        procedure=None if opened is None else opened.procedure,
        opened_at_s=None if opened is None else opened.at_s,
        last_at_s=last_at_s,
        complaint=complaints[max(complaints)] if complaints else None,
        outcome=outcome,
        events=count,
    )
