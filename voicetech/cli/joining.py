"""What the job commands share: the journal, the procedure, the job, and errors told in plain words."""

import gc
import os
import secrets
import sys
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import typer

from voicetech.language.tags import ENGLISH
from voicetech.last_words import part_missing, without_passwords

if TYPE_CHECKING:
    from voicetech.dialogue.given import KeepSound
    from voicetech.dialogue.reply import Reply
    from voicetech.events import Channel, JobOpened
    from voicetech.job import Job
    from voicetech.journal.store import Journal
    from voicetech.procedure import Procedure

_NAMES: Final = 200


class UnknownProcedureError(Exception):
    """Nothing is shipped under this name and no file has it; the message says what there is."""


def stop(message: str, code: int = 1) -> NoReturn:
    """End the command with a message on standard error."""
    # What was typed in the place of a name may have been an address.
    sys.stderr.write(f"{without_passwords(message)}\n")
    raise typer.Exit(code)


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn every error a user can cause into its message, without a traceback."""
    try:
        yield
    except (typer.Exit, typer.Abort, typer.BadParameter):
        # No error of the program's own: the help ends so too, and must not wait for what is loaded below.
        raise
    except FileNotFoundError as error:
        if part_missing(error):
            raise
        stop(f"Not found: {error.filename or error}. Check the path and try again.")
    except PermissionError as error:
        stop(f"Not allowed: {error.filename or error}. Check the rights on it, or choose another place.")
    except Exception as error:
        if isinstance(error, _told_plainly()):
            stop(str(error))
        raise


def _told_plainly() -> tuple[type[Exception], ...]:
    """Return the errors whose message says what to do; looked up only where there is one, because they load much."""
    from voicetech.archive.errors import ArchiveError
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.hearing.errors import HearingError
    from voicetech.job import JobError
    from voicetech.journal.errors import JournalError
    from voicetech.language.lexicon import LexiconError
    from voicetech.reports.writing import ReportError
    from voicetech.speaking.speaker import SpeakingError

    return (
        ArchiveError,
        JournalError,
        JobError,
        HearingError,
        LexiconError,
        ProcedureFindings,
        ReportError,
        SpeakingError,
        UnknownProcedureError,
    )


def procedure_named(name: str) -> "Procedure":
    """Return a shipped procedure by name, or one from a file. Raises UnknownProcedureError, ProcedureFindings."""
    from voicetech.authoring.procedure_files import load_procedure, load_shipped, shipped_names

    if name in shipped_names():
        return load_shipped(name)
    path = Path(name)
    if path.suffix in (".yaml", ".yml") or path.is_file():
        return load_procedure(path)
    raise UnknownProcedureError(_no_such_procedure(name, shipped_names()))


def procedure_meant(words: str) -> "Procedure":
    """Return what somebody names: a shipped procedure by its name or words that only it has, or one from a file.

    Raises UnknownProcedureError, ProcedureFindings.
    """
    try:
        return procedure_named(words)
    except UnknownProcedureError:
        return procedure_named(shipped_meant(words))


def procedure_in(language: str, words: str) -> "Procedure":
    """Return what somebody names, with its texts in this language.

    Raises UnknownProcedureError, also where it is not there in the language, and ProcedureFindings.
    """
    from voicetech.authoring.overlays import languages_of
    from voicetech.authoring.procedure_files import load_procedure, shipped_names
    from voicetech.authoring.shipped import shipped_folder

    path = Path(words)
    if words in shipped_names() or not (path.suffix in (".yaml", ".yml") or path.is_file()):
        path = shipped_folder("dialogs") / f"{words if words in shipped_names() else shipped_meant(words)}.yaml"
    there = languages_of(path)
    if language not in there:
        raise UnknownProcedureError(
            f"{path.stem} is not there in {language!r}; it is in {', '.join(there)}. Texts in another language stand "
            "in a folder beside the procedure."
        )
    return load_procedure(path, language)


def shipped_meant(words: str) -> str:
    """Return the name of the one shipped procedure that these words speak of: "dryer", "stove".

    Raises UnknownProcedureError where there is none, or more than one.
    """
    from voicetech.authoring.procedure_files import shipped_headings
    from voicetech.authoring.which_appliance import meant

    shipped = shipped_headings()
    names = meant(shipped, words)
    if len(names) == 1:
        return names[0]
    if names:
        several = f"{words!r} is in the names of several procedures: {', '.join(names)}"
        raise UnknownProcedureError(f"{several}. Name one of them.")
    raise UnknownProcedureError(_no_such_procedure(words, shipped))


def _no_such_procedure(name: str, shipped: Iterable[str]) -> str:
    return (
        f"There is no procedure called {name!r}. These come with the program: {', '.join(shipped)}. "
        f"A procedure of yours is named by its file, as in: my-range.yaml"
    )


def procedure_followed(journal: "Journal", opened: "JobOpened") -> "Procedure":
    """Return the procedure a job follows, by the very text it was begun with where that is kept and still readable.

    Raises UnknownProcedureError, ProcedureFindings where neither that nor today's of the same name can be had.
    """
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.authoring.procedure_files import as_begun

    try:
        today = procedure_named(opened.procedure)
    except (UnknownProcedureError, ProcedureFindings, OSError):
        today = None
    found = as_begun(opened.digest, today, lambda: journal.written(opened.digest))
    return procedure_named(opened.procedure) if found is None else found


def procedure_told(journal: "Journal", job: str, given: str | None) -> "Procedure | None":
    """Return the given procedure or the one the job followed; None where only the latter's name is known.

    Raises UnknownProcedureError, ProcedureFindings for the given one, JournalError.
    """
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.events import JobOpened

    if given is not None:
        return procedure_meant(given)
    events = journal.readable_events(job).events
    opened = next((event for event in events if isinstance(event, JobOpened)), None)
    try:
        return None if opened is None else procedure_followed(journal, opened)
    except (ProcedureFindings, UnknownProcedureError, OSError):
        # A report is still a report without the procedure's words, and it says so.
        return None


def record_to_read() -> Path | None:
    """Return the file of the record where there is one, and leave nothing behind where there is none.

    A home that is a file, or on a drive that is not plugged in, is no empty record, and neither is one beside whose
    place sounds, reports or a list of jobs are: JournalError says so.
    """
    from voicetech.journal.errors import JournalError
    from voicetech.journal.lost import refuse_where_lost
    from voicetech.journal.place import HOME_VARIABLE, home_folder, journal_path, refuse_broken_link

    home = home_folder(os.environ)
    refuse_broken_link(home)
    refuse_broken_link(journal_path(home))
    refuse_where_lost(home)
    if journal_path(home).exists():
        return journal_path(home)
    if home.exists() and not home.is_dir():
        raise JournalError(
            f"{home} is a file, and a folder is needed there. Move it aside, or set {HOME_VARIABLE} to a folder."
        )
    if os.environ.get(HOME_VARIABLE, "").strip() and not home.parent.is_dir():
        raise JournalError(
            f"The record of jobs cannot be looked for: {home.parent} does not exist. "
            f"Plug the drive in, or set {HOME_VARIABLE} to another folder."
        )
    return None


@contextmanager
def record_read(record: Path) -> "Iterator[Journal]":
    """Give a record that is only read, also where its folder cannot be written or its disk is full."""
    from voicetech.journal.errors import DamagedError, JournalError
    from voicetech.journal.store import open_journal, open_to_read

    try:
        journal = open_journal(record)
    except DamagedError:
        raise
    except JournalError as error:
        try:
            journal = open_to_read(record)
        except JournalError:
            raise error from None
    with journal:
        yield journal


@contextmanager
def open_record() -> "Iterator[Journal]":
    """Give the journal in the user's folder, closed afterwards; a new one is never begun in the place of a lost one."""
    from voicetech.journal.lost import refuse_where_lost
    from voicetech.journal.place import journal_path, ready_home, refuse_broken_link
    from voicetech.journal.store import open_journal

    home = ready_home(os.environ)
    refuse_broken_link(journal_path(home))
    refuse_where_lost(home)
    journal = open_journal(journal_path(home))
    try:
        yield journal
    finally:
        journal.close()


