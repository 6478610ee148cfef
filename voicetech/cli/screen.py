"""Replies on a terminal: set apart by their words, never by colour alone; plain for pipes and screen readers."""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
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
ASKING: Final = frozenset({"caution", "prompt", "question", "danger"})
"""Lines that want something of the technician: they stand apart from what was done before."""
SIGNAL_WORDS: Final = frozenset({"Danger", "Warning", "Caution", "Notice"})
_WIDTH: Final = max(map(len, (*STYLES, "technician")))
_NARROW: Final = 60
"""A screen with fewer columns has no room for a margin of words."""
_PLAIN_PICTURE: Final = 24
_WIDEST_PICTURE: Final = 32


class Screen:
    """Prints replies line by line; plain text where asked for, or where the output is no terminal.

    Plain text has one item a line, each beginning with the word that says what it is.
    """

    def __init__(self, plain: bool = False, out: TextIO | None = None) -> None:
        self._out = out or sys.stdout
        self.plain = plain or not self._out.isatty()
        self._together = False
        self._held: list[str] = []
        self.ascii = self.plain or not _takes_signs(self._out)

    def reply(self, reply: "Reply") -> None:
        """Print every line of a reply."""
        self.lines(reply.lines)

    def lines(self, lines: "Iterable[Line]") -> None:
        """Print lines, each with the word that says what it is; what is asked for stands apart from the rest."""
        apart = False
        for line in lines:
            kind = line.kind.value
            if kind in ASKING and not apart:
                apart = True
                self.gap()
            signal, colon, hazard = line.show.partition(": ")
            if not self.plain and kind == "caution" and colon and signal in SIGNAL_WORDS:
                self.item(signal.upper(), hazard, STYLES[kind])
            else:
                self.item(kind, line.show, STYLES[kind])

    def said(self, who: str, text: str) -> None:
        """Print what somebody said."""
        self.item(who, text)

    def note(self, text: str) -> None:
        """Print a remark of the program about itself."""
        self.item("note" if self.plain else "", text, "dim")

    def gap(self) -> None:
        """Leave a line free, where there is a layout."""
        if not self.plain:
            self._out.write("\n")

    def item(self, word: str, text: str, style: str = "") -> None:
        """Print one item, the word that says what it is before it."""
        shown = _without_controls(text)
        if self.plain:
            self._held.append(f"{word}: {shown}\n" if word else f"{shown}\n")
            if not self._together:
                self._let_out()
            return
        from rich.console import Console
        from rich.table import Table
        from rich.text import Text

        console = Console(file=self._out, highlight=False)
        if console.width < _NARROW or not word:
            console.print(Text.assemble((f"{word}: " if word else "", "dim"), (shown, style)))
            return
        line = Table.grid(padding=(0, 2))
        line.add_column(justify="right", width=_WIDTH)
        line.add_column()
        line.add_row(Text(word, style="dim"), Text(shown, style=style))
        console.print(line)

    @contextmanager
    def in_one_go(self) -> Iterator[None]:
        """Let what is printed meanwhile come out together: a program that reads it takes a pause for the end."""
        self._together = True
        try:
            yield
        finally:
            self._together = False
            self._let_out()

    def _let_out(self) -> None:
        held, self._held = "".join(self._held), []
        self._out.write(held)
        self._out.flush()

    def columns_beside(self, word: str, text: str) -> int:
        """Return how many columns a picture may take in an item of this word with a text behind it."""
        if self.plain:
            return _PLAIN_PICTURE
        from rich.console import Console

        width = Console(file=self._out).width
        margin = len(word) if width < _NARROW else _WIDTH
        return min(_WIDEST_PICTURE, width - margin - 2 - len(text) - 2)


def _takes_signs(out: TextIO) -> bool:
    try:
        "├─[═◆▶◀".encode(out.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _without_controls(text: str) -> str:
    """Return the text without what would move a cursor or break a line."""
    return text if text.isprintable() else "".join(sign if sign.isprintable() else " " for sign in text)
