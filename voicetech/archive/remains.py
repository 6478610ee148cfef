"""What is left of a deleted job in a laptop's archive: rows of its tables, and bytes of its files."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicetech.archive import word_index
from voicetech.archive.local import archive_path, is_ours
from voicetech.journal.forgetting import files_holding
from voicetech.journal.place import is_job_id
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
    """How a job is known in the bytes of an archive: its name where that is no everyday word, and some of its lines."""

    job: str
    bytes_of_it: tuple[bytes, ...]


def traces_of(home: Path, job: str) -> Traces:
    """Return what to look for when the job is deleted; to be asked before it is."""
    path = archive_path(home)
    # A name of somebody's own choice may stand anywhere.
    name = (job.encode(),) if is_job_id(job) else ()
    if not is_ours(path):
        return Traces(job, name)
    try:
        connection = connected_to_read(path)
    except sqlite3.Error:
        return Traces(job, name)
    try:
        rows = connection.execute("SELECT lines FROM lines JOIN job USING (nr) WHERE job = ?", (job,)).fetchall()
        # A job of the demo may end like another job's name.
        within = connection.execute("SELECT 1 FROM job WHERE instr(job, ?) > 1 LIMIT 1", (job,)).fetchone()
    except sqlite3.Error:
        return Traces(job, name)
    finally:
        connection.close()
    pieces = (bytes(lines[_FROM : _FROM + _BYTES]) for (lines,) in rows)
    return Traces(job, (*(() if within else name), *(piece for piece in pieces if len(piece) == _BYTES)))


def left_in_archive(home: Path, traces: Traces) -> tuple[Path, ...]:
    """Return the files in which something of the job is left, archives that were kept aside among them."""
    path = archive_path(home)
    others = sorted(file for file in home.glob(f"{path.name}.*") if file.is_file())
    held = list(files_holding(others, traces.bytes_of_it))
    if is_ours(path):
        files = (path, path.with_name(f"{path.name}-wal"))
        held += files_holding(files, traces.bytes_of_it) if not _rows_left(path, traces.job) else [path]
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
