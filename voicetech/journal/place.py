"""Where records, sounds and reports are kept, and what a job is called."""

import re
from collections.abc import Mapping
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

import platformdirs

from voicetech.journal.errors import JournalError

HOME_VARIABLE: Final = "VOICETECH_HOME"
"""The folder that everything is kept in; without it, the user's data folder."""
ARCHIVE_FILE: Final = "archive.db"
"""The list of jobs made of the record, beside it."""

_JOB_ID: Final = re.compile(r"([a-z]+-)?\d{8}-\d{4}-[a-z]\d")

_LETTERS: Final = "ahjkqrwxy"
"""Letters whose names cannot be taken for one another or for a digit when spoken (judgement, no source)."""
_DIGITS: Final = "23456789"


def home_folder(environ: Mapping[str, str]) -> Path:
    """Return the folder everything is kept in: VOICETECH_HOME where set, else the user's data folder."""
    named = environ.get(HOME_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    return platformdirs.user_data_path("voicetech", appauthor=False)


def journal_path(home: Path) -> Path:
    """Return the file of the record of jobs."""
    return home / "jobs.db"


def sounds_folder(home: Path) -> Path:
    """Return the folder of the recorded utterances."""
    return home / "sounds"


def reports_folder(home: Path) -> Path:
    """Return the folder reports are written to unless told otherwise."""
    return home / "reports"


def ready_home(environ: Mapping[str, str]) -> Path:
    """Return the home folder, made where it is missing.

    A folder named by VOICETECH_HOME is made only beside others that exist: a drive that is not plugged in
    must not be mistaken for an empty record. Raises JournalError.
    """
    home = home_folder(environ)
    named = bool(environ.get(HOME_VARIABLE, "").strip())
    refuse_broken_link(home)
    try:
        home.mkdir(mode=0o700, parents=not named, exist_ok=True)
    except FileNotFoundError:
        raise JournalError(
            f"The folder for {HOME_VARIABLE} cannot be made: {home.parent} does not exist. "
            f"Make that folder, plug the drive in, or set {HOME_VARIABLE} to another folder."
        ) from None
    except FileExistsError:
        raise JournalError(
            f"{home} is a file, and a folder is needed there. Move it aside, or set {HOME_VARIABLE} to a folder."
        ) from None
    except OSError as error:
        raise JournalError(
            f"The folder {home} cannot be made ({error.strerror}). Set {HOME_VARIABLE} to a folder you may write to."
        ) from None
    return home


def refuse_broken_link(path: Path) -> None:
    """Raise JournalError where a link stands that leads nowhere: what it led to is not gone, only out of reach."""
    if path.is_symlink() and not path.exists():
        raise JournalError(
            f"{path} is a link to a place that is not there. "
            f"Plug the drive in, or set {HOME_VARIABLE} to another folder."
        )


def new_job_id(at_s: float, chance: bytes, zone: tzinfo | None = None) -> str:
    """Return a job's name, short enough to say: day, time of day, a letter and a digit ("20261125-0941-k7").

    Names sort by time. `at_s` is seconds since the epoch, `zone` the clock it is told by (None: the
    computer's), `chance` at least two random bytes. Two names of one minute may meet (1 in 72): the first
    append then raises LostRaceError, and a new name is drawn.
    """
    if len(chance) < 2:
        raise ValueError("two random bytes are needed for a job's name")
    moment = datetime.fromtimestamp(at_s, zone).strftime("%Y%m%d-%H%M")
    return f"{moment}-{_LETTERS[chance[0] % len(_LETTERS)]}{_DIGITS[chance[1] % len(_DIGITS)]}"


def is_job_id(name: str) -> bool:
    """Return whether this is what a job is called that the program named itself."""
    return _JOB_ID.fullmatch(name) is not None
