"""This laptop's archive says what its record says, whatever became of its file."""

import multiprocessing
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from tests.archive.invented import rehearsed_job
from tests.dialogue.talker import shipped
from tests.journal.examples import closed, complaint, note, opened, reply
from voicetech.archive.address import file_address
from voicetech.archive.listing import Filters, jobs_listed
from voicetech.archive.local import archive_path, catch_up, forget_locally, local_archive
from voicetech.archive.opening import open_archive
from voicetech.events import JobOpened
from voicetech.journal.forgetting import forget
from voicetech.journal.place import journal_path
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import Commented
from voicetech.summary.words import wanted


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def journal(home: Path) -> Iterator[Journal]:
    with open_journal(journal_path(home)) as journal:
        yield journal


def begin(journal: Journal, *jobs: str) -> None:
    for job in jobs:
        journal.append(job, 0, [opened(job), complaint(1, "bake"), reply(f"hello {job}")])


def listed(journal: Journal, home: Path, words: str = "", told: Callable[[str], None] = lambda _: None) -> list[str]:
    with local_archive(journal, home, told) as archive:
        return sorted(job.job for job in jobs_listed(archive, Filters(words=wanted(words))).jobs)


def test_jobs_appear_go_on_and_are_found_by_what_was_said(journal: Journal, home: Path) -> None:
    begin(journal, "a", "b")
    assert listed(journal, home) == ["a", "b"]
    journal.append("a", 3, [note("the cord is chafed"), closed("repaired")])
    assert listed(journal, home, "chafed") == ["a"]
    begin(journal, "c")
    assert listed(journal, home) == ["a", "b", "c"]
    journal.add_marks("b", [Commented(None, "well measured", "ann", 1.0)])
    assert listed(journal, home, "measured") == ["b"]


def test_nothing_is_read_again_where_nothing_is_new(journal: Journal, home: Path) -> None:
    begin(journal, "a", "b")
    with open_archive(file_address(archive_path(home))) as archive:
        assert catch_up(journal, archive) == 2
        assert catch_up(journal, archive) == 0
        journal.append("b", 3, [note("more")])
        assert catch_up(journal, archive) == 1


def test_a_real_job_is_summed_up_in_its_procedures_words(journal: Journal, home: Path) -> None:
    rehearsed_job(journal, "real", "bake-open")
    with local_archive(journal, home) as archive:
        (job,) = jobs_listed(archive, Filters(fault="bake element", part="bake element")).jobs
        assert (job.appliance, job.complaint_says) == ("electric range", "bake does not heat")
        with archive.reading() as connection:
            assert connection.execute(text("SELECT digest FROM wording")).scalars().all() == [shipped().digest]


def test_words_of_a_procedure_that_is_gone_come_from_the_text_the_job_followed(journal: Journal, home: Path) -> None:
    texts = shipped().texts
    journal.keep_written("e" * 64, "electric-range-no-heat", texts)
    begun = JobOpened("old", "electric-range-no-heat", 1, "e" * 64, opened("old").channel, 1.0)
    journal.append("old", 0, [begun, complaint(1, "bake")])
    unknown = JobOpened("unknown", "never-shipped", 1, "f" * 64, begun.channel, 2.0)
    journal.append("unknown", 0, [unknown, complaint(1, "bake")])
    with local_archive(journal, home) as archive:
        says = {job.job: job.complaint_says for job in jobs_listed(archive, Filters()).jobs}
    assert says == {"old": "bake does not heat", "unknown": ""}


def test_the_archive_may_be_deleted_at_any_time(journal: Journal, home: Path) -> None:
    begin(journal, "a")
    listed(journal, home)
    archive_path(home).unlink()
    assert listed(journal, home, "hello") == ["a"]


@pytest.mark.parametrize("content", [b"not a database " * 100, b""], ids=["text", "empty"])
def test_a_file_of_somebody_else_is_kept_aside(journal: Journal, home: Path, content: bytes) -> None:
    begin(journal, "a")
    archive_path(home).write_bytes(content)
    told: list[str] = []
    assert listed(journal, home, told=told.append) == ["a"]
    if content:
        assert "kept as archive.db.aside" in told[0]
        assert (home / "archive.db.aside").read_bytes() == content
        archive_path(home).write_bytes(b"and another" * 100)
        listed(journal, home)
        assert (home / "archive.db.aside-2").exists()


def test_another_programs_database_is_kept_aside(journal: Journal, home: Path) -> None:
    begin(journal, "a")
    other = sqlite3.connect(archive_path(home))
    other.execute("CREATE TABLE recipes (name TEXT)")
    other.commit()
    other.close()
    assert listed(journal, home) == ["a"]
    kept = sqlite3.connect(home / "archive.db.aside")
    assert kept.execute("SELECT name FROM sqlite_master").fetchone() == ("recipes",)
    kept.close()


def test_a_damaged_archive_is_made_anew(journal: Journal, home: Path) -> None:
    begin(journal, *(f"job-{n}" for n in range(60)))
    listed(journal, home)
    whole = archive_path(home).read_bytes()
    for at in range(4096, len(whole), 4096):
        damaged = bytearray(whole)
        damaged[at : at + 2000] = bytes(2000)
        archive_path(home).write_bytes(damaged)
        journal.append("job-0", len(journal.stored("job-0")), [note("one more")])
        assert len(listed(journal, home)) == 60
        if at > 20 * 4096:
            break


