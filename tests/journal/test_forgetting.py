"""A deleted job is gone, with its sounds, to the last byte; the others are as they were."""

from pathlib import Path

import numpy as np
import pytest

from tests.journal.examples import note, opened
from voicetech.events import Channel, InputReceived
from voicetech.journal.errors import JournalError, LostRaceError
from voicetech.journal.forgetting import Forgotten, forget
from voicetech.journal.sounds import save_sound, sound_path
from voicetech.journal.store import Reached, open_journal
from voicetech.marks import Commented

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
