"""Tables on a terminal of any width: nothing in them is ever cut.

Where the columns do not fit with whole words, the rows stand one under another, each cell behind its heading.
"""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from rich.console import Console

_GAP: Final = 1
_NOT_PRINTABLE: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


def printable(words: str) -> str:
    """Return somebody's words without signs that would be commands to a terminal."""
    return _NOT_PRINTABLE.sub("\N{REPLACEMENT CHARACTER}", words)


def show_rows(
    console: "Console",
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    names: int | None = None,
    whole: int = 0,
) -> None:
    """Print rows as a table, or one under another where they do not fit.

    The first `names` columns hold words (all of them unless told), the others figures; the first `whole` are never
    wrapped, and neither are figures.
    """
    words = len(headings) if names is None else names
    shown = [[printable(cell) for cell in row] for row in rows]
    kept = [place < whole or place >= words for place in range(len(headings))]
    least = [_least(column, kept[place]) for place, column in enumerate(zip(headings, *shown, strict=True))]
    # The box sets a space before the first column and behind the last.
    if sum(least) + _GAP * (len(least) + 1) <= console.width:
        _print_table(console, headings, shown, words, kept, least)
    else:
        for row in shown:
            _print_record(console, headings, row)
        console.print()


def _least(column: Sequence[str], kept: bool) -> int:
    """Return how narrow a column may be: its longest cell, or its longest word where it may be wrapped."""
    from rich.cells import cell_len

    pieces = column if kept else [word for cell in column for word in cell.split()]
    return max(map(cell_len, pieces), default=0)


def _print_table(
    console: "Console",
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    words: int,
    kept: Sequence[bool],
    least: Sequence[int],
) -> None:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=0)
    for place, heading in enumerate(headings):
        table.add_column(
            heading,
            justify="left" if place < words else "right",
            no_wrap=kept[place],
            min_width=least[place],
        )
    for row in rows:
        # As plain text: a complaint is somebody's words, not markup and not terminal codes.
        table.add_row(*map(Text, row))
    console.print(table)


def _print_record(console: "Console", headings: Sequence[str], row: Sequence[str]) -> None:
    """Print one row, a line for each cell that holds something, a blank line before it."""
    wide = max(map(len, headings))
    console.print()
    for heading, cell in zip(headings, row, strict=True):
        if cell:
            print_hanging(console, f"{heading:{wide}}  ", cell)


def print_hanging(console: "Console", before: str, words: str, style: str = "") -> None:
    """Print words behind a label, wrapped between words only, the lines below set in where there is room.

    A word that is wider than the terminal goes over its end whole.
    """
    from textwrap import wrap

    longest = max(map(len, words.split()), default=0)
    inset = len(before) if len(before) + longest <= console.width else min(2, len(before))
    room = max(console.width - inset, 1)
    lines = wrap(words, room, break_long_words=False, break_on_hyphens=False) or [""]
    if inset == len(before):
        lines[0] = f"{before}{lines[0]}"
        rest = lines[1:]
        _print_whole(console, lines[0], style)
    else:
        _print_whole(console, before.rstrip(), style)
        rest = lines
    for line in rest:
        _print_whole(console, f"{' ' * inset}{line}", style)


def _print_whole(console: "Console", line: str, style: str) -> None:
    console.print(line, style=style or None, markup=False, highlight=False, soft_wrap=True)


def show_pieces(console: "Console", pieces: Sequence[str], style: str = "") -> None:
    """Print pieces on one line, or set in on lines of their own where it is too short: none is broken where it fits."""
    from rich.cells import cell_len

    line = "  ".join(pieces)
    if cell_len(line) <= console.width:
        _print_whole(console, line, style)
        return
    for place, piece in enumerate(pieces):
        print_hanging(console, "" if place == 0 else "  ", piece, style)
