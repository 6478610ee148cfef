"""A deleted job is gone, with its sounds, to the last byte; the others stay; copies that hold it are told."""

import os
import random
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from tests.journal.examples import note, opened
from voicetech.events import Channel, InputReceived
from voicetech.journal.errors import JournalError, LostRaceError
from voicetech.journal.forgetting import Forgotten, _beginnings, copies_holding, forget
from voicetech.journal.sounds import save_sound, sound_path
from voicetech.journal.store import Reached, open_journal
from voicetech.marks import Commented

DAMAGED = "jobs.db.damaged-20261126-094100"
SECRET = "the customer's dog is called Bonaparte the Third"


def heard(sound: str | None) -> InputReceived:
    return InputReceived(Channel.VOICE, "ear", (), 1.0, "accepted", "bake", sound, 1.0)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    sounds = tmp_path / "sounds"
    own, shared = (save_sound(sounds, np.full(1600, level, np.int16)) for level in (100, 200))
    with open_journal(tmp_path / "jobs.db") as journal:
        for job in ("a", "b", "c"):
            journal.append(job, 0, [opened(job), heard(shared), *(note(f"{job} {n}") for n in range(200))])
        journal.append("b", 202, [heard(own), note(SECRET)])
        journal.add_marks("b", [Commented(None, SECRET, "Ann", 1.0)])
    return tmp_path


def everything(home: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(home.rglob("*")) if path.is_file())


def test_nothing_of_it_is_left_and_the_others_stay(home: Path) -> None:
    assert SECRET.encode() in everything(home)
    done, remains = forget(home / "jobs.db", home / "sounds", "b", 9.0)
    assert done == Forgotten("b", events=204, marks=1, sounds=1, shared_sounds=1)
    assert remains.nothing
    assert SECRET.encode() not in everything(home)
    assert len(list((home / "sounds").iterdir())) == 1
    with open_journal(home / "jobs.db") as journal:
        assert journal.events("b") == ()
        assert journal.marks("b") == ()
        assert len(journal.events("a")) == len(journal.events("c")) == 202
        assert [line.job for line in journal.jobs()] == ["c", "a"]
        assert journal.changes(Reached()).forgotten == ("b",)


def test_its_name_is_never_given_out_again_nor_its_numbers(home: Path) -> None:
    with open_journal(home / "jobs.db") as journal:
        reached = journal.changes(Reached()).reached
    forget(home / "jobs.db", home / "sounds", "b", 9.0)
    with open_journal(home / "jobs.db") as journal:
        with pytest.raises(LostRaceError):
            journal.append("b", 0, [opened("b")])
        journal.append("d", 0, [opened("d")])
        assert journal.changes(reached).jobs == ("d",)


def test_what_was_broken_off_is_finished_by_asking_again(home: Path) -> None:
    forget(home / "jobs.db", home / "sounds", "b", 9.0)
    again = sound_path(home / "sounds", save_sound(home / "sounds", np.full(1600, 100, np.int16)))
    assert again.exists()
    done, remains = forget(home / "jobs.db", home / "sounds", "b", 10.0)
    assert (done.events, done.sounds) == (0, 1)
    assert remains.nothing
    assert not again.exists()


def test_an_unknown_job_is_told_and_a_job_at_work_notices(home: Path) -> None:
    with pytest.raises(JournalError, match="no job nobody"):
        forget(home / "jobs.db", home / "sounds", "nobody", 9.0)
    with open_journal(home / "jobs.db") as at_work:
        assert at_work.append("a", 202, [note("still there")]) == 203
        forget(home / "jobs.db", home / "sounds", "a", 9.0)
        with pytest.raises(LostRaceError):
            at_work.append("a", 203, [note("too late")])


def test_a_record_that_another_program_holds_is_told(home: Path) -> None:
    with open_journal(home / "jobs.db") as reader:
        reader._connection.execute("BEGIN")
        reader._connection.execute("SELECT count(*) FROM event").fetchone()
        with pytest.raises(JournalError, match="run this once more"):
            forget(home / "jobs.db", home / "sounds", "b", 9.0)
        reader._connection.execute("ROLLBACK")
    _, remains = forget(home / "jobs.db", home / "sounds", "b", 9.0)
    assert remains.nothing
    assert SECRET.encode() not in everything(home)


def forgotten(home: Path, job: str = "b") -> tuple[Path, ...]:
    return forget(home / "jobs.db", home / "sounds", job, 9.0)[1].in_files


def test_a_copy_that_holds_it_is_told_however_often_it_is_deleted(home: Path) -> None:
    copy = Path(shutil.copy(home / "jobs.db", home / DAMAGED))
    before = copy.read_bytes()
    assert forgotten(home) == forgotten(home) == forgotten(home) == (copy,)
    assert copy.read_bytes() == before
    copy.unlink()
    assert forgotten(home) == ()


