"""The commands. This is where the parts are joined; nothing below calls upward.

A command's module is called like the command and loaded only where it is run, or where help lists all of them: a list
of jobs does not wait for the recogniser.
"""

import os
import sys
from functools import cache
from importlib import import_module
from io import TextIOWrapper
from typing import Final

import typer

from voicetech.cli.ending import Commands, ended_plainly

COMMANDS: Final = (
    "demo",
    "talk",
    "chat",
    "serve",
    "hear",
    "understand",
    "judge",
    "jobs",
    "push",
    "report",
    "review",
    "replay",
    "recordings",
    "forget",
    "upkeep",
    "rehearse",
    "check",
    "prove",
    "draw",
    "checklist",
)
"""The commands in the order of the help. One with commands of its own has an `app`, others a function of their name."""


def with_commands(*names: str) -> typer.Typer:
    """Return the command line with these commands."""
    app = typer.Typer(
        name="voicetech",
        cls=Commands,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode="markdown",
        help=(
            "Talks an appliance technician through a job: safe first, one test at a time, by voice or by text, "
            "offline.\n\n"
            "Start with the recorded demo: voicetech demo. Practise on a simulated range: "
            "voicetech rehearse. Work by keyboard: voicetech chat. At the appliance, "
            "with a headset: voicetech talk. voicetech advises and records; it never declares a circuit safe. Local "
            "code, the maker's service sheet and a licensed electrician outrank it."
        ),
    )
    # Without this a single command would be the whole program.
    app.callback()(_together)
    for name in names:
        module = import_module(f"voicetech.cli.{name}")
        if hasattr(module, "app"):
            app.add_typer(module.app, name=name)
        else:
            app.command()(getattr(module, name))
    return app


def _together() -> None:
    return


@cache
def _all_commands() -> typer.Typer:
    return with_commands(*COMMANDS)


def __getattr__(name: str) -> typer.Typer:
    if name == "app":
        return _all_commands()
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def main() -> None:
    """Run the command line."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            # Started with a stream closed: there is nobody to tell, and the work is done all the same.
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115, PTH123
        elif isinstance(stream, TextIOWrapper):
            # A job must not end because a terminal or a file cannot take an ohm sign.
            stream.reconfigure(errors="replace")
    with ended_plainly():
        named = sys.argv[1] if len(sys.argv) > 1 else ""
        app = with_commands(named) if named in COMMANDS else _all_commands()
        app()