@pytest.mark.parametrize("name", ["kept", "summaries"])
def test_an_archive_of_a_newer_program_is_made_anew(journal: Journal, home: Path, name: str) -> None:
    begin(journal, "a")
    listed(journal, home)
    with open_archive(file_address(archive_path(home))) as archive, archive.writing() as connection:
        connection.execute(text("UPDATE layout SET version = 99 WHERE name = :name"), {"name": name})
    told: list[str] = []
    assert listed(journal, home, told=told.append) == ["a"]
    assert "newer voicetech" in told[0]
    assert listed(journal, home, told=told.append) == ["a"]
    assert len(told) == 1


def test_summaries_of_an_older_layout_are_made_anew_without_a_word(journal: Journal, home: Path) -> None:
    begin(journal, "a", "b")
    listed(journal, home)
    with open_archive(file_address(archive_path(home))) as archive, archive.writing() as connection:
        connection.execute(text("UPDATE layout SET version = 0 WHERE name = 'summaries'"))
        connection.execute(text("ALTER TABLE job DROP COLUMN tests"))
    told: list[str] = []
    assert listed(journal, home, told=told.append) == ["a", "b"]
    assert told == []


def test_where_no_archive_can_be_written_one_is_made_in_memory(journal: Journal, home: Path) -> None:
    begin(journal, "a")
    archive_path(home).mkdir()
    told: list[str] = []
    assert listed(journal, home, "hello", told.append) == ["a"]
    assert "read as a whole" in told[0]
    assert archive_path(home).is_dir()


def test_an_archive_of_another_record_is_made_anew(journal: Journal, home: Path, tmp_path: Path) -> None:
    begin(journal, "a", "b")
    listed(journal, home)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    with open_journal(journal_path(elsewhere)) as other:
        begin(other, "c")
        archive_path(elsewhere).write_bytes(archive_path(home).read_bytes())
        assert listed(other, elsewhere) == ["c"]


def test_a_record_that_was_put_back_from_a_copy_is_read_anew(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        begin(journal, "a")
    copy = journal_path(home).read_bytes()
    with open_journal(journal_path(home)) as journal:
        begin(journal, "b")
        assert listed(journal, home) == ["a", "b"]
    journal_path(home).write_bytes(copy)
    with open_journal(journal_path(home)) as journal:
        assert listed(journal, home) == ["a"]


def test_a_job_that_cannot_be_read_is_listed_and_says_so(journal: Journal, home: Path) -> None:
    begin(journal, "a")
    raw = sqlite3.connect(journal_path(home))
    raw.execute("INSERT INTO event (nr, job, seq, kind, body) VALUES (90, 'a', 4, 'newer/1', '{}')")
    raw.execute("INSERT INTO event (nr, job, seq, kind, body) VALUES (91, 'b', 1, 'newer/1', '{}')")
    raw.execute("INSERT INTO mark (nr, job, kind, body) VALUES (90, 'a', 'newer/1', '{}')")
    raw.commit()
    raw.close()
    with local_archive(journal, home) as archive:
        told = {job.job: (job.events, job.unreadable) for job in jobs_listed(archive, Filters()).jobs}
    assert told == {"a": (4, 2), "b": (1, 1)}


def test_a_deleted_job_is_gone_and_its_words_with_it_down_to_the_last_byte(journal: Journal, home: Path) -> None:
    begin(journal, "keep", "away")
    journal.append("away", 3, [note("zanzibarquince")])
    assert listed(journal, home, "zanzibarquince") == ["away"]
    forget(journal_path(home), home / "sounds", "away", 5.0)
    assert forget_locally(journal, home)
    assert listed(journal, home) == ["keep"]
    files = [*home.glob("archive.db*")]
    assert files
    assert not any(b"zanzibarquince" in file.read_bytes() or b"away" in file.read_bytes() for file in files)


def test_deleting_goes_well_where_there_is_no_archive_or_a_broken_one(journal: Journal, home: Path) -> None:
    begin(journal, "a")
    assert forget_locally(journal, home)
    assert not archive_path(home).exists()
    listed(journal, home)
    head = archive_path(home).read_bytes()[:100]
    archive_path(home).write_bytes(head + b"broken" * 1000)
    assert forget_locally(journal, home)
    assert not archive_path(home).exists()


def _catch_up(home: Path) -> None:
    with open_journal(journal_path(home)) as journal, local_archive(journal, home):
        pass


def test_several_programs_at_once_make_each_summary_once(home: Path) -> None:
    with open_journal(journal_path(home)) as journal:
        begin(journal, *(f"job-{n:03}" for n in range(150)))
    context = multiprocessing.get_context("spawn")
    programs = [context.Process(target=_catch_up, args=(home,)) for _ in range(3)]
    for program in programs:
        program.start()
    for program in programs:
        program.join()
    assert [program.exitcode for program in programs] == [0, 0, 0]
    with open_journal(journal_path(home)) as journal:
        assert listed(journal, home) == [f"job-{n:03}" for n in range(150)]


def test_what_was_broken_off_goes_on_where_it_stopped(journal: Journal, home: Path) -> None:
    begin(journal, *(f"job-{n:03}" for n in range(100)))

    def stop(done: int, of: int) -> None:
        assert of == 100
        if done >= 32:
            raise KeyboardInterrupt

    with open_archive(file_address(archive_path(home))) as archive:
        with pytest.raises(KeyboardInterrupt):
            catch_up(journal, archive, stop)
        assert catch_up(journal, archive) == 68
        assert jobs_listed(archive, Filters(), 1).total == 100
