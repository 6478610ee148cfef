"""This laptop's archive: a file beside its record, brought up to what the record says whenever it is read."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, Row, delete, func, select, update

from voicetech.archive import tables, word_index
from voicetech.archive.address import file_address, memory_address
from voicetech.archive.errors import ArchiveError, BusyError, DamagedError, NewerLayoutError
from voicetech.archive.keeping import drop, in_pieces, insert_new, keep
from voicetech.archive.layouts import APPLICATION_ID
from voicetech.archive.opening import Archive, open_archive
from voicetech.archive.summarising import summarised
from voicetech.archive.wording import Wording
from voicetech.journal.place import ARCHIVE_FILE
from voicetech.journal.store import Changes, Journal, Reached
from voicetech.summary.records import JobSummary

AT_ONCE: Final = 32
"""Jobs whose summaries are made in one transaction (judgement: others wait for less than a second)."""

Told = Callable[[str], None]
"""Takes a remark for the user."""
Progress = Callable[[int, int], None]
"""Takes how many jobs are done, and of how many."""


def archive_path(home: Path) -> Path:
    """Return the file of this laptop's archive."""
    return home / ARCHIVE_FILE


@contextmanager
def local_archive(
    journal: Journal, home: Path, told: Told = lambda _: None, progress: Progress = lambda _done, _of: None
) -> Iterator[Archive]:
    """Give this laptop's archive, which then says what the record says. Raises JournalError, ArchiveError.

    A file that is damaged or of another layout is made anew, one of another program put aside; where none can be
    written, the archive is made in memory. `told` is given what happened in words.
    """
    archive = _followed(journal, archive_path(home), told, progress)
    with archive:
        yield archive


def _followed(journal: Journal, path: Path, told: Told, progress: Progress) -> Archive:
    for last_try in (False, True):
        try:
            archive = open_archive(file_address(path))
        except (DamagedError, NewerLayoutError) as error:
            if last_try or not _put_aside(path, error, told):
                break
            continue
        except ArchiveError:
            break
        try:
            catch_up(journal, archive, progress)
        except DamagedError as error:
            archive.close()
            if last_try or not _put_aside(path, error, told):
                break
        except BusyError:
            archive.close()
            raise
        except ArchiveError:
            archive.close()
            break
        except BaseException:
            archive.close()
            raise
        else:
            return archive
    told(f"{path} cannot be used or written; the record is read as a whole for this once.")
    archive = open_archive(memory_address())
    catch_up(journal, archive, progress)
    return archive


def _put_aside(path: Path, error: ArchiveError, told: Told) -> bool:
    """Return whether the file was put out of the way: deleted where it is ours, kept under another name where not."""
    try:
        if is_ours(path):
            for suffix in ("", "-wal", "-shm"):
                path.with_name(path.name + suffix).unlink(missing_ok=True)
            why = "was written by a newer voicetech" if isinstance(error, NewerLayoutError) else "was damaged"
            told(f"{path} {why}; it is made anew from the record.")
            return True
        if not path.is_file():
            return False
        aside = next(name for name in _names_aside(path) if not name.exists())
        path.replace(aside)
    except OSError:
        return False
    told(f"{path} was no archive of voicetech; it is kept as {aside.name}, and a new one is made from the record.")
    return True


def is_ours(path: Path) -> bool:
    """Return whether this file is an archive of voicetech, whole or damaged."""
    try:
        with path.open("rb") as file:
            head = file.read(72)
    except OSError:
        return False
    # The application's number stands at this place of every SQLite file. Source: sqlite.org/fileformat2.html
    # (from memory).
    return head.startswith(b"SQLite format 3\0") and head[68:72] == APPLICATION_ID.to_bytes(4, "big")


def _names_aside(path: Path) -> Iterator[Path]:
    yield path.with_name(f"{path.name}.aside")
    number = 2
    while True:
        yield path.with_name(f"{path.name}.aside-{number}")
        number += 1


