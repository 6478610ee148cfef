"""Replies on a terminal: set apart by their words, never by colour alone; plain for pipes and screen readers."""

import sys
from collections.abc import Iterable
from typing import Final, TextIO

from voicetech.dialogue.reply import Line, LineKind, Reply

_STYLES: Final = {
    LineKind.SAID_BACK: "cyan",
    LineKind.VERDICT: "bold",
    LineKind.MEANING: "bold",
    LineKind.CAUTION: "yellow",
    LineKind.PROMPT: "bold green",
    LineKind.QUESTION: "bold magenta",
    LineKind.HELP: "",
    LineKind.REFUSAL: "red",
    LineKind.DANGER: "bold red",
    LineKind.RECORD: "dim",
}
_WIDTH: Final = max(len(kind.value) for kind in LineKind)


class Screen:
    """Prints replies line by line; plain text where asked for, or where the output is no terminal."""

    def __init__(self, plain: bool = False, out: TextIO | None = None) -> None:
        self._out = out or sys.stdout
        self._plain = plain or not self._out.isatty()

    def reply(self, reply: Reply) -> None:
        """Print every line of a reply."""
        self.lines(reply.lines)

    def lines(self, lines: Iterable[Line]) -> None:
        """Print lines, each with the word that says what it is."""
        for line in lines:
            self._print(line.kind.value, line.show, _STYLES[line.kind])

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
