"""Which procedure is worked: named whole, by a word, by a file, or asked for."""

import json

import pytest
from typer.testing import CliRunner

from voicetech.authoring.procedure_files import load_shipped, shipped_names, shipped_titles
from voicetech.cli import app
from voicetech.cli.joining import (
    UnknownProcedureError,
    procedure_meant,
    procedure_named,
    shipped_meant,
)


def test_they_are_listed_by_name_and_title() -> None:
    result = CliRunner().invoke(app, ["procedures"])
    assert result.exit_code == 0
    assert [line.split(": ")[0] for line in result.output.splitlines()] == list(shipped_names())
    assert "Electric range does not heat" in result.output
    for line in CliRunner().invoke(app, ["procedures", "--json"]).output.splitlines():
        assert set(json.loads(line)) == {"name", "title"}


def test_the_title_is_that_of_the_procedure() -> None:
    for name, title in shipped_titles().items():
        assert load_shipped(name).title == title


@pytest.mark.parametrize("words", ["range", "electric range", "Range", "electric-range-no-heat"])
def test_a_word_of_it_is_enough(words: str) -> None:
    assert shipped_meant(words) == "electric-range-no-heat"
    assert procedure_meant(words).id == "electric-range-no-heat"


def test_the_name_in_a_record_is_taken_whole() -> None:
    """Else a job whose procedure is gone would be told in the words of another."""
    with pytest.raises(UnknownProcedureError):
        procedure_named("range")


@pytest.mark.parametrize("words", ["kettle", "", "range kettle"])
def test_what_is_not_there_is_told_with_what_is(words: str) -> None:
    with pytest.raises(UnknownProcedureError, match="electric-range-no-heat"):
        shipped_meant(words)


@pytest.mark.parametrize("command", ["check", "prove", "draw", "checklist"])
def test_every_command_says_which_procedures_there_are(command: str) -> None:
    result = CliRunner().invoke(app, [command, "kettle"])
    assert result.exit_code != 0
    told = " ".join(result.output.replace("│", " ").split())
    assert "There is no procedure called 'kettle'" in told
    assert "electric-range-no-heat" in told


def test_a_word_is_enough_for_a_check() -> None:
    result = CliRunner().invoke(app, ["check", "heater"])
    assert "1 procedure checked, no finding." in result.output
