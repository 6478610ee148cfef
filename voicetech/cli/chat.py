"""`voicetech chat`: the job as text in a terminal."""

import io
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.ending import BY_CTRL_C
from voicetech.cli.joining import DEFAULT_PROCEDURE, job_for, open_record, plain_errors, stop
from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.job import Job

_HELP = (
    "Answer in your own words: two thirty eight volts, open, it beeps, yes. Any time: repeat, how, where, why, "
    "what's the limit, status, undo, skip because ..., go to ..., note ..., pause. Stop stops everything."
)


def chat(
    plain: Annotated[
        bool, typer.Option("--plain", help="No colour and no layout: for screen readers and pipes.")
    ] = False,
    resume: Annotated[
        str | None, typer.Option("--resume", help="Take up a job from the record: its name, or last.", metavar="JOB")
    ] = None,
    procedure: Annotated[
        str, typer.Option("--procedure", help="A shipped procedure by name, or a file.", metavar="NAME")
    ] = DEFAULT_PROCEDURE,
) -> None:
    """Work a job by keyboard: the same questions, holds and verdicts as by voice.

    Every answer is on record before the next question. Leave with Ctrl-D and take the job up again later, here or by
    voice; a proof of dead is then made again.

    Examples: voicetech chat, then later voicetech chat --resume last
    """
    from voicetech.events import Channel

    screen = Screen(plain)
    with plain_errors(), open_record() as journal:
        job, first = job_for(journal, procedure, Channel.CHAT, resume)
        screen.note(f"Job {job.id}. {_HELP}")
        if job.closed:
            screen.note(f"This job is closed. Print its report with: voicetech report {job.id}")
            return
        with _left_well(job, screen):
            screen.reply(first)
            for line in _lines("" if plain else "> "):
                screen.reply(job.typed(line))
                if job.closed:
                    break


@contextmanager
def _left_well(job: "Job", screen: Screen) -> Iterator[None]:
    """Say how to go on, whatever ends the conversation."""
    from voicetech.journal.errors import JournalError

    how = f"Take it up with: voicetech chat --resume {job.id}"
    try:
        yield
    except JournalError as error:
        stop(f"{error}\nThe job is on record up to the last answer. {how}")
    except KeyboardInterrupt:
        screen.note("")
        screen.note(f"Left at this step. {how}")
        raise typer.Exit(BY_CTRL_C) from None
    if job.closed:
        screen.note(f"Print the report with: voicetech report {job.id}")
    else:
        screen.note(f"Left at this step. {how}")


def _lines(before: str) -> Iterator[str]:
    """Yield the typed lines that hold something, until the input ends; bytes that are no text become marks."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    while True:
        try:
            line = input(before)
        except EOFError:
            return
        if line.strip():
            yield line
