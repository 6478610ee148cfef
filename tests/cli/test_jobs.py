"""`voicetech jobs` on an empty, a used and a broken record."""

import json
import sqlite3
from datetime import datetime
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.journal.examples import closed, complaint, opened
from voicetech.cli.jobs import jobs
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

app = typer.Typer()
app.command()(jobs)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VOICETECH_HOME", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "120")
    return tmp_path


def _jobs(*arguments: str) -> Result:
    return CliRunner().invoke(app, arguments)


def _two_jobs(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        journal.append("first", 0, [opened("first"), complaint(1, "bake"), closed("repaired")])
        journal.append("second", 0, [opened("second", 1_700_000_500.0)])


def test_no_jobs_says_how_to_start_and_leaves_nothing_behind(home: Path) -> None:
    result = _jobs()
    assert result.exit_code == 0
    assert "voicetech chat" in result.stdout
    assert list(home.iterdir()) == []
    assert _jobs("--json").stdout == ""


def test_json_gives_one_object_a_line(home: Path) -> None:
    _two_jobs(home)
    second, first = (json.loads(line) for line in _jobs("--json").stdout.splitlines())
    assert (second["job"], second["complaint"], second["outcome"], second["events"]) == ("second", None, None, 1)
    assert (first["job"], first["procedure"], first["complaint"]) == ("first", "range-no-heat", "bake")
    assert first["outcome"] == "repaired"
    assert datetime.fromisoformat(first["opened"]).timestamp() == 1_700_000_000.0
    assert datetime.fromisoformat(first["last"]).timestamp() == 1_700_000_030.0


def test_the_table_names_every_job_and_what_became_of_it(home: Path) -> None:
    _two_jobs(home)
    output = _jobs().stdout
    first, second = output.index("first"), output.index("second")
    assert second < first, "the last one worked on stands first"
    assert "open" in output[second:first]
    assert "bake" in output[first:]
    assert "repaired" in output[first:]
    assert "voicetech report" in output


def test_a_job_name_is_whole_on_a_narrow_terminal(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    with open_journal(journal_path(home)) as journal:
        journal.append("20261125-0941-k7", 0, [opened("20261125-0941-k7"), complaint(1, "oven bakes cold " * 4)])
    assert "20261125-0941-k7" in _jobs().stdout


def test_a_complaint_is_shown_as_words_and_never_as_commands_to_the_terminal(home: Path) -> None:
    said = "[bold]cold[/bold] \x1b[31mred \x07 \u202egnorw"
    with open_journal(journal_path(home)) as journal:
        journal.append("a", 0, [opened("a"), complaint(1, said)])
    output = _jobs().stdout
    assert "[bold]cold[/bold]" in output
    assert not set("\x1b\x07\u202e") & set(output)
    assert json.loads(_jobs("--json").stdout)["complaint"] == said


def test_a_broken_record_is_told_without_a_traceback(home: Path) -> None:
    journal_path(home).write_bytes(b"not a record " * 200)
    result = _jobs()
    assert result.exit_code == 1
    assert "move that file aside" in result.stderr
    assert "Traceback" not in result.output


def test_a_record_another_program_holds_can_still_be_listed(home: Path) -> None:
    _two_jobs(home)
    other = sqlite3.connect(journal_path(home), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert _jobs("--json").exit_code == 0
    other.execute("ROLLBACK")
    other.close()
