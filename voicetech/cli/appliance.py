"""Which appliance it is: named, set for this computer, the only one there is, or asked for by keyboard or by voice."""

import os
import shutil
import sys
import textwrap
import time
from contextlib import ExitStack
from typing import TYPE_CHECKING, Annotated, Final

import typer

from voicetech.cli.by_voice import Manners, converse, fit_address, open_conversation, open_feed, tell_unheard
from voicetech.cli.ending import BY_CTRL_C
from voicetech.cli.joining import UnknownProcedureError, shipped_meant

if TYPE_CHECKING:
    from collections.abc import Iterable

    from voicetech.cli.screen import Screen
    from voicetech.hearing.recogniser import Recogniser

PROCEDURE_VARIABLE: Final = "VOICETECH_PROCEDURE"
"""The procedure that is worked where none is named, for whoever has one kind of appliance only, and for scripts."""
_WITHOUT_ANYBODY: Final = "electric-range-no-heat"
"""What is worked where none is named and nobody is there to be asked, as it always was for scripts."""
NamedProcedure = Annotated[
    str | None,
    typer.Option(
        "--procedure",
        help="A shipped procedure by name or a word of it, or a file. Without it the one that "
        f"{PROCEDURE_VARIABLE} names; else you are asked which appliance it is, by voice where you work by voice. "
        "Where nobody is at a terminal to be asked, it is the range, and that is told.",
        metavar="NAME",
    ),
]
_NO_JOB: Final = "No job was begun. Start again when nothing and nobody is in danger."


def procedure_known(given: str | None) -> str | None:
    """Return the procedure that needs no question: named, set, or the only one there is; None where there is none.

    Raises UnknownProcedureError where the one that is set is none.
    """
    from voicetech.authoring.procedure_files import shipped_names

    if given is not None:
        return given
    fixed = os.environ.get(PROCEDURE_VARIABLE, "").strip()
    shipped = shipped_names()
    if not fixed:
        return shipped[0] if len(shipped) == 1 else None
    if fixed in shipped or fixed.endswith((".yaml", ".yml")):
        return fixed
    try:
        return shipped_meant(fixed)
    except UnknownProcedureError as error:
        raise UnknownProcedureError(f"{PROCEDURE_VARIABLE}: {error}") from None


def procedure_chosen(given: str | None, asks: bool = True) -> str:
    """Return the procedure that needs no question, or ask at the terminal which appliance it is.

    Where no terminal is there, or it is not to be asked, that is the range, and it is told so beside the output.
    Raises UnknownProcedureError.
    """
    known = procedure_known(given)
    if known is not None:
        return known
    if asks and sys.stdin.isatty():
        return _typed()
    sys.stderr.write(
        f"No appliance was named, so this is {_WITHOUT_ANYBODY}. For another one: --procedure NAME, or set "
        f"{PROCEDURE_VARIABLE}; voicetech procedures lists them.\n"
    )
    return _WITHOUT_ANYBODY


def procedure_spoken(mic: str | None, recogniser: "Recogniser", screen: "Screen", manners: Manners) -> str:
    """Return the procedure of the appliance that is named aloud, once it is asked which one it is.

    Ends the command where there is danger or it is broken off. Raises HearingError, SpeakingError.
    """
    from voicetech.authoring.procedure_files import shipped_headings
    from voicetech.choosing import Choosing
    from voicetech.events import Channel

    offered = shipped_headings()
    choosing = Choosing(offered, Channel.VOICE, time.time)
    screen.note("Which appliance? Say its name, or number one, number two and so on.")
    for number, heading in enumerate(offered.values(), start=1):
        screen.item(str(number), heading.title)
    tell_unheard(choosing, recogniser, screen)
    address_word = fit_address(choosing, manners.address_word)
    asking = Manners(manners.silent, None, address_word, manners.push_to_talk, manners.headset)
    try:
        # A microphone and a voice of its own: their time begins anew with the job's.
        with ExitStack() as open_things:
            feed = open_feed(mic, None, open_things)
            conversation = open_conversation(choosing, recogniser, feed, screen, open_things, asking)
            if feed.microphone is not None:
                feed.microphone.start_afresh()
            conversation.begin(choosing.first)
            converse(conversation, feed, screen, asking)
    except KeyboardInterrupt:
        raise typer.Exit(BY_CTRL_C) from None
    if choosing.chosen is None:
        screen.note(_NO_JOB)
        raise typer.Exit
    return choosing.chosen


def _typed() -> str:
    asking = _Asking()
    _print("Which appliance? Type its number, its name, or what you call it.")
    asking.list_those(asking.offered)
    while True:
        try:
            line = input("> ").strip()
        except (EOFError, KeyboardInterrupt):
            sys.stdout.write("\n")
            raise typer.Exit from None
        found = asking.answered(line)
        if found is not None:
            _print(f"{asking.offered[found].title or found}.")
            return found


class _Asking:
    """The question at the terminal: a number, a name, own words, danger, and names that several have."""

    def __init__(self) -> None:
        from voicetech.authoring.procedure_files import shipped_headings
        from voicetech.choosing import Choosing
        from voicetech.events import Channel

        self.offered = shipped_headings()
        self._choosing = Choosing(self.offered, Channel.CHAT, time.time)

    def list_those(self, names: "Iterable[str]") -> None:
        """Print the titles of these, each with its number among all."""
        numbers = {name: number for number, name in enumerate(self.offered, start=1)}
        for name in names:
            _print(f"{numbers[name]}: {self.offered[name].title or name}")

    def answered(self, line: str) -> str | None:
        """Return what a typed line chooses, or say what is needed; ends the command where there is danger."""
        from voicetech.authoring.which_appliance import meant
        from voicetech.turn import Turn

        if line.isascii() and line.isdigit() and 1 <= int(line) <= len(self.offered):
            return list(self.offered)[int(line) - 1]
        before = self._choosing.session.at
        reply = self._choosing.typed(line)
        if self._choosing.chosen is not None:
            return self._choosing.chosen
        narrowed = self._choosing.session.at != before
        if not narrowed and self._choosing.session.turn is Turn.ASKING:
            return self._own_words(meant(self.offered, line))
        for each in reply.lines:
            _print(each.show)
        if self._choosing.stopped:
            _print(_NO_JOB)
            raise typer.Exit
        return None

    def _own_words(self, names: tuple[str, ...]) -> str | None:
        if len(names) == 1:
            return names[0]
        if names:
            _print("Several are called so. Which one? Type its number, or a name that only one of them has.")
        else:
            _print("That is none of these. Type a number or a name.")
        self.list_those(names or self.offered)
        return None


def _print(line: str) -> None:
    sys.stdout.write(f"{textwrap.fill(line, shutil.get_terminal_size().columns)}\n")
