"""The commands. This is where the parts are joined; nothing below calls upward.

A command's module is called like the command and loaded only where it is run: neither the help that lists them all
nor a list of jobs waits for the recogniser.
"""

import os
import sys
from collections.abc import Mapping
from importlib import import_module
from io import TextIOWrapper
from typing import Annotated, Any, Final

import typer

from voicetech import __version__
from voicetech.cli.ending import Commands, ended_plainly
from voicetech.ctrl_c import is_raised
from voicetech.last_words import tell_of_threads

COMMANDS: Final[Mapping[str, str]] = {
    "demo": "Run a whole recorded job: an invented range whose oven does not bake.",
    "talk": "Work a job by voice: prompts are spoken, answers are heard, nothing leaves this computer.",
    "chat": "Work a job by keyboard: the same questions, holds and verdicts as by voice.",
    "serve": "Work jobs on a page in this computer's browser, by typing or with the browser's microphone.",
    "hear": "Show what is heard in recordings, with what else it may have been.",
    "understand": "Show what the program makes of typed words.",
    "judge": (
        "Judge readings without a job: an element, a supply, an oven sensor, a continuity test or the clicks of a "
        "switch."
    ),
    "jobs": "List the jobs on record, the one worked on last first; pick them by what is known of them or was said.",
    "push": (
        "Bring this laptop's jobs to a shop's archive, where those of all laptops are listed, searched and counted."
    ),
    "report": "Write a job's report and print where it is.",
    "review": (
        "Go through a job turn by turn: what was said, heard, decided and answered, with the sound where it was kept."
    ),
    "replay": "Go through recorded jobs again: is the record whole, and what would today's program do otherwise?",
    "recordings": (
        "Write the recorded answers of jobs to a folder, with what was said in each, to see how well you are heard."
    ),
    "forget": "Delete whole jobs with their sounds, reviews and reports, and look whether anything is left of them.",
    "upkeep": "Show where the record of jobs is and whether it and the sounds are whole.",
    "rehearse": "Practise on a simulated appliance with a hidden fault.",
    "procedures": "List the procedures that come with the program, as --procedure takes them, with their titles.",
    "check": (
        "Tell all mistakes in procedures at once: file:line:column, what is wrong and what to do, and the rule's name."
    ),
    "prove": "Walk every state that a procedure can lead to, whatever is said, and hold it to the rules of safety.",
    "draw": "Draw a procedure for paper and print where it is.",
    "checklist": "Write a checklist of a procedure for paper and print where it is.",
    "manual": "Read the manual: without a page its list, else that page.",
}
"""What each command does, as its own help begins, in the order of the list."""
_MARKUP: Final = "markdown"
"""How the help of the commands is written."""


class _LoadedWhenRun(Commands):
    """All commands by name; the module of one is loaded when that one is run or asked for its help."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Return the name, the command itself, and what stands behind the name."""
        name, command, rest = super().resolve_command(ctx, args)
        if name is not None and name in COMMANDS:
            command = self.commands[name] = _loaded(name)
            is_raised()
        return name, command, rest


def _loaded(name: str) -> Any:
    alone = typer.Typer(rich_markup_mode=_MARKUP)
    alone.callback()(_together)
    module = import_module(f"voicetech.cli.{name}")
    if hasattr(module, "app"):
        alone.add_typer(module.app, name=name)
    else:
        alone.command()(getattr(module, name))
    group: Any = typer.main.get_command(alone)
    return group.commands[name]


def _together() -> None:
    # Without a callback a single command would be the whole program.
    return


def _tell_version(asked: bool) -> None:
    if asked:
        typer.echo(f"voicetech {__version__}")
        raise typer.Exit


app: Final = typer.Typer(
    name="voicetech",
    cls=_LoadedWhenRun,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=_MARKUP,
    help=(
        "Talks an appliance technician through a job: safe first, one test at a time, by voice or by text, "
        "offline.\n\n"
        "Start with the recorded demo: voicetech demo. Practise on a simulated appliance: "
        "voicetech rehearse. Work by keyboard: voicetech chat. At the appliance, "
        "with a headset: voicetech talk. How everything is done: voicetech manual.\n\n"
        "voicetech advises and records; it never declares a circuit safe. Local code, the maker's service sheet and a "
        "licensed electrician outrank it."
    ),
)


@app.callback()
def _any_command(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the program's version and end.", callback=_tell_version, is_eager=True),
    ] = False,
) -> None:
    # The option is told as it is read; it does nothing else.
    _ = version


for _name, _told in COMMANDS.items():
    app.command(_name, help=_told)(_together)


def main() -> None:
    """Run the command line."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        stream = getattr(sys, name)
        if stream is None:
            # Started with a stream closed: there is nobody to ask or to tell, and the work is done all the same.
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115, PTH123
        elif isinstance(stream, TextIOWrapper):
            # A job must not end because a terminal or a file cannot take an ohm sign, or gives what is no text.
            stream.reconfigure(errors="replace")
    tell_of_threads()
    with ended_plainly():
        app()
