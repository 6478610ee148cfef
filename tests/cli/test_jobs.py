"""`voicetech jobs` on an empty, a used and a broken record."""

import json
import sqlite3
import sys
from datetime import datetime
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.archive.invented import rehearsed_job
from tests.journal.examples import closed, complaint, note, opened
from tests.replay.jobs import typed_job
from voicetech.cli.jobs import jobs
from voicetech.journal.errors import JournalError
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
    assert "upkeep --begin-anew" in result.stderr.partition("upkeep --mend")[2]
    assert "Traceback" not in result.output


def test_a_record_another_program_holds_can_still_be_listed(home: Path) -> None:
    _two_jobs(home)
    other = sqlite3.connect(journal_path(home), isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert _jobs("--json").exit_code == 0
    other.execute("ROLLBACK")
    other.close()


def _rehearsed(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        rehearsed_job(journal, "bake", "bake-open", at_s=1_700_000_000.0)
        rehearsed_job(journal, "leg", "leg-1-lost", at_s=1_700_200_000.0)
        at_s = 1_600_000_000.0
        said = complaint(1, "broil", at_s + 10), note('Prüfung: "AND"', at_s + 20)
        journal.append("plain", 0, (opened("plain", at_s), *said))


def _names(*arguments: str) -> list[str]:
    result = _jobs("--json", *arguments)
    assert result.exit_code == 0, result.output
    return [json.loads(line)["job"] for line in result.stdout.splitlines()]


def test_jobs_are_picked_by_what_is_known_of_them(home: Path) -> None:
    _rehearsed(home)
    assert _names() == ["leg", "bake", "plain"]
    assert _names("--fault", "bake-open") == ["bake"]
    assert _names("--part", "bake element") == ["bake"]
    assert _names("--complaint", "broil") == ["plain"]
    assert _names("--outcome", "open") == ["leg", "plain"], "one was handed over and not closed"
    assert _names("--outcome", "repaired") == ["bake"]
    assert _names("--appliance", "range") == ["leg", "bake"]
    assert _names("--since", "2023-11-16") == ["leg"]
    assert _names("--until", "2020-09-13") == ["plain"]
    assert _names("--since", "2023-11-14", "--until", "2023-11-15") == ["bake"]


@pytest.mark.parametrize("words", ["prüfung", "PRUFUNG and", '"Prüfung', 'prufung: "AND"', "(prü*"])
def test_words_are_looked_for_whatever_signs_are_in_them(home: Path, words: str) -> None:
    _rehearsed(home)
    assert _names("--about", words) == ["plain"]


def test_where_words_were_found_is_shown(home: Path) -> None:
    _rehearsed(home)
    output = _jobs("--about", "prufung").stdout
    assert "plain" in output
    assert 'technician (event 3): Prüfung: "AND"' in output
    found = json.loads(_jobs("--about", "prufung", "--json").stdout)["found"]
    assert (found["who"], found["event"], found["text"]) == ("technician", 3, 'Prüfung: "AND"')
    assert _names("--about", "prufung", "--by", "program") == []


def test_words_that_were_said_are_no_commands_to_the_terminal(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        journal.append("a", 0, [opened("a"), note("[bold]red\x1b[31m \u202eterminal")])
    output = _jobs("--about", "terminal").stdout
    assert "[bold]red" in output
    assert not set("\x1b\u202e") & set(output)


def test_json_has_every_field(home: Path) -> None:
    _rehearsed(home)
    job = json.loads(_jobs("--fault", "bake-open", "--json").stdout)
    assert list(job) == [
        "job", "procedure", "opened", "last", "complaint", "outcome", "events", "unreadable", "appliance", "model",
        "serial", "complaint_says", "faults", "parts", "worked_s", "tests", "proofs_of_dead", "record", "laptop",
        "found",
    ]  # fmt: skip
    assert job["appliance"] == "electric range"
    assert {"fault": "bake-open", "says": "the bake element is open", "state": "proved"} in job["faults"]
    assert job["parts"] == ["bake element"]
    assert len(job["record"]) == 32


def test_so_many_are_shown_and_the_others_counted(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        for number in range(60):
            journal.append(f"job-{number:02}", 0, [opened(f"job-{number:02}", 1_700_000_000.0 + number)])
    output = _jobs().stdout
    assert "job-59" in output
    assert "job-09" not in output
    assert "10 more" in output
    assert "10 more" not in _jobs("--limit", "0").stdout
    assert len(_jobs("--json").stdout.splitlines()) == 60
    limited = _jobs("--json", "--limit", "2")
    assert [json.loads(line)["job"] for line in limited.stdout.splitlines()] == ["job-59", "job-58"]
    assert "58 more" in limited.stderr


def test_nothing_that_fits_says_what_to_do(home: Path) -> None:
    _two_jobs(home)
    result = _jobs("--about", "zebra")
    assert result.exit_code == 0
    assert "No job fits" in result.stdout
    nothing = _jobs("--about", "zebra", "--json")
    assert nothing.stdout == ""
    assert "No job fits" in nothing.stderr


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--about", '"*'), "no word to look for"),
        (("--fault", "grill"), "There are: bake-open"),
        (("--outcome", "mended"), "There are: "),
        (("--by", "nobody", "--about", "x"), "technician, program, reviewer, record"),
        (("--by", "technician"), "--about"),
        (("--model", "--"), "no letter or digit"),
        (("--laptop", "van"), "--shared"),
        (("--shared",), "VOICETECH_ARCHIVE"),
        (("--archive", "shop"), "not the address"),
    ],
)
def test_what_cannot_be_looked_for_is_told_with_what_to_do(
    home: Path, arguments: tuple[str, ...], told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VOICETECH_ARCHIVE", raising=False)
    _rehearsed(home)
    result = _jobs(*arguments)
    assert result.exit_code == 1
    assert told in result.stderr
    assert "Traceback" not in result.output


def test_a_job_that_cannot_be_read_says_so(home: Path) -> None:
    _two_jobs(home)
    raw = sqlite3.connect(journal_path(home))
    raw.execute("INSERT INTO event (nr, job, seq, kind, body) VALUES (90, 'second', 2, 'newer/1', '{}')")
    raw.commit()
    raw.close()
    assert "1 not readable" in _jobs().stdout
    assert json.loads(_jobs("--json", "--limit", "1").stdout)["unreadable"] == 1


def test_an_archive_that_is_no_archive_is_put_aside_with_a_word(home: Path) -> None:
    _two_jobs(home)
    (home / "archive.db").write_bytes(b"somebody's notes" * 100)
    result = _jobs()
    assert "second" in result.stdout
    assert "archive.db.aside" in result.stderr


def test_a_record_that_may_only_be_read_is_listed(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _two_jobs(home)
    before = sorted(path.name for path in home.iterdir())

    def refuse(*_: object, **__: object) -> None:
        raise JournalError("It cannot be written.")

    monkeypatch.setattr("voicetech.journal.store.open_journal", refuse)
    monkeypatch.setattr("os.access", lambda *_: False)
    (home / "archive.db").mkdir()
    result = _jobs()
    assert result.exit_code == 0, result.output
    assert "second" in result.stdout
    assert sorted(path.name for path in home.iterdir()) == sorted([*before, "archive.db"])


def test_figures_as_tables(home: Path) -> None:
    _rehearsed(home)
    output = _jobs("--figures").stdout
    assert "3 jobs, 2020-09-13 to 2023-11-17" in output
    for told in ("How jobs ended", "whole job", "bake-open", "Prompts", "Tests a job", "Proofs of dead", "tell little"):
        assert told in output, told
    assert "No job fits" in _jobs("--figures", "--about", "zebra").stdout


def test_figures_as_json(home: Path) -> None:
    _rehearsed(home)
    figures = json.loads(_jobs("--figures", "--json").stdout)
    assert figures["jobs"] == 3
    assert {outcome["outcome"]: outcome["count"] for outcome in figures["outcomes"]}["open"] >= 1
    first = figures["first_answers"]
    assert 0 <= first["low"] <= first["rate"] <= first["high"] <= 1
    assert {"procedure", "section", "step", "asked", "first", "again", "misheard"} <= set(figures["prompts"][0])
    assert json.loads(_jobs("--figures", "--json", "--fault", "bake-open").stdout)["jobs"] == 1
    assert json.loads(_jobs("--figures", "--json", "--about", "zebra").stdout)["jobs"] == 0


def test_plots_are_one_page_with_the_same_figures_as_tables(home: Path) -> None:
    _rehearsed(home)
    with open_journal(journal_path(home)) as journal:
        typed_job(journal, "asked twice", ["no", "purple monkey", "it won't bake"])
    page = home / "figures.html"
    result = _jobs("--plots", str(page))
    assert result.exit_code == 0, result.output
    assert result.stdout.strip() == str(page)
    written = page.read_text(encoding="utf-8")
    assert written.count("<svg") == written.count("<table") == 6
    assert "bake-open" in written
    for outside in ("src=", "<script", "@import", "url(http"):
        assert outside not in written
    again = home / "again.html"
    _jobs("--plots", str(again))
    assert again.read_text(encoding="utf-8") == written
    assert _jobs("--plots", str(home)).exit_code == 1


def test_plots_without_matplotlib_say_what_to_install(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _rehearsed(home)
    for name in [name for name in sys.modules if name.partition(".")[0] == "matplotlib"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    result = _jobs("--plots", str(home / "figures.html"))
    assert result.exit_code == 1
    assert "pip install 'voicetech[plots]'" in result.stderr
