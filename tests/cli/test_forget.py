"""`voicetech forget` where copies of the record lie beside it: what is left is told, and what to do about it."""

import io
import json
import os
import shutil
import sqlite3
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner, Result

from tests.replay.jobs import spoken_job, typed_job
from voicetech.cli import app
from voicetech.cli.forget import forget
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

JOB, OTHER = "20261126-0941-k7", "20261126-1012-h3"


@pytest.fixture
def home(job_home: Path) -> Path:
    return job_home


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, arguments)


def worked(home: Path, *jobs: str) -> None:
    with open_journal(journal_path(home)) as journal:
        for job in jobs:
            typed_job(journal, job, ["no", "bake", "note: seen to on a rainy day"])


def damage(home: Path) -> None:
    content = bytearray(journal_path(home).read_bytes())
    content[:4096] = os.urandom(4096)
    journal_path(home).write_bytes(content)


def lose(home: Path, job: str) -> None:
    """Take a job out of the record behind its back, and the first page with it."""
    connection = sqlite3.connect(journal_path(home))
    connection.execute("DROP TRIGGER event_is_kept")
    connection.execute("PRAGMA secure_delete = ON")
    connection.execute("DELETE FROM event WHERE job = ?", (job,))
    connection.commit()
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    damage(home)


def copies(home: Path) -> list[Path]:
    return sorted([*home.glob("jobs.db.*"), *home.glob("archive.db.*")])


def test_a_copy_of_a_damaged_record_is_told_each_time_until_it_is_gone(home: Path) -> None:
    worked(home, JOB, OTHER)
    damage(home)
    assert run("upkeep", "--mend").exit_code == 0
    (copy,) = copies(home)
    for begins in (f"Job {JOB} is deleted", f"Job {JOB} was deleted before"):
        done = run("forget", JOB, "--yes")
        assert done.exit_code == 1
        assert done.stdout.startswith(begins)
        assert "nothing is left" not in done.stdout
        assert f"Of job {JOB} something is left in {copy}; a copy kept aside" in done.stderr
        assert f"voicetech forget {JOB} --copies" in done.stderr
        assert "All that voicetech can read there of other jobs is in the record too." in done.stderr
    assert copies(home) == [copy]
    copy.unlink()
    done = run("forget", JOB, "--yes")
    assert done.exit_code == 0
    assert f"nothing is left of job {JOB}" in done.stdout


@pytest.mark.parametrize("first", [True, False])
def test_copies_that_hold_it_are_deleted_whole_on_request(home: Path, first: bool) -> None:
    worked(home, JOB, OTHER)
    damage(home)
    assert run("upkeep", "--mend").exit_code == 0
    (copy,) = copies(home)
    copy.with_name(f"{copy.name}-wal").write_bytes(b"its log")
    assert run("jobs").exit_code == 0
    shutil.copy(home / "archive.db", home / "archive.db.before-20261126-094100")
    (home / "jobs.db.damaged-20261126-094100").write_bytes(b"of other jobs only")
    if not first:
        assert run("forget", JOB, "--yes").exit_code == 1
    done = run("forget", JOB, "--yes", "--copies")
    assert done.exit_code == 0, done.output
    assert f"Deleted whole: {copy.name}, {copy.name}-wal, archive.db.before-20261126-094100." in done.stdout
    assert f"nothing is left of job {JOB}" in done.stdout
    assert [path.name for path in copies(home)] == ["jobs.db.damaged-20261126-094100"]
    assert not any(JOB.encode() in path.read_bytes() for path in home.glob("archive.db*"))
    assert [json.loads(line)["job"] for line in run("jobs", "--json").stdout.splitlines()] == [OTHER]


def test_copies_that_do_not_hold_it_stay(home: Path) -> None:
    worked(home, OTHER)
    damage(home)
    assert run("upkeep", "--mend").exit_code == 0
    worked(home, JOB)
    done = run("forget", JOB, "--yes", "--copies")
    assert done.exit_code == 0, done.output
    assert "Deleted whole" not in done.stdout
    assert len(copies(home)) == 1


def test_what_copies_tell_of_other_jobs_that_the_record_lost_is_named(home: Path) -> None:
    worked(home, JOB, OTHER)
    assert run("jobs").exit_code == 0
    shutil.copy(journal_path(home), home / "jobs.db.damaged-20261125-094100")
    lose(home, OTHER)
    assert f"These jobs are gone: {OTHER}" in run("upkeep", "--mend").stdout
    assert len(copies(home)) == 3
    done = run("forget", JOB, "--yes")
    assert done.stderr.count("something is left in") == 3
    assert f"Of 1 other job more stands there than in the record: {OTHER}." in done.stderr


