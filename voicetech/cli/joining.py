"""What the job commands share: the journal, the procedure, the job, and errors told in plain words."""

import os
import secrets
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import typer

if TYPE_CHECKING:
    from voicetech.dialogue.reply import Reply
    from voicetech.events import Channel
    from voicetech.job import Job
    from voicetech.journal.store import Journal
    from voicetech.procedure import Procedure

DEFAULT_PROCEDURE = "electric-range-no-heat"


def stop(message: str, code: int = 1) -> NoReturn:
    """End the command with a message on standard error."""
    sys.stderr.write(f"{message}\n")
    raise typer.Exit(code)


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn every error a user can cause into its message, without a traceback."""
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.hearing.errors import HearingError
    from voicetech.job import JobError
    from voicetech.journal.errors import JournalError
    from voicetech.language.lexicon import LexiconError
    from voicetech.reports.writing import ReportError
    from voicetech.speaking.speaker import SpeakingError

    try:
        yield
    except (JournalError, JobError, ProcedureFindings, HearingError, LexiconError, ReportError, SpeakingError) as error:
        stop(str(error))
    except FileNotFoundError as error:
        stop(f"Not found: {error.filename or error}. Check the path and try again.")
    except PermissionError as error:
        stop(f"Not allowed: {error.filename or error}. Check the rights on it, or choose another place.")


def procedure_named(name: str) -> "Procedure":
    """Return a shipped procedure by name, or one from a file."""
    from voicetech.authoring.procedure_files import load_procedure, load_shipped

    path = Path(name)
    if path.suffix in (".yaml", ".yml") or path.exists():
        return load_procedure(path)
    return load_shipped(name)


@contextmanager
def open_record() -> "Iterator[Journal]":
    """Give the journal in the user's folder, closed afterwards."""
    from voicetech.journal.place import journal_path, ready_home
    from voicetech.journal.store import open_journal

    journal = open_journal(journal_path(ready_home(os.environ)))
    try:
        yield journal
    finally:
        journal.close()


def job_for(
    journal: "Journal", procedure_name: str, channel: "Channel", resume: str | None
) -> "tuple[Job, Reply]":
    """Return a new job, or the one named by `resume` ("last" for the latest), with its first reply."""
    from voicetech.events import JobOpened
    from voicetech.job import JobError, open_job, take_up_job
    from voicetech.journal.place import new_job_id

    if resume is None:
        job_id = new_job_id(time.time(), secrets.token_bytes(2))
        return open_job(procedure_named(procedure_name), journal, job_id, channel, time.time)
    named = journal.last_job() if resume == "last" else resume
    if named is None:
        raise JobError("There is no job to take up yet. Start one with: voicetech chat")
    events = journal.events(named)
    if not events:
        raise JobError(f"There is no job {named}. See the list with: voicetech jobs")
    first = events[0]
    if isinstance(first, JobOpened) and procedure_name == DEFAULT_PROCEDURE:
        procedure_name = first.procedure
    return take_up_job(procedure_named(procedure_name), journal, named, channel, time.time)

