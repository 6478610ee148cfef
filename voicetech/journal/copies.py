"""What may lie beside a record: copies that were kept when it was mended, and folders that older ones were moved to."""

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from voicetech.journal.place import ARCHIVE_FILE, journal_path

DAMAGED: Final = ".damaged-"
"""What stands behind the record's name in that of a damaged one that was kept."""
BEFORE: Final = ".before-"
"""What stands behind the name of the list of jobs in that of one made of a damaged record."""
MENDING: Final = ".mending"
"""What stands behind the record's name while a new one is written; it is left where that was broken off."""
LOST_RECORD: Final = "lost-record-"
"""What the name of a folder begins with that a lost or unreadable record was moved to."""
BESIDE: Final = ("-wal", "-shm")
"""What SQLite puts behind a file's name for its log and the log's index."""


def kept_copies(home: Path) -> tuple[Path, ...]:
    """Return the files in this folder that were kept when its record was mended, their logs among them."""
    record = journal_path(home).name
    names = (f"{record}{DAMAGED}*", f"{record}{MENDING}*", f"{ARCHIVE_FILE}{BEFORE}*")
    return tuple(sorted(file for name in names for file in home.glob(name) if file.is_file()))


def whole_file(path: Path) -> Path:
    """Return the database that this file is, or that it is the log of."""
    for suffix in BESIDE:
        if path.name.endswith(suffix):
            return path.with_name(path.name.removesuffix(suffix))
    return path


def with_logs(files: Iterable[Path]) -> tuple[Path, ...]:
    """Return these files and what lies beside them of the same databases, each once and as far as it is there."""
    wholes = dict.fromkeys(whole_file(file) for file in files)
    named = (whole.with_name(f"{whole.name}{suffix}") for whole in wholes for suffix in ("", *BESIDE))
    return tuple(file for file in named if file.exists())


def lost_folders(home: Path) -> tuple[Path, ...]:
    """Return the folders in this one that lost or unreadable records were moved to."""
    return tuple(sorted(folder for folder in home.glob(f"{LOST_RECORD}*") if folder.is_dir()))


def other_files(home: Path, name: str) -> tuple[Path, ...]:
    """Return the files that may be another state of the file of this name: copies of it here and in those folders."""
    here = (file for file in home.glob(f"{name}.*") if file.is_file())
    there = (file for folder in lost_folders(home) for file in folder.glob(f"{name}*") if file.is_file())
    return (*sorted(here), *sorted(there))
