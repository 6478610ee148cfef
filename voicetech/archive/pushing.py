"""A laptop's jobs brought to the shop's one archive: whole events as they were written, each only once.

Each job is brought in a transaction of its own, so that a push that breaks off goes on where it stopped. Nothing is
ever taken from the archive to the laptop, and nothing of another laptop's is touched.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, delete, func, select, update

from voicetech.archive import tables, word_index
from voicetech.archive.keeping import drop, insert_new, keep
from voicetech.archive.opening import Archive
from voicetech.archive.pushing_sounds import bring_sounds
from voicetech.archive.shop import as_bytes, bring_summaries_up_to_date, gone_jobs, lock, stored_events
from voicetech.archive.summarising import summarised
from voicetech.archive.wording import Wording
from voicetech.events import JobOpened
from voicetech.journal.sealing import SealedRow, broken
from voicetech.journal.store import Journal, Reached, readable
from voicetech.language.plural import so_many

Progress = Callable[[int, int], None]
"""Takes how many jobs are done, and of how many."""

_ALL: Final = Reached(2**62, 2**62)
_OF_A_JOB: Final = (tables.event, tables.mark, tables.sound, tables.sounded, tables.pending)


@dataclass(frozen=True, slots=True)
class Refused:
    """A job that was not brought, or no further, and why."""

    job: str
    why: str


@dataclass(slots=True)
class Pushed:
    """What a push brought: jobs that are new or went on, and of them events, marks and sounds; what it deleted.

    `there` jobs had nothing new. `lost_sounds` are no longer whole, or no longer there, on the laptop.
    """

    jobs: int = 0
    events: int = 0
    marks: int = 0
    sounds: int = 0
    there: int = 0
    deleted: int = 0
    lost_sounds: int = 0
    refused: list[Refused] = field(default_factory=list)


class _RefusedError(Exception):
    """This job cannot be brought; the message says why."""


@dataclass(frozen=True, slots=True)
class _There:
    """What the archive has of a job: how many events, how many marks, the last event's seal, and sounded events."""

    events: int = 0
    marks: int = 0
    seal: bytes | None = None
    sounded: int = 0


@dataclass(frozen=True, slots=True)
class _Push:
    journal: Journal
    archive: Archive
    record: str
    sounds: Path | None
    wording: Wording
    pushed: Pushed


def push(
    journal: Journal,
    archive: Archive,
    at_s: float,
    *,
    name: str | None = None,
    sounds: Path | None = None,
    progress: Progress = lambda _done, _of: None,
) -> Pushed:
    """Return what was brought to the archive, which then has all of this record's jobs but the refused.

    `name` is what the laptop is called there, None to leave it as it is; `sounds` the folder of the recorded
    utterances, None to leave them here. Jobs that were deleted here are deleted there. Raises JournalError,
    ArchiveError; what was brought until then stays.
    """
    record = journal.record_id
    push_ = _Push(journal, archive, record, sounds, Wording(journal.written), Pushed())
    bring_summaries_up_to_date(archive)
    with archive.writing() as connection:
        _sign_in(connection, record, name, at_s)
    forgotten = journal.changes(_ALL).forgotten
    with archive.reading() as connection:
        there, gone = _there(connection, record), gone_jobs(connection, record)
    for job in forgotten:
        _delete(push_, job, at_s, known=job in there, told=job not in gone)
    sizes = journal.sizes()
    for done, (job, (events, seal, marks)) in enumerate(sizes.items()):
        progress(done, len(sizes))
        before = there.get(job, _There())
        settled = sounds is None or before.sounded == events
        if job in gone:
            push_.pushed.refused.append(Refused(job, _GONE))
        elif (before.events, before.marks, before.seal) == (events, marks, seal) and settled:
            push_.pushed.there += 1
        else:
            _bring(push_, job)
    progress(len(sizes), len(sizes))
    return push_.pushed


_GONE: Final = "it was deleted in the archive, by this record or a copy of it, and is not brought back"


def _sign_in(connection: Connection, record: str, name: str | None, at_s: float) -> None:
    insert_new(connection, tables.record, [{"id": record, "name": "", "event_nr": 0, "mark_nr": 0}])
    values: dict[str, object] = {"pushed_at_s": at_s} if name is None else {"pushed_at_s": at_s, "name": name}
    connection.execute(update(tables.record).where(tables.record.c.id == record).values(values))


