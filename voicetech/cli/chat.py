"""`voicetech chat`: the job as text in a terminal."""

import errno
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.appliance import NamedProcedure, procedure_chosen
from voicetech.cli.conversation import LAST_TURNS, left_ago, show_conversation
from voicetech.cli.ending import BY_CTRL_C, print_no_more
from voicetech.cli.job_on_screen import JobOnScreen, where_it_stands
from voicetech.cli.joining import job_for, open_record, plain_errors, stop
from voicetech.cli.options import refuse
from voicetech.cli.screen import Screen
from voicetech.language.tags import ENGLISH

if TYPE_CHECKING:
    from voicetech.job import Job
    from voicetech.journal.store import Journal
    from voicetech.procedure import Procedure

_HELP = (
    "Answer in your own words: two thirty eight volts, open, it beeps, yes. Any time: repeat, how, where, why, "
    "what's the limit, status, undo, skip because ..., go to ..., note ..., pause. Stop stops everything. "
    "history shows the conversation so far."
)
HISTORY: Final = "history"
"""A word for this program, not for the job: no answer and no request."""
LEAVING: Final = frozenset({"quit", "exit", "bye"})
"""What people type to leave a program; leaving loses nothing, and no question has such an answer."""


def chat(
    plain: Annotated[
        bool, typer.Option("--plain", help="One item a line, no colour and no layout: for screen readers and pipes.")
    ] = False,
    resume: Annotated[
        str | None, typer.Option("--resume", help="Take up a job from the record: its name, or last.", metavar="JOB")
    ] = None,
    procedure: NamedProcedure = None,
    language: Annotated[
        str | None,
        typer.Option(
            "--language",
            metavar="TAG",
            help="The language of the procedure's texts, where it is there in another than English, as in es-MX. The "
            "program's own sentences stay English.",
        ),
    ] = None,
) -> None:
    """Work a job by keyboard: the same questions, holds and verdicts as by voice.

    Every answer is on record before the next question. Leave with Ctrl-D or quit and take the job up again later,
    here or by voice; a proof of dead is then made again.

    Examples: voicetech chat, then later voicetech chat --resume last
    """
    from voicetech.events import Channel

    if resume is not None:
        refuse({"--language": language}, "does nothing beside --resume: a job keeps the language it was begun in")
    screen = Screen(plain)
    with plain_errors():
        named = procedure if resume is not None else procedure_chosen(procedure)
    with plain_errors(), open_record() as journal:
        job, first = job_for(journal, named, Channel.CHAT, resume, language=language or ENGLISH)
        with _left_well(job, screen, closed=job.closed):
            at_work = JobOnScreen(job, screen)
            with screen.in_one_go():
                screen.item("job", f"{job.id}: {job.procedure.title}.")
                if job.procedure.language != ENGLISH:
                    screen.note(_what_is_in(job.procedure))
                if not job.closed:
                    screen.item("keys", _HELP, "dim")
                    if resume is not None:
                        _tell_where_it_stands(job, journal, screen)
                    at_work.reply(first)
            for line in () if job.closed else _lines(screen):
                with screen.in_one_go():
                    if line.strip().lower() in LEAVING and not job.wants_free_words:
                        break
                    if line.strip().lower() == HISTORY and not job.wants_free_words:
                        show_conversation(screen, journal.events(job.id))
                        at_work.again()
                    else:
                        at_work.answered(job.typed(line))
                if job.closed:
                    break


def _tell_where_it_stands(job: "Job", journal: "Journal", screen: Screen) -> None:
    from voicetech.events import JobReopened

    events = journal.events(job.id)
    taken_up = max((n for n, event in enumerate(events) if isinstance(event, JobReopened)), default=len(events))
    show_conversation(screen, events[:taken_up], LAST_TURNS)
    screen.gap()
    stands = where_it_stands(job.procedure, job.session)
    screen.item("taken up", f"{left_ago(events[:taken_up], time.time())} {stands}")


def _what_is_in(procedure: "Procedure") -> str:
    """Return what of a job is in another language than English, and what is not."""
    from voicetech.authoring.lexicon_files import vocabularies_of

    own = ", ".join(vocabularies_of(procedure))
    answers = f"by its own words for {own}, and by the English ones for the rest" if own else "by the English words"
    return (
        f"The procedure's texts are in {procedure.language}. What it calls its answers and tests is understood so; "
        f"everything else that you type {answers}. The program's own sentences, and the report, are English."
    )


@contextmanager
def _left_well(job: "Job", screen: Screen, *, closed: bool) -> Iterator[None]:
    """Say in one line how to go on, whatever ends the conversation; `closed` says that it was over before."""
    from voicetech.journal.errors import JournalError

    how = f"Take it up with: voicetech chat --resume {job.id}"
    try:
        yield
    except JournalError as error:
        stop(f"{error}\nThe job is on record up to the last answer. {how}")
    except KeyboardInterrupt:
        screen.gap()
        screen.note(f"Left at this step. {how}")
        raise typer.Exit(BY_CTRL_C) from None
    except OSError as error:
        if not isinstance(error, BrokenPipeError) and error.errno != errno.EIO:
            raise
        print_no_more()
        stop(f"Nothing more can be shown: the output is closed. All answers are on record. {how}")
    screen.gap()
    if closed:
        screen.note(f"This job is closed. Print its report with: voicetech report {job.id}")
    elif job.closed:
        screen.note(f"Print the report with: voicetech report {job.id}")
    else:
        screen.note(f"Left at this step. {how}")


def _lines(screen: Screen) -> Iterator[str]:
    """Yield the typed lines that hold something, until the input ends.

    Lines typed before come back with the arrow keys where there is a readline; they are kept nowhere.
    """
    if not screen.plain and sys.stdin.isatty():
        with suppress(ImportError):
            import_module("readline")
    while True:
        try:
            line = input("" if screen.plain else "> ")
        except EOFError:
            return
        if line.strip():
            yield line
