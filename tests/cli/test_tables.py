"""Tables at every width: nothing in them is cut, and no word is broken."""

import io
import re

import pytest
from rich.console import Console

from voicetech.cli.tables import show_pieces, show_rows

HEADINGS = ("job", "last", "complaint", "tests")
ROWS = (
    ("20261126-2100-x9", "2026-11-26 21:00", "the oven does not heat at all", "12"),
    ("demo-20261126-2059-h4", "2026-11-25 09:41", "thermostatically uncontrollable", "3"),
)
WIDTHS = (1, 8, 20, 25, 40, 60, 79, 80, 100, 200)


def shown(width: int, *, whole: int = 2) -> str:
    out = io.StringIO()
    show_rows(Console(file=out, width=width), HEADINGS, ROWS, names=3, whole=whole)
    return out.getvalue()


@pytest.mark.parametrize("width", WIDTHS)
def test_every_word_of_every_cell_is_there_whole(width: int) -> None:
    printed = shown(width).split()
    for row in ROWS:
        for word in " ".join(row).split():
            assert word in printed
    assert "…" not in shown(width)


@pytest.mark.parametrize("width", [width for width in WIDTHS if width >= 40])
def test_no_line_is_wider_than_the_terminal_where_there_is_room(width: int) -> None:
    assert max(len(line.rstrip()) for line in shown(width).splitlines()) <= width


def test_wide_enough_it_is_a_table_and_else_each_cell_stands_behind_its_heading() -> None:
    assert re.search(r"job +last +complaint +tests", shown(100))
    narrow = shown(40)
    assert "job        20261126-2100-x9\n" in narrow
    assert "complaint  the oven does not heat at all\n" in narrow
    assert "tests      12\n" in narrow


def test_signs_that_would_be_commands_to_the_terminal_are_not_printed() -> None:
    out = io.StringIO()
    show_rows(Console(file=out, width=80), ("words",), [("[bold]cold\x1b[31m",)])
    assert "[bold]cold\N{REPLACEMENT CHARACTER}[31m" in out.getvalue()


@pytest.mark.parametrize("width", WIDTHS)
def test_pieces_stand_on_one_line_or_on_their_own(width: int) -> None:
    out = io.StringIO()
    show_pieces(Console(file=out, width=width), ROWS[0])
    lines = out.getvalue().splitlines()
    assert " ".join(out.getvalue().split()) == " ".join(ROWS[0])
    if width >= 40:
        assert len(lines) in (1, len(ROWS[0]))