def test_what_is_left_of_a_job_that_the_record_lost_is_deleted(home: Path) -> None:
    worked(home, JOB, OTHER)
    assert run("report", JOB).exit_code == 0
    assert run("jobs").exit_code == 0
    lose(home, JOB)
    assert run("upkeep", "--mend").exit_code == 1
    done = run("forget", JOB, "--yes")
    assert done.exit_code == 1
    assert f"Job {JOB} is not in the record; it is noted there as deleted. Deleted of it: 1 report." in done.stdout
    assert "archive.db.before-" in done.stderr
    assert not list((home / "reports").iterdir())
    assert run("forget", JOB, "--yes", "--copies").exit_code == 0
    assert not any(JOB.encode() in path.read_bytes() for path in home.glob("archive.db*"))
    assert run("upkeep").exit_code == 0
    assert "There is no job 20261126-0941-k8" in run("forget", "20261126-0941-k8", "--yes").stderr


def test_an_older_record_that_was_moved_aside_is_told_with_what_to_do(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken_job(home, JOB, 2)
    assert run("report", JOB).exit_code == 0
    backup = journal_path(home).read_bytes()
    damage(home)
    assert run("upkeep", "--begin-anew").exit_code == 0
    (aside,) = home.glob("lost-record-*")
    journal_path(home).write_bytes(backup)
    for _ in range(2):
        done = run("forget", JOB, "--yes", "--copies")
        assert done.exit_code == 1
        for left in (aside / "jobs.db", *(aside / "sounds").iterdir(), *(aside / "reports").iterdir()):
            assert f"something is left in {left}; it belongs to a record that was moved aside" in done.stderr
        assert f"Set VOICETECH_HOME to {aside} and run there too: voicetech forget {JOB}" in done.stderr
    monkeypatch.setenv("VOICETECH_HOME", str(aside))
    assert run("upkeep", "--mend").exit_code == 0
    assert run("forget", JOB, "--yes", "--copies").exit_code == 0
    monkeypatch.setenv("VOICETECH_HOME", str(home))
    assert run("forget", JOB, "--yes").exit_code == 0


def test_where_no_record_is_begun_yet_the_older_one_is_named(home: Path) -> None:
    worked(home, JOB)
    damage(home)
    assert run("upkeep", "--begin-anew").exit_code == 0
    done = run("forget", JOB, "--yes")
    assert done.exit_code == 1
    assert f"older records were moved to {next(home.glob('lost-record-*'))}. Set VOICETECH_HOME" in done.stderr


def test_files_of_a_lost_record_without_one_are_told(home: Path) -> None:
    worked(home, JOB)
    aside = home / "lost-record-20261126-094100"
    (aside / "reports").mkdir(parents=True)
    (aside / "reports" / f"{JOB}.html").write_bytes(b"kept")
    done = run("forget", JOB, "--yes")
    assert done.exit_code == 1
    assert f"There is no record in {aside}: delete these files there once you need them no more." in done.stderr


def test_a_copy_that_somebody_made_is_told_and_never_deleted(home: Path) -> None:
    worked(home, JOB, OTHER)
    copy = Path(shutil.copy(journal_path(home), home / "jobs.db.of-monday"))
    done = run("forget", JOB, "--yes", "--copies")
    assert done.exit_code == 1
    assert f"{copy}; a copy that voicetech did not make: delete it once you need it no more" in done.stderr
    assert "Delete that copy whole" not in done.stderr
    assert copy.exists()


class Terminal(io.StringIO):
    """Somebody at a terminal who types this."""

    def isatty(self) -> bool:
        return True


def test_before_copies_are_deleted_they_are_named_and_asked_about(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    worked(home, JOB, OTHER)
    damage(home)
    assert run("upkeep", "--mend").exit_code == 0
    (copy,) = copies(home)
    monkeypatch.setattr("sys.stdin", Terminal("n\n"))
    with pytest.raises(typer.Exit):
        forget([JOB], copies=True)
    told = capsys.readouterr()
    assert f"Copies that are deleted whole: {copy.name}." in told.out
    assert "of other jobs is in the record too" in told.out
    assert "and these copies?" in told.out
    assert "Nothing was deleted" in told.err
    assert copy.exists()
    monkeypatch.setattr("sys.stdin", Terminal("y\n"))
    forget([JOB], copies=True)
    assert not copy.exists()