def _there(connection: Connection, record: str) -> Mapping[str, _There]:
    event, mark, sounded = tables.event, tables.mark, tables.sounded
    last = (
        select(event.c.job, func.count().label("events"), func.max(event.c.seq).label("seq"))
        .where(event.c.record == record)
        .group_by(event.c.job)
        .subquery()
    )
    rows = connection.execute(
        select(last.c.job, last.c.events, event.c.seal).join(
            event, (event.c.record == record) & (event.c.job == last.c.job) & (event.c.seq == last.c.seq)
        )
    ).all()
    counted = select(mark.c.job, func.count().label("n")).where(mark.c.record == record).group_by(mark.c.job)
    marks = {row.job: row.n for row in connection.execute(counted)}
    heard = {row.job: row.events for row in connection.execute(select(sounded).where(sounded.c.record == record))}
    return {
        row.job: _There(row.events, marks.get(row.job, 0), as_bytes(row.seal), heard.get(row.job, 0)) for row in rows
    }


def _delete(push_: _Push, job: str, at_s: float, known: bool, told: bool) -> None:
    if not known and not told:
        return
    with push_.archive.writing() as connection:
        lock(connection, push_.record, job)
        insert_new(connection, tables.gone, [{"record": push_.record, "job": job, "at_s": at_s}])
        for table in _OF_A_JOB:
            connection.execute(delete(table).where(table.c.record == push_.record, table.c.job == job))
        if drop(connection, push_.record, [job]):
            word_index.tidy(connection)
    push_.pushed.deleted += known


def _bring(push_: _Push, job: str) -> None:
    rows = push_.journal.stored(job)
    try:
        _check(job, rows)
        with push_.archive.writing() as connection:
            events, marks = _bring_events(push_, connection, job, rows)
    except _RefusedError as error:
        push_.pushed.refused.append(Refused(job, str(error)))
        return
    sounds, lost = 0, 0
    if push_.sounds is not None:
        sounds, lost = bring_sounds(push_.archive, push_.record, job, rows, push_.sounds)
    push_.pushed.lost_sounds += lost
    push_.pushed.events += events
    push_.pushed.marks += marks
    push_.pushed.sounds += sounds
    push_.pushed.jobs += bool(events or marks or sounds)
    push_.pushed.there += not (events or marks or sounds)


def _check(job: str, rows: Sequence[SealedRow]) -> None:
    for expected, row in enumerate(rows, start=1):
        if row.seq != expected:
            raise _RefusedError(f"event {expected} is missing in the record. See: voicetech upkeep")
    changed = broken(job, rows)
    if changed:
        raise _RefusedError(
            f"the seal of event {changed[0]} does not fit: it was changed after it was recorded. See: voicetech upkeep"
        )


def _bring_events(push_: _Push, connection: Connection, job: str, rows: Sequence[SealedRow]) -> tuple[int, int]:
    """Return how many events and marks are new in the archive."""
    record = push_.record
    lock(connection, record, job)
    if job in gone_jobs(connection, record):
        raise _RefusedError(_GONE)
    known = stored_events(connection, record, job)
    _check_same(known, rows)
    marks = push_.journal.stored_marks(job)
    known_marks = connection.execute(
        select(func.count()).select_from(tables.mark).where(tables.mark.c.record == record, tables.mark.c.job == job)
    ).scalar_one()
    new = [
        {
            "record": record,
            "job": job,
            "seq": row.seq,
            "kind": row.kind,
            "at_s": _at_s(row.body),
            "body": row.body,
            "seal": row.seal,
        }
        for row in rows[len(known) :]
    ]
    new_marks = [
        {"record": record, "job": job, "nr": nr, "kind": kind, "body": body}
        for nr, (kind, body) in enumerate(marks, start=1)
        if nr > known_marks
    ]
    if new:
        connection.execute(tables.event.insert(), new)
    if new_marks:
        connection.execute(tables.mark.insert(), new_marks)
    if new or new_marks:
        stored = readable(job, rows)
        opened = next((event for event in stored.events if isinstance(event, JobOpened)), None)
        if opened is not None:
            _bring_written(push_, connection, opened)
        summary = summarised(connection, push_.wording, job, stored, marks)
        keep(connection, record, [] if summary is None else [summary])
    return len(new), len(new_marks)


def _at_s(body: bytes) -> float | None:
    try:
        at_s = json.loads(body).get("at_s")
    except (ValueError, AttributeError):
        return None
    return float(at_s) if isinstance(at_s, (int, float)) else None


def _check_same(known: Sequence[SealedRow], rows: Sequence[SealedRow]) -> None:
    if len(known) > len(rows):
        raise _RefusedError(
            f"the archive has {so_many(len(known), 'event')} of it and this record {len(rows)}: this is an older "
            f"copy of a record that went on elsewhere"
        )
    for there, here in zip(known, rows, strict=False):
        if there != here:
            raise _RefusedError(
                f"from event {here.seq} on it is another job in the archive: two copies of one record were worked on"
            )


def _bring_written(push_: _Push, connection: Connection, opened: JobOpened) -> None:
    files = push_.journal.written(opened.digest)
    if files:
        told = json.dumps([[file.name, file.text] for file in files], ensure_ascii=False)
        row = {"digest": opened.digest, "procedure": opened.procedure, "files": told}
        insert_new(connection, tables.written, [row])
