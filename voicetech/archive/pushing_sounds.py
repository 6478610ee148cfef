"""The sounds of a laptop's jobs brought to the shop's archive."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from sqlalchemy import Connection, Table, select
from sqlalchemy.dialects import postgresql, sqlite

from voicetech.archive import tables
from voicetech.archive.keeping import insert_if_new
from voicetech.archive.opening import Archive
from voicetech.archive.shop import gone_jobs, lock
from voicetech.events import InputReceived
from voicetech.journal.errors import JournalError
from voicetech.journal.sealing import SealedRow
from voicetech.journal.sounds import load_sound, sound_path
from voicetech.journal.store import readable


def bring_sounds(archive: Archive, record: str, job: str, rows: Sequence[SealedRow], folder: Path) -> tuple[int, int]:
    """Return how many of a job's sounds are new in the archive, and how many are no longer whole in this folder.

    Each is brought by itself, because they are large.
    """
    sound, of_job = tables.sound, {"record": record, "job": job}
    named = dict.fromkeys(_sounds(readable(job, rows).events))
    with archive.reading() as connection:
        is_job = (sound.c.record == record) & (sound.c.job == job)
        there = set(connection.execute(select(sound.c.sha256).where(is_job)).scalars())
    new, lost = 0, 0
    for sha256 in named:
        if sha256 in there:
            continue
        flac = _flac(folder, sha256)
        if flac is None:
            lost += 1
            continue
        with archive.writing() as connection:
            lock(connection, record, job)
            # It may have been deleted in the meantime.
            if job not in gone_jobs(connection, record):
                new += insert_if_new(connection, sound, {**of_job, "sha256": sha256, "flac": flac})
    if not lost:
        with archive.writing() as connection:
            _replace(connection, tables.sounded, {**of_job, "events": len(rows)})
    return new, lost


def _sounds(events: Iterable[object]) -> Iterator[str]:
    for event in events:
        if isinstance(event, InputReceived) and event.sound_sha256 is not None:
            yield event.sound_sha256


def _flac(folder: Path, sha256: str) -> bytes | None:
    """Return the sound's file, None where it is gone or is not the sound it is named after."""
    try:
        load_sound(folder, sha256)
        return sound_path(folder, sha256).read_bytes()
    except (JournalError, ValueError, OSError):
        return None


def _replace(connection: Connection, table: Table, row: Mapping[str, object]) -> None:
    dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
    insert = dialect.insert(table).values(row)
    keys = [column.name for column in table.primary_key]
    others = {name: insert.excluded[name] for name in row if name not in keys}
    connection.execute(insert.on_conflict_do_update(index_elements=keys, set_=others))
