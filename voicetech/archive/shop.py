"""What a shop's archive keeps of a laptop's jobs, and their summaries made anew of it."""

import json
from functools import partial
from pathlib import PurePosixPath, PureWindowsPath

from sqlalchemy import Connection, delete, select, text

from voicetech.archive import tables
from voicetech.archive.keeping import keep
from voicetech.archive.opening import Archive
from voicetech.archive.summarising import summarised
from voicetech.archive.wording import Wording
from voicetech.journal.sealing import SealedRow
from voicetech.journal.store import readable
from voicetech.procedure import WrittenFile


def gone_jobs(connection: Connection, record: str) -> frozenset[str]:
    """Return the jobs of a record that were deleted."""
    rows = connection.execute(select(tables.gone.c.job).where(tables.gone.c.record == record))
    return frozenset(rows.scalars())


def lock(connection: Connection, record: str, job: str) -> None:
    """Let nobody else write to this job until the transaction ends."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:key, 0))"), {"key": f"{record} {job}"})


def stored_events(connection: Connection, record: str, job: str) -> list[SealedRow]:
    """Return the events of a job that are in the archive, in order."""
    event = tables.event
    found = connection.execute(
        select(event).where(event.c.record == record, event.c.job == job).order_by(event.c.seq)
    ).all()
    return [SealedRow(row.seq, row.kind, bytes(row.body), as_bytes(row.seal)) for row in found]


def as_bytes(stored: bytes | memoryview | None) -> bytes | None:
    """Return what either database gives for bytes as bytes."""
    return None if stored is None else bytes(stored)


def bring_summaries_up_to_date(archive: Archive) -> int:
    """Return how many summaries were made anew from the events in the archive, because their layout is another now."""
    done = 0
    wording = Wording(lambda _digest: ())
    while True:
        with archive.writing() as connection:
            jobs = connection.execute(select(tables.pending).limit(1)).all()
            if not jobs:
                return done
            record, job = jobs[0]
            lock(connection, record, job)
            rows = stored_events(connection, record, job)
            mark = tables.mark
            of_job = (mark.c.record == record) & (mark.c.job == job)
            marks = connection.execute(select(mark.c.kind, mark.c.body).where(of_job).order_by(mark.c.nr)).all()
            wording.written = partial(_written_there, connection)
            found = summarised(connection, wording, job, readable(job, rows), [(m.kind, m.body) for m in marks])
            keep(connection, record, [] if found is None else [found])
            pending = tables.pending
            connection.execute(delete(pending).where(pending.c.record == record, pending.c.job == job))
        done += 1


def _written_there(connection: Connection, digest: str) -> tuple[WrittenFile, ...]:
    files = connection.execute(select(tables.written.c.files).where(tables.written.c.digest == digest)).scalar()
    found = () if files is None else tuple(WrittenFile(name, words) for name, words in json.loads(files))
    # They are written to a folder to be read, and another laptop named them.
    return found if all(_stays_inside(file.name) for file in found) else ()


def _stays_inside(name: str) -> bool:
    paths = PurePosixPath(name), PureWindowsPath(name)
    return not any(path.is_absolute() or path.drive or ".." in path.parts for path in paths)