def catch_up(journal: Journal, archive: Archive, progress: Progress = lambda _done, _of: None) -> int:
    """Return how many jobs were looked at, the archive saying what the record says by then.

    Two programs may do this at once: each takes jobs that are still to be done. Raises JournalError, ArchiveError.
    """
    record = journal.record_id
    with archive.reading() as connection:
        known = _known(connection, record)
        waiting = _waiting(connection, record)
        changes = journal.changes(_reached(known))
        if known is not None and not waiting and not _news(connection, record, known, changes):
            return 0
    with archive.writing() as connection:
        _take_changes(connection, journal, record)
        of = _waiting(connection, record)
    wording = Wording(journal.written)
    done = 0
    while True:
        progress(done, max(of, done))
        with archive.writing() as connection:
            jobs = (
                connection.execute(
                    select(tables.pending.c.job).where(tables.pending.c.record == record).order_by("job").limit(AT_ONCE)
                )
                .scalars()
                .all()
            )
            if not jobs:
                return done
            summaries = [summary for job in jobs if (summary := _summarised(connection, journal, wording, job))]
            drop(connection, record, set(jobs) - {summary.job for summary in summaries})
            keep(connection, record, summaries)
            connection.execute(
                delete(tables.pending).where(tables.pending.c.record == record, tables.pending.c.job.in_(jobs))
            )
        done += len(jobs)


_Known = Row[tuple[str, str, int, int, float]]


def _reached(known: _Known | None) -> Reached:
    return Reached() if known is None else Reached(known.event_nr, known.mark_nr)


def _known(connection: Connection, record: str) -> _Known | None:
    return connection.execute(select(tables.record).where(tables.record.c.id == record)).one_or_none()


def _waiting(connection: Connection, record: str) -> int:
    pending = tables.pending
    return connection.execute(select(func.count()).select_from(pending).where(pending.c.record == record)).scalar_one()


def _news(connection: Connection, record: str, known: _Known, changes: Changes) -> bool:
    return bool(
        changes.jobs or changes.reached != _reached(known) or _still_there(connection, record, changes.forgotten)
    )


def _still_there(connection: Connection, record: str, forgotten: tuple[str, ...]) -> list[str]:
    there: list[str] = []
    for some in in_pieces(forgotten):
        of_record = (tables.job.c.record == record) & tables.job.c.job.in_(some)
        there += connection.execute(select(tables.job.c.job).where(of_record)).scalars()
    return there


def _take_changes(connection: Connection, journal: Journal, record: str) -> None:
    """Note which jobs are to be done, and drop what was deleted."""
    strangers = connection.execute(select(tables.record.c.id).where(tables.record.c.id != record)).scalars().all()
    known = _known(connection, record)
    reached = _reached(known)
    changes = journal.changes(reached)
    behind = changes.reached.event_nr < reached.event_nr or changes.reached.mark_nr < reached.mark_nr
    if strangers or behind:
        # Another record, or an older copy of this one, has taken the place of the one this archive was made of.
        for other in (*strangers, record):
            of_other = select(tables.job.c.job).where(tables.job.c.record == other)
            drop(connection, other, connection.execute(of_other).scalars().all())
        connection.execute(delete(tables.record))
        connection.execute(delete(tables.pending))
        known, changes = None, journal.changes(Reached())
    forgotten = _still_there(connection, record, changes.forgotten)
    if forgotten:
        drop(connection, record, forgotten)
        word_index.tidy(connection)
    insert_new(connection, tables.pending, [{"record": record, "job": job} for job in changes.jobs])
    reached_now = {"event_nr": changes.reached.event_nr, "mark_nr": changes.reached.mark_nr}
    if known is None:
        connection.execute(tables.record.insert(), [{"id": record, "name": "", **reached_now}])
    else:
        connection.execute(update(tables.record).where(tables.record.c.id == record).values(**reached_now))


def _summarised(connection: Connection, journal: Journal, wording: Wording, job: str) -> JobSummary | None:
    return summarised(connection, wording, job, journal.readable_events(job), journal.stored_marks(job))


def forget_locally(journal: Journal, home: Path) -> bool:
    """Return whether nothing of the record's deleted jobs is left in this laptop's archive, down to the last byte.

    An archive that cannot be brought up to date is deleted: it is made anew when it is read next.
    """
    path = archive_path(home)
    if not path.exists() or not is_ours(path):
        return True
    try:
        with open_archive(file_address(path)) as archive:
            catch_up(journal, archive)
        _cut_off_log(path)
    except (ArchiveError, sqlite3.Error):
        for suffix in ("", "-wal", "-shm"):
            try:
                path.with_name(path.name + suffix).unlink(missing_ok=True)
            except OSError:
                return False
    return True


def _cut_off_log(path: Path) -> None:
    connection = sqlite3.connect(path)
    try:
        if connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
            raise sqlite3.OperationalError("another program reads it")
    finally:
        connection.close()
