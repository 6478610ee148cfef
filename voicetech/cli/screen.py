"""Replies on a terminal: set apart by their words, never by colour alone; plain for pipes and screen readers."""

import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final, TextIO

if TYPE_CHECKING:
    from voicetech.dialogue.reply import Line, Reply

STYLES: Final = {
    "said back": "cyan",
    "verdict": "bold",
    "meaning": "bold",
    "caution": "yellow",
    "prompt": "bold green",
    "question": "bold magenta",
    "help": "",
    "not now": "red",
    "danger": "bold red",
    "record": "dim",
}
"""How each kind of line looks, by the word that stands before it: the kinds themselves are slow to load."""
_WIDTH: Final = max(map(len, STYLES))


class Screen:
    """Prints replies line by line; plain text where asked for, or where the output is no terminal."""

    def __init__(self, plain: bool = False, out: TextIO | None = None) -> None:
        self._out = out or sys.stdout
        self._plain = plain or not self._out.isatty()

    def reply(self, reply: "Reply") -> None:
        """Print every line of a reply."""
        self.lines(reply.lines)

    def lines(self, lines: "Iterable[Line]") -> None:
        """Print lines, each with the word that says what it is."""
        for line in lines:
            self._print(line.kind.value, line.show, STYLES[line.kind.value])

    def said(self, who: str, text: str) -> None:
        """Print what somebody said."""
        self._print(who, text, "")

    def note(self, text: str) -> None:
        """Print a remark of the program about itself."""
        self._print("", text, "dim")

    def _print(self, word: str, text: str, style: str) -> None:
        if self._plain:
            self._out.write(f"{word}: {text}\n" if word else f"{text}\n")
            self._out.flush()
            return
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        line = Table.grid(padding=(0, 2))
        line.add_column(justify="right", width=_WIDTH)
        line.add_column()
        line.add_row(Text(word, style="dim"), Text(text, style=style))
        Console(file=self._out, highlight=False).print(line)
