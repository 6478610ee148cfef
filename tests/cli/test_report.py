"""`voicetech report` for a job, the last job, and jobs that are not there."""

import csv
import json
import sqlite3
from importlib import import_module
from pathlib import Path

import pytest
import typer
from jsonschema import Draft202012Validator
from typer.testing import CliRunner, Result

from tests.reports.examples import PROCEDURE, START_S, answer, whole_job
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

    monkeypatch.setattr(import_module("voicetech.cli.joining"), "procedure_named", named)
    assert "The bake element is open" in Path(_report(JOB).stdout.strip()).read_text(encoding="utf-8")
    _report(JOB, "--procedure", "mine.yaml")
    assert asked[-1] == "mine.yaml"


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


def test_a_job_whose_first_events_are_lost_keeps_its_name(home: Path, tmp_path: Path) -> None:
    connection = sqlite3.connect(journal_path(home))
    connection.execute("DROP TRIGGER event_is_kept")
    connection.execute("DELETE FROM event WHERE seq < 4")
    connection.commit()
    connection.close()
    wanted = {option: tmp_path / f"r.{option}" for option in ("out", "csv", "json")}
    done = _report(JOB, *(word for option, path in wanted.items() for word in (f"--{option}", str(path))))
    assert done.exit_code == 0
    with wanted["csv"].open(encoding="utf-8-sig", newline="") as table:
        lines = list(csv.DictReader(table))
    assert lines[0]["reason"] == "Events 1 to 3 are missing."
    assert {line["job"] for line in lines} == {JOB}
    assert json.loads(wanted["json"].read_text(encoding="utf-8"))["job"] == JOB
    assert "without a name" not in wanted["out"].read_text(encoding="utf-8")


def test_only_the_files_that_were_asked_for_are_written_and_each_is_named(home: Path, tmp_path: Path) -> None:
    wanted = {option: tmp_path / f"r.{option}" for option in ("pdf", "csv", "json")}
    result = _report(JOB, *(word for option, path in wanted.items() for word in (f"--{option}", str(path))))
    assert result.exit_code == 0
    assert result.stdout.splitlines() == [str(path) for path in wanted.values()]
    assert not (home / "reports").exists()
    assert wanted["pdf"].read_bytes().startswith(b"%PDF-")
    with wanted["csv"].open(encoding="utf-8-sig", newline="") as table:
        assert len(list(csv.DictReader(table))) == 5
    assert json.loads(wanted["json"].read_text(encoding="utf-8"))["job"] == JOB


def test_the_schema_is_printed_without_a_record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICETECH_HOME", str(tmp_path / "none"))
    result = _report("--schema")
    assert result.exit_code == 0
    Draft202012Validator.check_schema(json.loads(result.stdout))


def test_a_job_has_to_be_named(home: Path) -> None:
    result = _report()
    assert (result.exit_code, result.stdout) == (2, "")
    assert "voicetech report last" in result.stderr


def test_two_options_cannot_name_one_file(home: Path, tmp_path: Path) -> None:
    result = _report(JOB, "--pdf", str(tmp_path / "a"), "--csv", str(tmp_path / "a"))
    assert result.exit_code == 2
    assert "--pdf and --csv name the same file" in result.stderr
    assert not (tmp_path / "a").exists()


@pytest.mark.parametrize("option", ["--pdf", "--csv", "--json"])
def test_a_place_that_cannot_be_written_is_told_with_its_option(home: Path, tmp_path: Path, option: str) -> None:
    result = _report(JOB, option, str(tmp_path / "no" / "deep" / "r"))
    assert result.exit_code == 1
    assert option in result.stderr
    assert result.stdout == ""


def test_the_paper_can_be_chosen_and_no_other_than_there_is(home: Path, tmp_path: Path) -> None:
    page = tmp_path / "r.html"
    _report(JOB, "--out", str(page), "--paper", "a4")
    assert "size: a4;" in page.read_text(encoding="utf-8")
    assert _report(JOB, "--paper", "a3").exit_code == 2


def test_names_can_be_left_out(home: Path, tmp_path: Path) -> None:
    page = tmp_path / "r.html"
    _report(JOB, "--out", str(page), "--without-names")
    text = page.read_text(encoding="utf-8")
    assert "Names and free words were left out" in text
    assert "rag on the other burner" not in text


BOOK = "model,function,part_number,description\n*,bake element,INV-1,invented\n"


@pytest.fixture
def with_model(home: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a job whose model is known, by the small procedure."""
    monkeypatch.setattr(import_module("voicetech.cli.joining"), "procedure_named", lambda _: PROCEDURE)
    job = whole_job()
    with open_journal(journal_path(home)) as journal:
        journal.append("with-model", 0, (*job[:3], answer(1, "model", "z q four", START_S), *job[3:]))
    return home


def test_the_part_book_that_is_named_gives_the_numbers(with_model: Path, tmp_path: Path) -> None:
    (tmp_path / "book.csv").write_text(BOOK, encoding="utf-8")
    page = Path(_report("with-model", "--parts", str(tmp_path / "book.csv")).stdout.strip())
    assert "INV-1" in page.read_text(encoding="utf-8")


def test_the_part_book_of_the_home_folder_needs_no_naming(with_model: Path) -> None:
    (with_model / "parts.csv").write_text(BOOK, encoding="utf-8")
    assert "INV-1" in Path(_report("with-model").stdout.strip()).read_text(encoding="utf-8")


def test_a_part_that_is_in_no_book_says_so(with_model: Path) -> None:
    (with_model / "parts.csv").write_text(BOOK.replace("bake", "broil"), encoding="utf-8")
    assert "not in the part book" in Path(_report("with-model").stdout.strip()).read_text(encoding="utf-8")


def test_everything_wrong_with_a_named_book_is_told_and_nothing_is_written(home: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.csv"
    book.write_text(f"{BOOK},x,,\n", encoding="utf-8")
    result = _report(JOB, "--parts", str(book))
    assert result.exit_code == 1
    *told, parts = result.stderr.splitlines()
    assert [line.split(" ")[0] for line in told] == [f"{book}:3:"] * 3
    assert "no part is called 'x'" in result.stderr
    assert parts.startswith("The parts that reports name: ")
    assert not (home / "reports").exists()


def test_a_home_book_that_cannot_be_used_keeps_no_report_back(home: Path) -> None:
    (home / "parts.csv").write_text("a,b\n", encoding="utf-8")
    result = _report(JOB)
    assert result.exit_code == 0
    assert "parts.csv:1:" in result.stderr
    assert "written without the part book" in result.stderr
    assert Path(result.stdout.strip()).exists()


@pytest.mark.parametrize("option", ["--out", "--csv", "--json", "--pdf"])
def test_the_record_itself_is_never_written_over(home: Path, option: str) -> None:
    before = journal_path(home).read_bytes()
    done = _report(JOB, option, str(journal_path(home)))
    assert done.exit_code == 1
    assert "is not written over" in done.stderr
    assert journal_path(home).read_bytes() == before