@pytest.mark.parametrize(
    "name", [DAMAGED, f"{DAMAGED}-wal", "jobs.db.mending", "jobs.db.mine", "lost-record-1/jobs.db"]
)
def test_every_copy_is_looked_through(home: Path, name: str) -> None:
    (home / name).parent.mkdir(exist_ok=True)
    shutil.copy(home / "jobs.db", home / name)
    assert forgotten(home) == forgotten(home) == (home / name,)


def test_rows_in_the_log_of_a_copy_are_found(home: Path) -> None:
    with open_journal(home / "jobs.db") as journal:
        journal.append("d", 0, [opened("d"), note("only in the log")])
        log = Path(shutil.copy(home / "jobs.db-wal", home / f"{DAMAGED}-wal"))
        assert b"only in the log" not in (home / "jobs.db").read_bytes()
    assert forgotten(home, "d") == forgotten(home, "d") == (log,)
    assert forgotten(home, "a") == forgotten(home, "a") == ()


def test_rows_that_no_page_leads_to_any_more_are_found(home: Path) -> None:
    content = bytearray((home / "jobs.db").read_bytes())
    for at in range(0, len(content), 4096):
        content[at : at + 12] = os.urandom(12)
    (home / DAMAGED).write_bytes(content)
    assert forgotten(home) == forgotten(home) == (home / DAMAGED,)


def test_a_copy_made_after_it_was_deleted_holds_nothing_of_it(home: Path) -> None:
    assert forgotten(home) == ()
    shutil.copy(home / "jobs.db", home / DAMAGED)
    assert b"b" in (home / DAMAGED).read_bytes()
    assert forgotten(home) == ()
    assert copies_holding(home / "jobs.db", "a") == (home / DAMAGED,)
    assert copies_holding(home / "jobs.db", "nobody") == ()


def test_its_sounds_in_the_folder_of_an_older_record_are_told(home: Path) -> None:
    older = Path(shutil.copytree(home / "sounds", home / "lost-record-1" / "sounds"))
    done, remains = forget(home / "jobs.db", home / "sounds", "b", 9.0)
    assert done.sounds == 1
    assert [path.parent for path in remains.sounds] == [older]


@pytest.mark.parametrize("job", ["k", "20261126-0941-k7", "demo-20261126-0941-k7", "x" * 80])
def test_every_row_of_a_job_is_known_by_how_it_begins(tmp_path: Path, job: str) -> None:
    others = ["a", f"{job}2", f"demo-{job}", job[1:] + "y"]
    with open_journal(tmp_path / "jobs.db") as journal:
        for name in (job, *others):
            lengths = (1, 30, 130, 1000, 9000, 300_000)
            journal.append(name, 0, [opened(name, at_s) for at_s in (0.0, 97.0, 1.5e9, 1.7e9 + 0.25)])
            journal.append(name, 4, [note(job * (length // len(job))) for length in lengths for _ in range(60)])
            journal.add_marks(name, [Commented(None, "z" * length, "Ann", 1.0) for length in lengths])
    content = (tmp_path / "jobs.db").read_bytes()
    event, mark, mark_in_index = (len(re.findall(pattern, content, re.DOTALL)) for pattern in _beginnings(job))
    # Where a page was divided, some of its bytes stand twice.
    assert event >= 364
    assert mark >= 6
    assert mark_in_index >= 6
    forget(tmp_path / "jobs.db", tmp_path / "sounds", job, 97.0)
    content = (tmp_path / "jobs.db").read_bytes()
    assert not any(re.search(pattern, content, re.DOTALL) for pattern in _beginnings(job))


def test_nothing_is_left_where_pages_were_divided(tmp_path: Path) -> None:
    chance = random.Random(1)
    jobs = [f"202611{day:02}-0941-k7" for day in range(1, 31)]
    with open_journal(tmp_path / "jobs.db") as journal:
        journal._connection.execute("PRAGMA secure_delete = OFF")
        counts = {job: journal.append(job, 0, [opened(job)]) for job in jobs}
        for job in chance.choices(jobs, k=700):
            counts[job] = journal.append(job, counts[job], [note(f"{job} says " + "x" * chance.randrange(300))])
            journal.add_marks(job, [Commented(None, f"{job} reads " + "y" * chance.randrange(200), "Ann", 1.0)])
    for job in jobs[:8]:
        assert forgotten(tmp_path, job) == ()
        content = (tmp_path / "jobs.db").read_bytes()
        assert content.count(job.encode()) == 1, "its name stays, and nothing else"


def test_a_job_that_the_record_lost_is_noted_as_deleted(home: Path) -> None:
    with pytest.raises(JournalError, match="no job gone"):
        forgotten(home, "gone")
    done, _ = forget(home / "jobs.db", home / "sounds", "gone", 9.0, lost=True)
    assert done == Forgotten("gone", 0, 0, 0, 0)
    with open_journal(home / "jobs.db") as journal:
        assert journal.forgotten() == ("gone",)
    assert forget(home / "jobs.db", home / "sounds", "gone", 10.0, lost=True)[0].before_s == 9.0
