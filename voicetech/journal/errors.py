"""What can go wrong with the record of jobs, in plain words with what to do next."""

import os
import shutil
import sqlite3
from pathlib import Path
from typing import Final

BEGIN_ANEW: Final = "voicetech upkeep --begin-anew"
"""What moves a record aside that is lost or cannot be read."""


class JournalError(Exception):
    """The record of jobs cannot be read or written; the message says why and what to do."""


class DamagedError(JournalError):
    """The file of the record is damaged, or it is none."""


class LostRaceError(JournalError):
    """Somebody else wrote to this job in the meantime; nothing of this append is on record."""


_LEAST_BYTES: Final = 64 * 1024
"""A disk with less is full: what lies beside the record needs half of it at once (tried)."""
_FULL = (
    "The disk is full: {path} could not be written, and nothing of this turn is on record. "
    "Free some space, or point VOICETECH_HOME at another disk, then carry on with the job."
)
_BUSY = (
    "Another program holds the record of jobs: {path}. "
    "Close the other voicetech (or the program that has the file open), then try again."
)
_NOT_A_DATABASE = (
    "{path} is not a record of jobs, or it is damaged. Nothing in it was changed. "
    "See what can be saved of it with: voicetech upkeep, then voicetech upkeep --mend. "
    "Or put a backup copy in its place. If neither helps, move that file aside, with what belongs to it, "
    f"and begin a new record: {BEGIN_ANEW} (it deletes nothing)."
)
_READ_ONLY = (
    "The record of jobs cannot be written: {path}. "
    "Give yourself write permission for that file and its folder, "
    "or point VOICETECH_HOME at a folder of your own."
)
_CANNOT_READ = (
    "The record of jobs cannot be read: {path}. "
    "Give yourself the right to read and write that file and its folder, "
    "or point VOICETECH_HOME at a folder of your own."
)
_INPUT_OUTPUT = (
    "The disk failed while the record of jobs was used: {path} ({detail}). "
    "Nothing of this turn is on record. Check the disk, or point VOICETECH_HOME at another one."
)
_OTHER = "The record of jobs cannot be used: {path} ({detail}). Close voicetech and start it again."

_WORDS: dict[int, str] = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_NOTADB: _NOT_A_DATABASE,
    sqlite3.SQLITE_CORRUPT: _NOT_A_DATABASE,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: _READ_ONLY,
    sqlite3.SQLITE_PERM: _READ_ONLY,
    sqlite3.SQLITE_AUTH: _READ_ONLY,
    sqlite3.SQLITE_IOERR: _INPUT_OUTPUT,
}


def _is_full(folder: Path) -> bool:
    try:
        return shutil.disk_usage(folder).free < _LEAST_BYTES
    except OSError:
        return False


def explained(error: sqlite3.Error, path: Path) -> JournalError:
    """Return the error of the database in plain words, naming the file and the next thing to do."""
    # An extended result code carries its primary code in the low byte.
    # Source: sqlite.org/rescode.html (from memory).
    primary = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if primary == sqlite3.SQLITE_IOERR and _is_full(path.parent):
        # What lies beside the record cannot grow there, which the database takes for a failing disk.
        primary = sqlite3.SQLITE_FULL
    words = _WORDS.get(primary, _OTHER)
    if words is _READ_ONLY and os.access(path, os.F_OK) and not os.access(path, os.R_OK):
        words = _CANNOT_READ
    kind = DamagedError if words is _NOT_A_DATABASE else JournalError
    return kind(words.format(path=path, detail=error))


def not_writable(path: Path) -> JournalError:
    """Return what is told of a record that this user may read and not write."""
    return JournalError(_READ_ONLY.format(path=path))
