"""`voicetech upkeep` and `voicetech forget`: the state of the record, damage mended, jobs deleted."""

import json
import os
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.replay.jobs import spoken_job, typed_job
from voicetech.cli import app
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal


@pytest.fixture
def home(job_home: Path) -> Path:
    return job_home


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, arguments)


def worked(home: Path, *jobs: str) -> None:
    with open_journal(journal_path(home)) as journal:
        for job in jobs:
            typed_job(journal, job, ["no", "bake", "note: seen to on a rainy day"])


def test_a_record_in_order_says_so(home: Path) -> None:
    worked(home, "one", "two")
    done = run("upkeep")
    assert done.exit_code == 0, done.output
    assert "2 jobs" in done.stdout
    assert "every event is whole" in done.stdout
    assert json.loads(run("upkeep", "--json").stdout)["whole"] is True
    assert "nothing to mend" in run("upkeep", "--mend").stdout


def test_a_damaged_record_is_mended_and_the_job_goes_on(home: Path) -> None:
    worked(home, "one", "two")
    path = journal_path(home)
    content = bytearray(path.read_bytes())
    content[:4096] = os.urandom(4096)
    path.write_bytes(content)
    for command in (("upkeep",), ("jobs",), ("report", "last")):
        broken = run(*command)
        assert broken.exit_code == 1
        assert "voicetech upkeep --mend" in broken.stderr
    done = run("upkeep", "--mend")
    assert done.exit_code == 0, done.output
    assert "events of 2 jobs" in done.stdout
    assert "kept:" in done.stdout
    assert run("replay", "all").exit_code == 0


def test_a_sound_that_is_gone_is_told(home: Path) -> None:
    spoken_job(home, "one", 2)
    next((home / "sounds").iterdir()).unlink()
    done = run("upkeep")
    assert done.exit_code == 1
    assert "1 whole, 1 not" in done.stdout


@pytest.mark.parametrize("command", ["upkeep", "jobs", "report last"])
def test_a_record_that_is_gone_is_told_as_lost(home: Path, command: str) -> None:
    spoken_job(home, "one", 1)
    journal_path(home).unlink()
    done = run(*command.split())
    assert done.exit_code == 1
    assert "it was lost or moved" in done.stderr


def test_an_empty_record_beside_sounds_is_told_as_lost(home: Path) -> None:
    spoken_job(home, "one", 1)
    journal_path(home).write_bytes(b"")
    done = run("upkeep")
    assert done.exit_code == 1
    assert "the record is empty and there are sounds" in done.stdout


def test_a_job_is_deleted_with_all_that_belongs_to_it(home: Path) -> None:
    spoken_job(home, "one", 2)
    worked(home, "two")
    assert run("report", "one").exit_code == 0
    assert (home / "reports" / "one.html").exists()
    assert "Say that you mean it with --yes" in run("forget", "one").stderr
    done = run("forget", "one", "--yes")
    assert done.exit_code == 0, done.output
    assert "2 sounds" in done.stdout
    assert "1 reports" in done.stdout
    assert "nothing is left of it" in done.stdout
    assert list((home / "sounds").iterdir()) == list((home / "reports").iterdir()) == []
    assert [json.loads(line)["job"] for line in run("jobs", "--json").stdout.splitlines()] == ["two"]
    assert run("forget", "one", "--yes").exit_code == 0
    assert "There is no job nobody" in run("forget", "nobody", "--yes").stderr
    assert "1 jobs deleted" in run("upkeep").stdout


@pytest.mark.parametrize("command", ["upkeep", "forget last"])
def test_no_record_says_how_to_start(home: Path, command: str) -> None:
    assert "No jobs yet" in run(*command.split()).stderr


def test_a_deleted_job_is_gone_from_the_list_and_its_words_with_it(home: Path) -> None:
    worked(home, "one", "two")
    assert '"one"' in run("jobs", "--about", "rainy", "--json").stdout
    assert run("forget", "one", "--yes").exit_code == 0
    assert '"one"' not in run("jobs", "--about", "rainy", "--json").stdout
    assert run("forget", "two", "--yes").exit_code == 0
    assert not any(b"rainy" in file.read_bytes() for file in home.glob("*.db*"))
