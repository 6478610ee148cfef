"""Replies on a terminal."""

from voicetech.cli.screen import STYLES
from voicetech.dialogue.reply import LineKind


def test_every_kind_of_line_has_its_looks() -> None:
    assert set(STYLES) == set(LineKind)
