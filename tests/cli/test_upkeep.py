"""`voicetech upkeep` and `voicetech forget`: the state of the record, damage mended, jobs deleted."""

import json
import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.replay.jobs import spoken_job, typed_job
from voicetech.archive.remains import left_in_archive, traces_of
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


WRITERS = ("chat --plain", "demo --text --silent", "talk --silent", "serve --no-browser")
READERS = ("upkeep", "upkeep --mend", "jobs", "report last", "replay last", "forget last --yes")


DAMAGED = "jobs.db.damaged-20261126-094100"
OLD_LIST = "archive.db.before-20261126-094100"


@pytest.mark.parametrize("left", ["sounds", "reports", "archive.db", DAMAGED, OLD_LIST])
@pytest.mark.parametrize("empty", [True, False])
@pytest.mark.parametrize("command", [*WRITERS, *READERS])
def test_a_lost_record_is_told_and_none_is_begun_in_its_place(home: Path, command: str, empty: bool, left: str) -> None:
    worked(home, "one")
    assert run("jobs").exit_code == 0
    for folder in ("sounds", "reports"):
        (home / folder).mkdir()
        (home / folder / "of a job").write_bytes(b"kept")
    for name in (DAMAGED, OLD_LIST):
        shutil.copy(home / f"{name.partition('.')[0]}.db", home / name)
    for name in {"sounds", "reports", "archive.db", DAMAGED, OLD_LIST} - {left}:
        (home / name).rename(home.parent / name)
    journal_path(home).unlink()
    if empty:
        journal_path(home).write_bytes(b"")
    before = {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    done = run(*command.split())
    assert done.exit_code == 1
    assert "lost" in done.stderr
    assert left in done.stderr
    assert "from a backup" in done.stderr
    assert "voicetech upkeep --begin-anew" in done.stderr
    assert {path: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before


def test_a_record_without_a_job_beside_sounds_is_lost_too(home: Path) -> None:
    open_journal(journal_path(home)).close()
    (home / "sounds").mkdir()
    assert run("jobs").exit_code == 0
    (home / "sounds" / "of a job").write_bytes(b"kept")
    assert "is empty" in run("jobs").stderr
    assert run("chat", "--plain").exit_code == 1


def test_a_record_whose_jobs_were_all_deleted_is_not_lost(home: Path) -> None:
    worked(home, "one")
    (home / "reports").mkdir()
    (home / "reports" / "mine.html").write_bytes(b"")
    assert run("forget", "one", "--yes").exit_code == 0
    assert run("chat", "--plain").exit_code == 0


def test_a_new_record_is_begun_deliberately_and_nothing_is_deleted(home: Path) -> None:
    worked(home, "one")
    assert run("jobs").exit_code == 0
    (home / "sounds").mkdir()
    (home / "sounds" / "of a job").write_bytes(b"kept")
    assert "No record is lost" in run("upkeep", "--begin-anew").stderr
    archive = (home / "archive.db").read_bytes()
    journal_path(home).unlink()
    done = run("upkeep", "--begin-anew")
    assert done.exit_code == 0, done.output
    (aside,) = home.iterdir()
    assert (aside / "sounds" / "of a job").read_bytes() == b"kept"
    assert (aside / "archive.db").read_bytes() == archive
    assert run("chat", "--plain").exit_code == 0
    assert run("jobs").exit_code == 0


def test_a_damaged_copy_that_alone_is_left_may_be_mended(home: Path) -> None:
    worked(home, "one")
    journal_path(home).rename(home / "jobs.db.damaged-20261125-094100")
    worked(home, "one", "two")
    content = bytearray(journal_path(home).read_bytes())
    content[:4096] = os.urandom(4096)
    (home / DAMAGED).write_bytes(content)
    journal_path(home).unlink()
    told = run("chat", "--plain").stderr
    assert f"Or copy {DAMAGED} to jobs.db and save what it holds with: voicetech upkeep --mend" in told
    shutil.copy(home / DAMAGED, journal_path(home))
    assert "events of 2 jobs" in run("upkeep", "--mend").stdout
    assert run("chat", "--plain").exit_code == 0


def test_the_log_of_a_damaged_copy_tells_of_a_lost_record_too(home: Path) -> None:
    (home / f"{DAMAGED}-wal").write_bytes(b"kept")
    (home / DAMAGED.replace("26-", "27-")).write_bytes(b"")
    assert f"though {DAMAGED}-wal of earlier jobs is there" in run("jobs").stderr
    assert run("upkeep", "--begin-anew").exit_code == 0
    assert "No jobs yet" in run("jobs").stdout


def unreadable(home: Path) -> bytes:
    """Overwrite the first page of the record; the rest can still be mended."""
    content = bytearray(journal_path(home).read_bytes())
    content[:4096] = os.urandom(4096)
    journal_path(home).write_bytes(content)
    return bytes(content)


def test_an_unreadable_record_is_moved_aside_deliberately_and_nothing_is_deleted(home: Path) -> None:
    worked(home, "one")
    assert run("report", "one").exit_code == 0
    assert run("jobs").exit_code == 0
    (home / "sounds").mkdir()
    (home / "sounds" / "of a job").write_bytes(b"kept")
    (home / "parts.csv").write_text("the shop's own", encoding="utf-8")
    for name in (DAMAGED, f"{DAMAGED}-wal", OLD_LIST):
        (home / name).write_bytes(name.encode())
    content = unreadable(home)
    before = {path.name: path.read_bytes() for path in home.rglob("*") if path.is_file()}
    told = run("chat", "--plain").stderr
    assert "voicetech upkeep --begin-anew" in told.partition("voicetech upkeep --mend")[2]
    done = run("upkeep", "--begin-anew")
    assert done.exit_code == 0, done.output
    assert sorted(path.name.partition("-")[0] for path in home.iterdir()) == ["lost", "parts.csv"]
    (aside,) = home.glob("lost-record-*")
    assert {path.name: path.read_bytes() for path in home.rglob("*") if path.is_file()} == before
    assert (aside / "jobs.db").read_bytes() == content
    assert "No jobs yet" in run("jobs").stdout
    assert run("chat", "--plain").exit_code == 0
    assert list(counts()) != ["one"]


def test_what_was_moved_aside_unreadable_may_still_be_mended_there(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    worked(home, "one")
    unreadable(home)
    told = json.loads(run("upkeep", "--begin-anew", "--json").stdout)
    assert (told["moved"], told["unreadable"]) == (["jobs.db"], True)
    monkeypatch.setenv("VOICETECH_HOME", told["aside"])
    assert "events of 1 job" in run("upkeep", "--mend").stdout


def test_damage_beyond_the_first_page_counts_as_unreadable(home: Path) -> None:
    worked(home, "one", "two")
    content = journal_path(home).read_bytes()
    journal_path(home).write_bytes(content[: len(content) // 2 // 4096 * 4096])
    assert run("upkeep", "--begin-anew").exit_code == 0
    assert run("chat", "--plain").exit_code == 0


def test_where_no_event_can_be_read_the_way_out_is_named_and_works(home: Path) -> None:
    journal_path(home).write_bytes(b"these are not pages " * 900)
    told = run("upkeep", "--mend")
    assert told.exit_code == 1
    assert "voicetech upkeep --begin-anew" in told.stderr
    assert run("upkeep", "--begin-anew").exit_code == 0
    assert run("chat", "--plain").exit_code == 0


def test_another_programs_file_is_not_moved_aside(home: Path) -> None:
    with sqlite3.connect(journal_path(home)) as connection:
        connection.execute("CREATE TABLE note (text TEXT)")
    connection.close()
    done = run("upkeep", "--begin-anew")
    assert done.exit_code == 1
    assert "belongs to another program" in done.stderr
    assert [path.name for path in home.iterdir()] == ["jobs.db"]


def test_a_record_in_order_is_not_moved_aside(home: Path) -> None:
    worked(home, "one")
    (home / DAMAGED).write_bytes(b"kept")
    before = sorted(home.iterdir())
    assert "No record is lost" in run("upkeep", "--begin-anew").stderr
    assert sorted(home.iterdir()) == before


def test_events_in_the_log_of_a_record_that_is_gone_are_saved(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        typed_job(journal, "one", ["no", "bake"])
        log = journal_path(home).with_name("jobs.db-wal").read_bytes()
    journal_path(home).unlink()
    journal_path(home).with_name("jobs.db-wal").write_bytes(log)
    told = run("chat", "--plain")
    assert "upkeep --mend" in told.stderr
    assert journal_path(home).with_name("jobs.db-wal").read_bytes() == log
    done = run("upkeep", "--mend")
    assert done.exit_code == 0, done.output
    with open_journal(journal_path(home)) as journal:
        assert len(journal.events("one")) > 4


def ruined(home: Path, job: str, kept: int) -> None:
    """Take all events of a job beyond its first few out of the record, and the first page with them."""
    connection = sqlite3.connect(journal_path(home))
    connection.execute("DROP TRIGGER event_is_kept")
    connection.execute("PRAGMA secure_delete = ON")
    connection.execute("DELETE FROM event WHERE job = ? AND seq > ?", (job, kept))
    connection.commit()
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    content = bytearray(journal_path(home).read_bytes())
    content[:4096] = os.urandom(4096)
    journal_path(home).write_bytes(content)


def counts() -> dict[str, int]:
    return {told["job"]: told["events"] for told in map(json.loads, run("jobs", "--json").stdout.splitlines())}


def test_what_the_damage_took_is_named_and_the_list_is_made_anew(home: Path) -> None:
    worked(home, "gone", "cut", "whole")
    had = counts()
    ruined(home, "cut", 5)
    journal = bytearray(journal_path(home).read_bytes())
    path = home / "reports"
    path.mkdir()
    (path / "20261126-0941-k7.html").write_bytes(b"")
    (path / "my-own.html").write_bytes(b"")
    journal_path(home).write_bytes(journal)
    done = run("upkeep", "--mend")
    assert done.exit_code == 1
    assert f"Job cut had {had['cut']} events, 5 were saved; events 6 to {had['cut']} are missing." in done.stdout
    assert f"Saved whole: {had['gone'] + 5 + had['whole']} events of 3 jobs" in done.stdout
    assert f"Missing: {had['cut'] - 5} events of 1 job." in done.stdout
    assert "These jobs are gone: 20261126-0941-k7 (its report is" in done.stdout
    assert "my-own" not in done.stdout
    assert counts() == {**had, "cut": 5}
    assert len(list(home.glob("archive.db.before-*"))) == 1, "what it knows of the lost is kept"


def test_a_job_that_is_gone_is_named(home: Path) -> None:
    worked(home, "gone", "whole")
    had = counts()
    ruined(home, "gone", 0)
    told = json.loads(run("upkeep", "--mend", "--json").stdout)["mended"]
    assert [(each["job"], each["had"], each["gone"]) for each in told["lost"]] == [("gone", had["gone"], True)]
    assert (told["whole"], told["events_whole"], told["missing_of_unknown_jobs"]) == (False, had["whole"], 0)
    assert counts() == {"whole": had["whole"]}


def test_without_a_list_the_numbers_of_the_record_tell_that_something_is_gone(home: Path) -> None:
    worked(home, "gone", "whole")
    had = counts()
    (home / "archive.db").unlink()
    ruined(home, "gone", 0)
    done = run("upkeep", "--mend")
    assert done.exit_code == 1
    assert f"Missing of jobs that nobody can name: {had['gone']} events." in done.stdout
    assert "No list of jobs" in done.stdout


def test_deleted_jobs_are_not_missing(home: Path) -> None:
    worked(home, "deleted", "whole")
    assert run("jobs").exit_code == 0
    assert run("forget", "deleted", "--yes").exit_code == 0
    worked(home, "later")
    ruined(home, "nobody", 0)
    done = run("upkeep", "--mend")
    assert done.exit_code == 0, done.output
    assert "Missing" not in done.stdout
    assert not list(home.glob("archive.db.before-*"))


def test_a_record_that_holds_less_than_was_listed_is_told(home: Path) -> None:
    worked(home, "one")
    older = journal_path(home).read_bytes()
    worked(home, "two")
    assert run("jobs").exit_code == 0
    assert run("upkeep").exit_code == 0
    journal_path(home).write_bytes(older)
    done = run("upkeep")
    assert done.exit_code == 1
    assert "job two is gone: it had" in done.stdout


def test_a_job_is_deleted_with_all_that_belongs_to_it(home: Path) -> None:
    spoken_job(home, "one", 2)
    worked(home, "two")
    assert run("report", "one").exit_code == 0
    assert (home / "reports" / "one.html").exists()
    assert "Say that you mean it with --yes" in run("forget", "one").stderr
    done = run("forget", "one", "--yes")
    assert done.exit_code == 0, done.output
    assert "2 sounds" in done.stdout
    assert "1 report." in done.stdout
    assert "nothing is left of job one" in done.stdout
    assert list((home / "sounds").iterdir()) == list((home / "reports").iterdir()) == []
    assert [json.loads(line)["job"] for line in run("jobs", "--json").stdout.splitlines()] == ["two"]
    again = run("forget", "one", "--yes")
    assert again.exit_code == 0
    assert "Job one was deleted before, on " in again.stdout
    assert "is deleted:" not in again.stdout
    assert "There is no job nobody" in run("forget", "nobody", "--yes").stderr
    assert "1 job deleted" in run("upkeep").stdout


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


def test_what_is_left_in_the_list_of_jobs_is_found(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    worked(home, "20261126-0941-k7", "two")
    assert run("jobs").exit_code == 0
    monkeypatch.setattr("voicetech.archive.local.forget_locally", lambda _journal, _home: True)
    done = run("forget", "20261126-0941-k7", "--yes")
    assert done.exit_code == 1
    assert f"something is left in {home / 'archive.db'}" in done.stderr
    monkeypatch.undo()
    monkeypatch.setenv("VOICETECH_HOME", str(home))
    assert run("forget", "20261126-0941-k7", "--yes").exit_code == 0


def test_bytes_that_are_left_in_a_file_of_the_list_are_found(home: Path) -> None:
    worked(home, "20261126-0941-k7", "two")
    assert run("jobs").exit_code == 0
    shutil.copy(home / "archive.db", home / "archive.db.before-20261126-100000")
    done = run("forget", "20261126-0941-k7", "--yes")
    assert done.exit_code == 1
    assert "archive.db.before-20261126-100000; a copy kept aside" in done.stderr
    (home / "archive.db.before-20261126-100000").unlink()
    again = run("forget", "20261126-0941-k7", "--yes")
    assert again.exit_code == 0
    assert "nothing is left" in again.stdout


def test_lines_of_a_job_without_a_row_of_its_own_are_found(home: Path) -> None:
    worked(home, "one", "two")
    assert run("jobs").exit_code == 0
    traces = traces_of(home, "one")
    assert traces.bytes_of_it
    assert left_in_archive(home, traces) == (home / "archive.db",)
    with sqlite3.connect(home / "archive.db") as connection:
        connection.execute("DELETE FROM job WHERE job = 'one'")
    connection.close()
    assert left_in_archive(home, traces) == (home / "archive.db",)
    assert run("forget", "one", "--yes").exit_code == 1
    (home / "archive.db").unlink()
    assert run("forget", "one", "--yes").exit_code == 0


def test_a_job_whose_name_ends_another_jobs_name_is_deleted(home: Path) -> None:
    worked(home, "20261126-0941-k7", "demo-20261126-0941-k7")
    assert run("jobs").exit_code == 0
    done = run("forget", "20261126-0941-k7", "--yes")
    assert done.exit_code == 0, done.output
