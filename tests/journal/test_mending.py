"""A record damaged in every way: what can be read of it is there afterwards, and what is lost is named."""

import os
import random
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.journal.examples import note, opened
from voicetech.events import Event
from voicetech.journal.checking import check
from voicetech.journal.errors import JournalError
from voicetech.journal.mending import mend
from voicetech.journal.pages import pages_of, rows_of
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import SignedOff
from voicetech.procedure import WrittenFile

PAGE = 4096
NOW = datetime(2026, 11, 26, 9, 41, tzinfo=UTC)
JOBS = ("a", "b", "c")
FILES = (WrittenFile("own.yaml", "procedure: own\n" * 2000),)


def events_of(job: str) -> tuple[Event, ...]:
    return (opened(job), *(note(f"{job} {n} " + "ohm " * (n % 40) * (n % 7)) for n in range(150)))


def filled(path: Path) -> Journal:
    journal = open_journal(path)
    for job in JOBS:
        journal.append(job, 0, events_of(job))
    journal.append("long", 0, [opened("long"), note("two thirty eight volts " * 3000)])
    journal.keep_written("d" * 64, "own", FILES)
    journal.add_marks("a", [SignedOff(151, "Ann", 1.0)])
    return journal


@pytest.fixture
def path(tmp_path: Path) -> Path:
    file = tmp_path / "jobs.db"
    filled(file).close()
    return file


def test_every_row_is_read_from_the_pages_of_a_sound_file(path: Path) -> None:
    connection = sqlite3.connect(path)
    stored = set(connection.execute("SELECT nr, job, seq, kind, at_s, body, seal FROM event"))
    connection.close()
    rows = {
        (number, *values[1:])
        for number, values in rows_of(pages_of(path.read_bytes()))
        if number is not None and len(values) == 7
    }
    assert rows == stored


def test_rows_that_stand_only_in_the_log_are_read_too(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    with filled(path) as journal:
        log = path.with_name("jobs.db-wal").read_bytes()
        assert log
        count = sum(len(values) == 7 for _, values in rows_of(pages_of(path.read_bytes(), log)))
        assert count == sum(len(journal.events(job)) for job in (*JOBS, "long"))


def test_a_record_without_its_first_page_comes_back_whole(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[:PAGE] = os.urandom(PAGE)
    path.write_bytes(content)
    with pytest.raises(JournalError, match="upkeep"):
        open_journal(path)
    done = mend(path, NOW)
    assert [(job.job, job.events, job.missing, job.changed) for job in done.jobs] == [
        *((job, 151, (), ()) for job in JOBS),
        ("long", 2, (), ()),
    ]
    assert [aside.name for aside in done.aside] == ["jobs.db.damaged-20261126-094100"]
    assert done.aside[0].read_bytes() == bytes(content)
    with open_journal(path) as journal:
        for job in JOBS:
            assert journal.events(job) == events_of(job)
        assert len(journal.marks("a")) == 1
        assert journal.written("d" * 64) == FILES
        assert journal.append("a", 151, [note("it goes on")]) == 152


@pytest.mark.parametrize("seed", range(6))
def test_pages_overwritten_at_random_lose_no_more_than_they_held(path: Path, seed: int) -> None:
    chance = random.Random(seed)
    with open_journal(path) as journal:
        record_id = journal.record_id
    content = bytearray(path.read_bytes())
    for _ in range(3):
        at = chance.randrange(1, len(content) // PAGE) * PAGE
        content[at : at + PAGE] = chance.randbytes(PAGE)
    path.write_bytes(content)
    done = mend(path, NOW)
    with open_journal(path) as journal:
        for job in done.jobs:
            expected = events_of(job.job) if job.job in JOBS else None
            readable = journal.readable_events(job.job)
            assert len(readable.events) + len(job.missing) + len(job.changed) == max(
                [*readable.numbers, *job.missing, *job.changed]
            )
            if expected is not None:
                assert all(expected[n - 1] == e for n, e in zip(readable.numbers, readable.events, strict=True))
            if job.missing:
                with pytest.raises(JournalError, match="cannot be read"):
                    journal.events(job.job)
        assert sum(job.events for job in done.jobs) > 100
        assert len(record_id) == 32
    assert check(path, path.parent / "sounds").layout == 2


def test_single_bytes_changed_at_random_are_noticed(path: Path) -> None:
    chance = random.Random(5)
    content = bytearray(path.read_bytes())
    at = content.index(b"c 100 ohm")
    content[at + 3] ^= 1
    for _ in range(20):
        place = chance.randrange(PAGE, len(content))
        content[place] ^= 1 << chance.randrange(8)
    path.write_bytes(content)
    done = mend(path, NOW)
    assert sum(len(job.changed) for job in done.jobs) > 0
    with open_journal(path) as journal:
        for job in JOBS:
            readable = journal.readable_events(job)
            assert all(events_of(job)[n - 1] == e for n, e in zip(readable.numbers, readable.events, strict=True))


def test_a_file_that_holds_nothing_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    path.write_bytes(b"not a database at all" * 1000)
    with pytest.raises(JournalError, match="Nothing was changed"):
        mend(path, NOW)
    assert [file.name for file in tmp_path.iterdir()] == ["jobs.db"]


def test_what_is_wrong_is_told_and_nothing_is_changed(path: Path) -> None:
    assert check(path, path.parent / "sounds").whole
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER event_is_kept")
    connection.execute("DELETE FROM event WHERE job = 'b' AND seq = 7")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    found = check(path, path.parent / "sounds")
    assert not found.whole
    assert found.wrong == ("job b: event 7 is missing",)
    assert (found.events, found.unreadable) == (151 * 3 + 2 - 1, 1)
    assert (found.jobs, found.marks, found.deleted) == (4, 1, 0)
    assert path.read_bytes() == before
