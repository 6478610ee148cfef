"""`voicetech report` for a job, the last job, and jobs that are not there."""

import sqlite3
from importlib import import_module
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.reports.examples import PROCEDURE, whole_job
from voicetech.cli.report import report
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.procedure import Procedure

JOB = "20261125-0941-k7"

app = typer.Typer()
app.command()(report)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    with open_journal(journal_path(folder)) as journal:
        journal.append(JOB, 0, whole_job())
    return folder


def _report(*arguments: str) -> Result:
    return CliRunner().invoke(app, arguments)


def test_a_job_becomes_a_page_and_its_path_is_printed(home: Path) -> None:
    result = _report(JOB)
    assert result.exit_code == 0
    path = Path(result.stdout.strip())
    assert path == home / "reports" / f"{JOB}.html"
    assert JOB in path.read_text(encoding="utf-8")


def test_last_is_the_job_worked_on_last(home: Path) -> None:
    assert _report("last").stdout == _report(JOB).stdout


def test_the_page_goes_where_it_is_told(home: Path, tmp_path: Path) -> None:
    result = _report("last", "--out", str(tmp_path / "mine.html"))
    assert result.stdout.strip() == str(tmp_path / "mine.html")
    assert (tmp_path / "mine.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    assert not (home / "reports").exists()


def test_the_procedure_lends_its_words(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def named(name: str) -> Procedure:
        asked.append(name)
        return PROCEDURE

    monkeypatch.setattr(import_module("voicetech.cli.report"), "procedure_named", named)
    assert "The bake element is open" in Path(_report(JOB).stdout.strip()).read_text(encoding="utf-8")
    _report(JOB, "--procedure", "mine.yaml")
    assert asked == ["range-no-heat", "mine.yaml"]


def test_without_its_procedure_a_job_still_has_a_report_that_says_so(home: Path) -> None:
    page = Path(_report(JOB).stdout.strip()).read_text(encoding="utf-8")
    assert "Bake open" in page
    assert "The procedure was not at hand" in page


@pytest.mark.parametrize("job", ["nobody", "20261125", "../jobs", ""])
def test_an_unknown_job_is_told_with_the_way_to_the_list(home: Path, job: str) -> None:
    result = _report(job)
    assert result.exit_code == 1
    assert "voicetech jobs" in result.stderr
    assert "Traceback" not in result.output
    assert result.stdout == ""


def test_no_record_at_all_says_how_to_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICETECH_HOME", str(tmp_path))
    for job in ("last", JOB):
        result = _report(job)
        assert (result.exit_code, "voicetech chat" in result.stderr) == (1, True)
    open_journal(journal_path(tmp_path)).close()
    result = _report("last")
    assert (result.exit_code, "voicetech chat" in result.stderr) == (1, True)


@pytest.mark.parametrize("out", ["", "missing/deep/r.html", "home/jobs.db/r.html"])
def test_a_place_that_cannot_be_written_is_told(home: Path, tmp_path: Path, out: str) -> None:
    result = _report(JOB, "--out", str(tmp_path / out))
    assert result.exit_code == 1
    assert result.stderr.strip()
    assert "Traceback" not in result.output


def test_an_event_that_cannot_be_read_is_named_on_the_page(home: Path) -> None:
    connection = sqlite3.connect(journal_path(home))
    number = len(whole_job()) + 1
    connection.execute("INSERT INTO event (job, seq, kind, body) VALUES (?, ?, 'reading-taken/9', '{}')", (JOB, number))
    connection.commit()
    connection.close()
    result = _report(JOB)
    assert result.exit_code == 0
    page = Path(result.stdout.strip()).read_text(encoding="utf-8")
    assert "part of the record cannot be read" in page
    assert f"Event {number} (reading-taken/9)" in page
