"""`voicetech replay`: one job, all of them, or a folder of records, gone through again."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.replay.jobs import session_lines, spoken_job, typed_job
from voicetech.cli import app
from voicetech.events import Replied
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal


@pytest.fixture
def home(job_home: Path) -> Path:
    return job_home


def worked(home: Path, *jobs: str) -> None:
    with open_journal(journal_path(home)) as journal:
        for job in jobs:
            typed_job(journal, job, session_lines("lost-leg-handed-over")[:12])


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["replay", *arguments])


def test_a_job_that_comes_out_the_same(home: Path) -> None:
    worked(home, "one", "two")
    done = run("last")
    assert done.exit_code == 0, done.output
    assert "two: " in done.stdout
    assert "whole, and decided the same throughout" in done.stdout
    assert "1 job, " in done.stdout


def test_all_jobs_and_those_of_a_folder(home: Path, tmp_path: Path) -> None:
    worked(home, "one", "two")
    archive = tmp_path / "archive"
    for laptop in ("first", "second"):
        shutil.copytree(home, archive / laptop)
    all_of_mine = [json.loads(line) for line in run("all", "--json").stdout.splitlines()]
    assert [each.get("job") for each in all_of_mine[:-1]] == ["one", "two"]
    assert all_of_mine[-1]["exact"] == 2
    sums = json.loads(run(str(archive), "--json").stdout.splitlines()[-1])
    assert (sums["jobs"], sums["exact"]) == (4, 4)


def test_a_difference_is_shown_and_ends_with_status_1(home: Path) -> None:
    worked(home, "one")
    with open_journal(journal_path(home)) as journal:
        journal.append("one", len(journal.events("one")), [Replied("Not what would be said.", ("x",))])
    done = run("one")
    assert done.exit_code == 1
    assert "otherwise at event" in done.stdout


def test_hearing_again_tells_what_changed_and_what_was_right(home: Path) -> None:
    spoken_job(home, "one", 3)
    done = run("last", "--rehear")
    assert done.exit_code == 0, done.output
    assert "heard again: 3 (3 the same)" in done.stdout
    assert "right then, right now" in done.stdout


def test_nothing_is_written(home: Path) -> None:
    worked(home, "one")
    before = {path.name: path.read_bytes() for path in home.iterdir()}
    run("all")
    assert {path.name: path.read_bytes() for path in home.iterdir()} == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nobody"], "There is no job nobody"),
        (["."], "holds no record of jobs"),
        (["last", "--rehear", "--ear", "trumpet"], "no ear called 'trumpet'"),
        (["last", "--cluster", "nowhere"], "no cluster at nowhere"),
    ],
)
def test_what_cannot_be_done_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], says: str
) -> None:
    worked(home, "one")
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    done = run(*arguments)
    assert done.exit_code == 1
    assert says in done.stderr
    assert done.exception is None or isinstance(done.exception, SystemExit)


def test_no_job_at_all_says_how_to_start(home: Path) -> None:
    assert "No jobs yet" in run("all").stderr
