"""Replies on a terminal."""

import io
import re

import pytest

from voicetech.cli.conversation import ago
from voicetech.cli.screen import ASKING, SIGNAL_WORDS, STYLES, Screen
from voicetech.dialogue.reply import Line, LineKind
from voicetech.procedure import Signal


class Terminal(io.StringIO):
    """Text that is taken for a terminal, with signs of one encoding."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


class OldTerminal(Terminal):
    encoding = "ascii"


def line(kind: LineKind, show: str) -> Line:
    return Line(kind, show, "")


def test_every_kind_of_line_has_its_looks() -> None:
    assert set(STYLES) == set(LineKind)
    assert set(LineKind) >= ASKING
    assert {word.lower() for word in SIGNAL_WORDS} == set(Signal)


def test_a_prompt_stands_apart_under_its_cautions(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("TERM", "dumb")
    out = Terminal()
    said = [
        line(LineKind.SAID_BACK, "No."),
        line(LineKind.CAUTION, "Danger: Live parts."),
        line(LineKind.PROMPT, "Go."),
    ]
    Screen(out=out).lines(said)
    assert [row.rstrip() for row in out.getvalue().splitlines()] == [
        " said back  No.",
        "",
        "    DANGER  Live parts.",
        "    prompt  Go.",
    ]


@pytest.mark.parametrize("columns", [20, 40, 59, 60, 80, 200])
def test_nothing_is_wider_than_the_screen(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setenv("TERM", "xterm")
    out = Terminal()
    screen = Screen(out=out)
    screen.item("limits", "It should read 19.9 to 24.4 ohms, for a 2600 watt element at 240 volts.")
    ends = "19.9 to 24.4"
    screen.item("band", "x" * screen.columns_beside("band", ends) + f"  {ends}")
    rows = re.sub(r"\x1b[^m]*m", "", out.getvalue()).splitlines()
    assert all(len(row) <= columns for row in rows)
    assert columns < 40 or rows[-1].rstrip().endswith(ends), "a picture and its words stay on one row"


def test_plain_is_one_row_an_item_without_anything_that_moves_a_cursor() -> None:
    out = io.StringIO()
    screen = Screen(plain=True, out=out)
    screen.said("technician", "note: \x1b[2Jgone\nsafe\r")
    screen.gap()
    screen.note("Left.")
    assert out.getvalue() == "technician: note:  [2Jgone safe \nnote: Left.\n"


def test_where_signs_cannot_be_shown_they_are_not_used() -> None:
    assert not Screen(out=Terminal()).ascii
    assert Screen(out=OldTerminal()).ascii
    assert Screen(plain=True, out=Terminal()).ascii


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "just now"),
        (59, "just now"),
        (60, "1 minute ago"),
        (7300, "2 hours ago"),
        (200_000, "2 days ago"),
        (-5, "just now"),
    ],
)
def test_how_long_ago_is_told_in_the_largest_unit(seconds: float, said: str) -> None:
    assert ago(seconds) == said
