"""How the record's tables came to be: a list of steps, each applied once and never edited afterwards.

`user_version` counts the steps a file has had; `application_id` tells our files from other
programs' databases.
"""

import sqlite3
from dataclasses import dataclass
from typing import Final

APPLICATION_ID: Final = 0x766F6963
"""Four letters, "voic", that mark a file as a record of jobs."""


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the tables' history."""

    name: str
    statements: tuple[str, ...]


_EVENTS = Migration(
    "events",
    (
        """CREATE TABLE event (
            nr INTEGER PRIMARY KEY,
            job TEXT NOT NULL,
            seq INTEGER NOT NULL,
            kind TEXT NOT NULL,
            at_s REAL,
            body TEXT NOT NULL,
            UNIQUE (job, seq)
        )""",
        # Lists jobs without reading the events themselves.
        "CREATE INDEX event_of_job ON event (job, at_s, nr)",
        "CREATE INDEX event_of_kind ON event (kind, job, seq)",
        """CREATE TRIGGER event_follows BEFORE INSERT ON event
            WHEN NEW.seq <> 1 + (SELECT coalesce(max(seq), 0) FROM event WHERE job = NEW.job)
            BEGIN SELECT RAISE(ABORT, 'an event must follow the last one of its job'); END""",
        """CREATE TRIGGER event_stays BEFORE UPDATE ON event
            BEGIN SELECT RAISE(ABORT, 'events are never changed'); END""",
        """CREATE TRIGGER event_is_kept BEFORE DELETE ON event
            BEGIN SELECT RAISE(ABORT, 'events are never deleted'); END""",
    ),
)

_REVIEWED = Migration(
    "reviewed",
    (
        # What each event is sealed with: see `journal.sealing`. Events from before have none.
        "ALTER TABLE event ADD COLUMN seal BLOB",
        # Tells this record from every other one, so that jobs of the same name can be kept apart in an archive.
        "CREATE TABLE record (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        "INSERT INTO record (name, value) VALUES ('id', lower(hex(randomblob(16))))",
        # The files each procedure was written in, so that a job can be read and judged again by the very text it
        # followed: JSON, compressed by zlib.
        """CREATE TABLE written (
            digest TEXT PRIMARY KEY,
            procedure TEXT NOT NULL,
            files BLOB NOT NULL
        ) WITHOUT ROWID""",
        """CREATE TABLE mark (
            nr INTEGER PRIMARY KEY,
            job TEXT NOT NULL,
            kind TEXT NOT NULL,
            body TEXT NOT NULL,
            UNIQUE (job, kind, body)
        )""",
        # Of a deleted job its name and the names of its sounds stay, so that it can be shown that nothing else does.
        # The last event and mark numbers that were given out are kept, so that no number is ever given out twice.
        """CREATE TABLE forgotten (
            job TEXT PRIMARY KEY,
            at_s REAL NOT NULL,
            events INTEGER NOT NULL,
            sounds TEXT NOT NULL,
            last_event INTEGER NOT NULL,
            last_mark INTEGER NOT NULL
        ) WITHOUT ROWID""",
        "DROP TRIGGER event_is_kept",
        """CREATE TRIGGER event_is_kept BEFORE DELETE ON event
            WHEN NOT EXISTS (SELECT 1 FROM forgotten WHERE job = OLD.job)
            BEGIN SELECT RAISE(ABORT, 'events are never deleted, but with their whole job on request'); END""",
        """CREATE TRIGGER event_of_forgotten BEFORE INSERT ON event
            WHEN EXISTS (SELECT 1 FROM forgotten WHERE job = NEW.job)
            BEGIN SELECT RAISE(ABORT, 'a deleted job takes no more events'); END""",
        """CREATE TRIGGER mark_stays BEFORE UPDATE ON mark
            BEGIN SELECT RAISE(ABORT, 'marks are never changed'); END""",
        """CREATE TRIGGER mark_is_kept BEFORE DELETE ON mark
            WHEN NOT EXISTS (SELECT 1 FROM forgotten WHERE job = OLD.job)
            BEGIN SELECT RAISE(ABORT, 'marks are never deleted, but with their whole job on request'); END""",
    ),
)

MIGRATIONS: Final = (_EVENTS, _REVIEWED)


def version_of(connection: sqlite3.Connection) -> int:
    """Return how many migrations this file has had."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def applied(connection: sqlite3.Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> tuple[Migration, ...]:
    """Return the migrations this file has had."""
    return migrations[: version_of(connection)]


def pending(connection: sqlite3.Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> tuple[Migration, ...]:
    """Return the migrations this file still lacks."""
    return migrations[version_of(connection) :]


def apply(connection: sqlite3.Connection, migrations: tuple[Migration, ...] = MIGRATIONS) -> None:
    """Bring the file up to date in one transaction; the connection is in autocommit mode.

    Raises sqlite3.Error, with the file as it was before.
    """
    if not pending(connection, migrations):
        return
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Asked again inside the transaction: another program may have been quicker.
        for migration in pending(connection, migrations):
            for statement in migration.statements:
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {len(migrations)}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