def new_job(
    journal: "Journal",
    procedure: "Procedure",
    channel: "Channel",
    before: str = "",
    keep_sound: "KeepSound | None" = None,
) -> "tuple[Job, Reply]":
    """Return a new job with its first reply; `before` is what its name begins with."""
    from voicetech.dialogue.given import KeepSound
    from voicetech.job import open_job
    from voicetech.journal.errors import LostRaceError
    from voicetech.journal.place import new_job_id

    for _ in range(_NAMES):
        job_id = before + new_job_id(time.time(), secrets.token_bytes(2))
        # Two jobs of one minute may be given one name; the second draws another.
        with suppress(LostRaceError):
            return open_job(procedure, journal, job_id, channel, time.time, keep_sound or KeepSound.OFF)
    stop("Too many jobs were begun in this minute. Wait a minute, then try again.")


def job_for(
    journal: "Journal",
    procedure_name: str | None,
    channel: "Channel",
    resume: str | None,
    keep_sound: "KeepSound | None" = None,
    language: str = ENGLISH,
) -> "tuple[Job, Reply]":
    """Return a new job, or the one named by `resume` ("last" for the latest), with its first reply.

    A new one has to be given its procedure; one that is taken up follows its own, in its own language.
    """
    from voicetech.dialogue.given import KeepSound
    from voicetech.events import Channel, JobOpened
    from voicetech.job import JobError, take_up_job

    if resume is None:
        meant = procedure_name or ""
        procedure = procedure_meant(meant) if language == ENGLISH else procedure_in(language, meant)
        work_ahead_of(procedure)
        return new_job(journal, procedure, channel, keep_sound=keep_sound)
    named = journal.last_job() if resume == "last" else resume
    if named is None:
        raise JobError("There is no job to take up yet. Start one with: voicetech chat")
    events = journal.events(named)
    if not events:
        raise JobError(f"There is no job {named}. See the list with: voicetech jobs")
    first = events[0]
    if isinstance(first, JobOpened) and procedure_name is None:
        procedure = procedure_followed(journal, first)
    else:
        procedure = procedure_meant(procedure_name or "")
    if channel is Channel.VOICE and procedure.language != ENGLISH:
        raise JobError(
            f"Job {named} is in {procedure.language}, and only English is spoken and heard. Go on by keyboard: "
            f"voicetech chat --resume {named}"
        )
    work_ahead_of(procedure)
    return take_up_job(procedure, journal, named, channel, time.time, keep_sound or KeepSound.OFF)


def work_ahead_of(procedure: "Procedure") -> None:
    """Let the diagnosis work ahead while somebody reads the first questions; a job fed from a file does not wait."""
    from voicetech.diagnosis import work_ahead

    if sys.stdin.isatty():
        # What is loaded by now is kept to the end; looking it through for garbage would hold an answer up for 20 to
        # 40 ms.
        gc.freeze()
        threading.Thread(target=work_ahead, args=(procedure,), name="work ahead", daemon=True).start()
