"""What is left of a deleted job in a laptop's archive: rows of its tables, and bytes of its files and their copies."""

import re
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicetech.archive import word_index
from voicetech.archive.local import archive_path, is_ours
from voicetech.journal.copies import other_files
from voicetech.journal.place import is_job_id
from voicetech.journal.searching import files_holding
from voicetech.journal.store import connected_to_read

_BY_JOB: Final = ("job", "pending", "event", "mark", "sound", "sounded")
_BY_NUMBER: Final = (
    *((table, "nr") for table in ("job_term", "section_time", "prompt_count", "lines")),
    # Where the index of words keeps which jobs it holds, without the words.
    (f"{word_index.TABLE}_docsize", "id"),
)
_FROM: Final = 128
_BYTES: Final = 64
"""Where in a job's packed lines the bytes stand that are looked for: behind what jobs may begin with alike, and on the
first page of the row. Judgement, no source.
"""


@dataclass(frozen=True, slots=True)
class Traces:
    """How a job is known in the bytes of an archive: its name, and some of its lines."""

    job: str
    bytes_of_it: tuple[bytes, ...]

    @property
    def name(self) -> bytes:
        """Return a pattern that the job's name fits where a row has it: in every table behind the record's."""
        name = re.escape(self.job.encode())
        return rb"%b(?<=[0-9a-f]{32}%b)" % (name, name)

    @property
    def lines(self) -> tuple[bytes, ...]:
        """Return patterns that only its lines fit."""
        return tuple(re.escape(piece) for piece in self.bytes_of_it)


def traces_of(home: Path, job: str) -> Traces:
    """Return what to look for when the job is deleted; to be asked before it is."""
    path = archive_path(home)
    if not is_ours(path):
        return Traces(job, ())
    try:
        connection = connected_to_read(path)
    except sqlite3.Error:
        return Traces(job, ())
    try:
        rows = connection.execute("SELECT lines FROM lines JOIN job USING (nr) WHERE job = ?", (job,)).fetchall()
    except sqlite3.Error:
        return Traces(job, ())
    finally:
        connection.close()
    pieces = (bytes(lines[_FROM : _FROM + _BYTES]) for (lines,) in rows)
    return Traces(job, tuple(piece for piece in pieces if len(piece) == _BYTES))


def left_in_archive(home: Path, traces: Traces) -> tuple[Path, ...]:
    """Return the files in which something of the job is left, archives that were kept aside among them."""
    path = archive_path(home)
    held = list(files_holding(other_files(home, path.name), (traces.name, *traces.lines)))
    if is_ours(path):
        # A name of somebody's own choice may be how another one begins.
        wanted = (traces.name, *traces.lines) if is_job_id(traces.job) else traces.lines
        files = (path, path.with_name(f"{path.name}-wal"))
        held += files_holding(files, wanted) if not _rows_left(path, traces.job) else [path]
    return tuple(held)


def _rows_left(path: Path, job: str) -> bool:
    try:
        connection = connected_to_read(path)
    except sqlite3.Error:
        # What cannot be read cannot be vouched for.
        return True
    try:
        return _has_rows(connection, job)
    except sqlite3.Error:
        return True
    finally:
        connection.close()


def _has_rows(connection: sqlite3.Connection, job: str) -> bool:
    there = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    named = [f"SELECT 1 FROM {table} WHERE job = ? LIMIT 1" for table in _BY_JOB if table in there]  # noqa: S608
    nobodys = [
        f"SELECT 1 FROM {table} WHERE {number} NOT IN (SELECT nr FROM job) LIMIT 1"  # noqa: S608
        for table, number in _BY_NUMBER
        if table in there
    ]
    return _first(connection, named, (job,)) or _first(connection, nobodys, ())


def _first(connection: sqlite3.Connection, statements: Sequence[str], given: tuple[str, ...]) -> bool:
    return any(connection.execute(statement, given).fetchone() is not None for statement in statements)
