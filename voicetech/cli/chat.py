"""`voicetech chat`: the job as text in a terminal."""

from typing import Annotated

import typer

from voicetech.cli.joining import DEFAULT_PROCEDURE, job_for, open_record, plain_errors
from voicetech.cli.screen import Screen

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

    Every answer is on record before the next question. Leave with Ctrl-D; take the job up again with
    voicetech chat --resume last (a proof of dead is then made again).
    """
    from voicetech.events import Channel

    screen = Screen(plain)
    with plain_errors(), open_record() as journal:
        job, first = job_for(journal, procedure, Channel.CHAT, resume)
        screen.note(f"Job {job.id}. {_HELP}")
        if job.closed:
            screen.note(f"This job is closed. Print its report with: voicetech report {job.id}")
            return
        screen.reply(first)
        while not job.closed:
            line = _line(plain)
            if line is None:
                screen.note(f"Left at this step. Take it up with: voicetech chat --resume {job.id}")
                return
            if line.strip():
                screen.reply(job.typed(line))
        screen.note(f"Print the report with: voicetech report {job.id}")


def _line(plain: bool) -> str | None:
    """Return the next typed line, or None where the input has ended or Ctrl-C was pressed."""
    try:
        return input("" if plain else "> ")
    except (EOFError, KeyboardInterrupt):
        return None
    except UnicodeDecodeError:
        return "?"
