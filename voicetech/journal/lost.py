"""A record that is gone while what belongs to it is still there: told before anybody begins another one over it."""

import shutil
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from voicetech.journal.copies import DAMAGED, LOST_RECORD, kept_copies, whole_file, with_logs
from voicetech.journal.errors import BEGIN_ANEW, DamagedError, JournalError, explained
from voicetech.journal.place import ARCHIVE_FILE, journal_path, reports_folder, sounds_folder
from voicetech.journal.store import connected_to_read, open_to_read


@dataclass(frozen=True, slots=True)
class BegunAnew:
    """The folder that a record was moved to, and what was moved there under its old name.

    `unreadable` where the record is there and cannot be read, so that something of it may still be saved.
    """

    aside: Path
    moved: tuple[Path, ...]
    unreadable: bool


def refuse_where_lost(home: Path) -> None:
    """Raise JournalError where the record is missing or holds no job, and files that belong to one are there."""
    left = left_of_lost_record(home)
    if not left:
        return
    path = journal_path(home)
    gone = f"is empty in {home}" if path.exists() else f"is not in {home}"
    lost = "was lost, or another file stands in its place" if path.exists() else "was lost or moved"
    named = ", ".join(each.name for each in left)
    to_mend = _to_mend(path, left)
    raise JournalError(
        f"The record of jobs ({path.name}) {gone}, though {named} of earlier jobs "
        f"{'are' if len(left) > 1 else 'is'} there: it {lost}. Nothing was changed. "
        f"Copy {path.name} back to {home} from a backup. {to_mend}"
        f"If {'that does not help' if to_mend else 'there is none'}, begin a new record with: {BEGIN_ANEW} "
        f"(it moves what is left to a folder of its own and deletes nothing)."
    )


def _to_mend(path: Path, left: tuple[Path, ...]) -> str:
    if any(each.name == f"{path.name}-wal" for each in left):
        return "Or save what its log holds with: voicetech upkeep --mend. "
    damaged = [each for each in left if each.name.startswith(f"{path.name}{DAMAGED}")]
    if not damaged:
        return ""
    # Their names end in when they were kept.
    return f"Or copy {damaged[-1].name} to {path.name} and save what it holds with: voicetech upkeep --mend. "


def left_of_lost_record(home: Path) -> tuple[Path, ...]:
    """Return what is in this folder of a record that is missing or holds nothing; none where there is nothing wrong.

    Folders without a file and a list of jobs without a job tell of no record.
    """
    path = journal_path(home)
    if not home.is_dir() or not _holds_nothing(path):
        return ()
    log = path.with_name(f"{path.name}-wal")
    left = [log] if _is_empty(path) and log.exists() and log.stat().st_size else []
    if _names_a_job(home / ARCHIVE_FILE):
        left.append(home / ARCHIVE_FILE)
    copies = (file for file in kept_copies(home) if file.stat().st_size)
    left += dict.fromkeys(whole_file(file) if whole_file(file).exists() else file for file in copies)
    return (*left, *_folders(home))


def begin_anew(home: Path, now: datetime) -> BegunAnew:
    """Return what became of a record that is lost or cannot be read: all that belongs to it is in a folder of its own.

    Copies that were kept when it was mended go there too. The next job begins a new record. Raises JournalError where
    the record can be read, or nothing can be moved.
    """
    path = journal_path(home)
    unreadable = not left_of_lost_record(home) and _is_damaged(path)
    if not unreadable and not left_of_lost_record(home):
        raise JournalError(
            f"No record is lost in {home}, so nothing was moved. See its state with: voicetech upkeep. To keep jobs "
            f"somewhere else, set VOICETECH_HOME to another folder."
        )
    aside = home / f"{LOST_RECORD}{now:%Y%m%d-%H%M%S}"
    moved = (*with_logs((path, home / ARCHIVE_FILE, *kept_copies(home))), *_folders(home))
    try:
        aside.mkdir(mode=0o700)
        for file in moved:
            shutil.move(file, aside / file.name)
    except OSError as error:
        raise JournalError(
            f"What is left of the record cannot be moved to {aside} ({error.strerror or error}). See that {home} "
            f"can be written and that no other voicetech is open, then try again."
        ) from error
    return BegunAnew(aside, moved, unreadable)


def _folders(home: Path) -> tuple[Path, ...]:
    return tuple(folder for folder in (sounds_folder(home), reports_folder(home)) if _has_a_file(folder))


def _is_damaged(path: Path) -> bool:
    """Return whether the file is there and cannot be read as a whole; JournalError where that is no damage."""
    if not path.exists():
        return False
    try:
        open_to_read(path).close()
        connection = connected_to_read(path)
    except DamagedError:
        return True
    except sqlite3.Error as error:
        raise explained(error, path) from error
    try:
        return [told for (told,) in connection.execute("PRAGMA integrity_check(1)")] != ["ok"]
    except sqlite3.Error as error:
        if isinstance(explained(error, path), DamagedError):
            return True
        raise explained(error, path) from error
    finally:
        connection.close()


def _holds_nothing(path: Path) -> bool:
    if _is_empty(path):
        return True
    try:
        connection = connected_to_read(path)
    except sqlite3.Error:
        # Damaged, or not ours: whoever opens it is told so.
        return False
    try:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if "event" not in tables:
            return False
        # A record of which every job was deleted is not lost.
        return all(
            connection.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() is None  # noqa: S608
            for table in {"event", "forgotten"} & tables
        )
    except sqlite3.Error:
        return False
    finally:
        connection.close()


def _is_empty(path: Path) -> bool:
    return not path.exists() or (path.is_file() and path.stat().st_size == 0)


def _names_a_job(archive: Path) -> bool:
    if not archive.is_file():
        return False
    try:
        connection = connected_to_read(archive)
    except sqlite3.Error:
        # An archive that is damaged was made of a record all the same.
        return archive.stat().st_size > 0
    try:
        return any(
            connection.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() is not None  # noqa: S608
            for table in ("job", "pending")
        )
    except sqlite3.OperationalError:
        # Another program's file.
        return False
    except sqlite3.Error:
        return True
    finally:
        connection.close()


def _has_a_file(folder: Path) -> bool:
    return folder.is_dir() and any(folder.iterdir())
