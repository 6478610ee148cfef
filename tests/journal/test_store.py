"""What the record promises: exact replay, one winner of a race, and errors that say what to do."""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.journal.examples import (
    an_event_of,
    any_event,
    closed,
    complaint,
    note,
    opened,
    register_plain_numbers,
    reply,
)
from voicetech.events import KINDS, AnswerWithdrawn, Event, encoded
from voicetech.journal.errors import JournalError, LostRaceError, explained
from voicetech.journal.migrations import MIGRATIONS, Migration, applied, apply, pending, version_of
from voicetech.journal.store import Changes, Journal, Reached, open_journal, open_to_read
from voicetech.marks import Commented, Misheard, SignedOff
from voicetech.procedure import WrittenFile

register_plain_numbers()

_WITH_A_FILE = settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    with open_journal(path) as opened_journal:
        yield opened_journal


@pytest.mark.parametrize("kind", sorted(KINDS))
@_WITH_A_FILE
@given(data=st.data())
def test_every_kind_of_event_comes_back_as_it_went_in(kind: str, data: st.DataObject) -> None:
    event = data.draw(an_event_of(kind))
    connection = sqlite3.connect(":memory:", isolation_level=None)
    apply(connection)
    with Journal(connection, Path("in memory")) as journal:
        journal.append("job", 0, [event])
        (back,) = journal.events("job")
    assert back == event
    assert repr(back) == repr(event), "decimals keep their digits: 1.80 is not 1.8"


@_WITH_A_FILE
@given(turns=st.lists(st.lists(any_event(), max_size=4), max_size=5))
def test_a_job_written_in_turns_comes_back_in_order(turns: list[list[Event]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobs.db"
        with open_journal(path) as journal:
            seq = 0
            for turn in turns:
                seq = journal.append("job", seq, turn)
        assert seq == sum(len(turn) for turn in turns)
        with open_journal(path) as journal:
            assert list(journal.events("job")) == [event for turn in turns for event in turn]


def test_jobs_do_not_mix(journal: Journal) -> None:
    journal.append("a", 0, [opened("a"), note("first")])
    journal.append("b", 0, [opened("b")])
    journal.append("a", 2, [note("second")])
    assert journal.events("a") == (opened("a"), note("first"), note("second"))
    assert journal.events("b") == (opened("b"),)
    assert journal.events("nobody") == ()


@pytest.mark.parametrize("expected_seq", [0, 1, 3], ids=["new", "behind", "ahead"])
def test_of_two_writers_the_second_loses_and_writes_nothing(path: Path, expected_seq: int) -> None:
    with open_journal(path) as first, open_journal(path) as second:
        first.append("a", 0, [opened("a"), note("mine")])
        with pytest.raises(LostRaceError, match="open the job again"):
            second.append("a", expected_seq, [note("theirs"), note("theirs too")])
        assert second.events("a") == (opened("a"), note("mine"))
        assert second.append("a", 2, [note("after looking again")]) == 3


def test_a_lost_race_leaves_the_record_free_for_the_next_write(path: Path) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
        with pytest.raises(LostRaceError):
            journal.append("a", 0, [opened("a")])
        with open_journal(path, busy_s=0) as other:
            assert other.append("b", 0, [opened("b")]) == 1


@pytest.mark.parametrize("change", ["UPDATE event SET body = '{}'", "DELETE FROM event"])
def test_the_file_itself_refuses_to_change_or_drop_an_event(path: Path, change: str) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
    connection = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="never"):
        connection.execute(change)
    connection.close()


def test_commits_are_flushed(path: Path) -> None:
    # sqlite.org/pragma.html: with WAL, synchronous FULL syncs the log at every commit (from memory).
    with open_journal(path) as journal:
        asked = [journal._connection.execute(f"PRAGMA {name}") for name in ("journal_mode", "synchronous")]
        levels = [cursor.fetchone()[0] for cursor in asked]
    assert levels == ["wal", 2]


def test_the_list_tells_each_job_the_last_one_first(journal: Journal) -> None:
    journal.append("old", 0, [opened("old", 100.0), complaint(1, "bake", 110.0), closed("repaired", 120.0)])
    journal.append("new", 0, [opened("new", 200.0), complaint(1, "broil", 210.0), reply("Which coil?")])
    new, old = journal.jobs()
    assert (new.job, new.opened_at_s, new.last_at_s, new.events) == ("new", 200.0, 210.0, 3)
    assert (new.procedure, new.complaint, new.outcome) == ("range-no-heat", "broil", None)
    assert (old.complaint, old.outcome) == ("bake", "repaired")
    journal.append("old", 3, [note("came back")])
    assert [line.job for line in journal.jobs()] == ["old", "new"]


def test_the_list_shows_no_withdrawn_complaint(journal: Journal) -> None:
    taken: list[Event] = [opened("a"), complaint(1, "bake"), complaint(2, "broil")]
    journal.append("a", 0, [*taken, AnswerWithdrawn(2, "corrected", 5.0)])
    assert journal.jobs()[0].complaint == "bake"
    journal.append("a", 4, [AnswerWithdrawn(1, "undone", 6.0)])
    assert journal.jobs()[0].complaint is None


def test_the_last_job_is_the_one_written_to_last(journal: Journal) -> None:
    assert journal.last_job() is None
    assert journal.jobs() == ()
    journal.append("a", 0, [opened("a", 300.0)])
    journal.append("b", 0, [opened("b", 200.0)])
    assert journal.last_job() == "b", "whatever the clock said"


def _write_past_the_codec(path: Path, kind: str, body: str | bytes) -> None:
    connection = sqlite3.connect(path)
    connection.execute(
        "INSERT INTO event (job, seq, kind, at_s, body) VALUES ('a', 2, ?, 5.0, CAST(? AS TEXT))",
        (kind, body),
    )
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("note-taken/9", '{"text": "from the future"}'),
        ("note-taken/1", '{"words": "of another shape"}'),
        ("note-taken/1", '{"text": "after all clocks", "unverified": false, "at_s": 1e308}'),
        ("step-entered/1", '{"section": "a", "step": "b", "pair": 1e30, "attempt": 1, "at_s": 5.0}'),
        ("note-taken/1", "not json"),
        ("note-taken/1", b'{"text": "\xff"}'),
        ("answer-taken/1", b'{"text": "\xff"}'),
    ],
)
def test_an_unreadable_event_is_named_and_the_rest_is_given(path: Path, kind: str, body: str | bytes) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
    _write_past_the_codec(path, kind, body)
    with open_journal(path) as journal:
        journal.append("a", 2, [note("after it")])
        with pytest.raises(JournalError, match=r"Event 2 of job a .*Install the newest"):
            journal.events("a")
        readable = journal.readable_events("a")
        assert readable.events == (opened("a"), note("after it"))
        assert [(left.seq, left.kind) for left in readable.left_out] == [(2, kind)]
        assert [(line.job, line.events) for line in journal.jobs()] == [("a", 3)]


def test_text_that_cannot_be_stored_is_refused_in_plain_words(journal: Journal) -> None:
    with pytest.raises(JournalError, match="Say or type it again"):
        journal.append("a", 0, [note("half a surrogate \udc80")])
    assert journal.jobs() == ()


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match=r"no folder .*nowhere.* VOICETECH_HOME"):
        open_journal(tmp_path / "nowhere" / "jobs.db")


@contextmanager
def _as_somebody_without_rights() -> Iterator[None]:
    # Root may write anywhere, so root steps down to "nobody" for the while.
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


def test_a_read_only_folder_is_said_to_be_read_only(open_folder: Path) -> None:
    open_folder.chmod(0o555)
    with _as_somebody_without_rights(), pytest.raises(JournalError, match="write permission"):
        open_journal(open_folder / "jobs.db")


def test_a_read_only_file_is_said_to_be_read_only(open_folder: Path) -> None:
    path = open_folder / "jobs.db"
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
    path.chmod(0o444)
    with _as_somebody_without_rights(), pytest.raises(JournalError, match="write permission"):
        open_journal(path)
    path.chmod(0o644)
    with open_journal(path) as journal:
        assert journal.events("a") == (opened("a"),)


@pytest.mark.parametrize("content", [b"these are not pages " * 400, b"SQLite format 3\x00" + b"\x99" * 5000])
def test_a_broken_file_is_left_as_it_is(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(JournalError, match=r"upkeep --mend.* upkeep --begin-anew"):
        open_journal(path)
    assert path.read_bytes() == content


def test_damage_inside_the_file_is_told_and_not_a_traceback(path: Path) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a"), *[note("x" * 900) for _ in range(40)]])
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + b"\xaa" * (len(whole) - 4096))
    with pytest.raises(JournalError, match="damaged"), open_journal(path) as journal:
        journal.events("a")


def test_another_programs_database_is_left_alone(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE event (note TEXT)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(JournalError, match="belongs to another program"):
        open_journal(path)
    assert path.read_bytes() == before


def test_a_newer_layout_is_refused(path: Path) -> None:
    open_journal(path).close()
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    connection.close()
    with pytest.raises(JournalError, match=r"newer voicetech .*Install"):
        open_journal(path)


def test_a_record_held_by_another_program_is_told(path: Path) -> None:
    with open_journal(path, busy_s=0.01) as journal:
        journal.append("a", 0, [opened("a")])
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalError, match="Close the other voicetech"):
            journal.append("a", 1, [note("unheard")])
        assert journal.events("a") == (opened("a"),), "reading still works"
        other.execute("ROLLBACK")
        other.close()
        assert journal.append("a", 1, [note("heard")]) == 2


def test_a_full_disk_is_told_and_nothing_of_the_turn_stays(path: Path) -> None:
    open_journal(path).close()
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA max_page_count = 12")
    with Journal(connection, path) as journal:
        journal.append("a", 0, [opened("a")])
        with pytest.raises(JournalError, match="disk is full"):
            journal.append("a", 1, [note("x" * 4000) for _ in range(40)])
        assert journal.events("a") == (opened("a"),)
        connection.execute("PRAGMA max_page_count = 1000")
        assert journal.append("a", 1, [note("room again")]) == 2


def test_an_error_nobody_foresaw_still_says_what_to_do(path: Path) -> None:
    words = str(explained(sqlite3.OperationalError("something new"), path))
    assert str(path) in words
    assert "start it again" in words


def test_migrations_run_once_each_on_a_file_that_is_in_use(path: Path) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
    later = (*MIGRATIONS, Migration("a later one", ("CREATE TABLE later (word TEXT)",)))
    connection = sqlite3.connect(path, isolation_level=None)
    assert pending(connection, later) == later[len(MIGRATIONS) :]
    apply(connection, later)
    assert applied(connection, later) == later
    assert pending(connection, later) == ()
    apply(connection, later)
    assert connection.execute("SELECT count(*) FROM event").fetchone() == (1,)
    connection.close()


def test_a_migration_that_fails_changes_nothing(path: Path) -> None:
    open_journal(path).close()
    broken = (*MIGRATIONS, Migration("broken", ("CREATE TABLE half (word TEXT)", "NOT SQL")))
    connection = sqlite3.connect(path, isolation_level=None)
    with pytest.raises(sqlite3.OperationalError):
        apply(connection, broken)
    assert version_of(connection) == len(MIGRATIONS)
    assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone() == (0,)
    connection.close()


def test_each_event_is_sealed_with_what_came_before(path: Path) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a"), note("first")])
        journal.append("a", 2, [note("second"), note("third")])
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER event_stays")
    connection.execute("UPDATE event SET body = replace(body, 'first', 'worst') WHERE seq = 2")
    connection.commit()
    connection.close()
    with open_journal(path) as journal:
        readable = journal.readable_events("a")
        assert [left.seq for left in readable.left_out] == [2]
        assert "changed after it was recorded" in readable.left_out[0].why
        assert readable.numbers == (1, 3, 4)
        with pytest.raises(JournalError, match="Event 2 of job a"):
            journal.events("a")


def test_events_from_before_there_were_seals_are_read_and_followed_by_sealed_ones(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    apply(connection, MIGRATIONS[:1])
    kind, body = encoded(opened("a"))
    connection.execute("INSERT INTO event (job, seq, kind, at_s, body) VALUES ('a', 1, ?, 1.0, ?)", (kind, body))
    connection.close()
    with open_journal(path) as journal:
        assert journal.append("a", 1, [note("since then")]) == 2
        assert journal.events("a") == (opened("a"), note("since then"))
        assert len(journal.record_id) == 32
        assert journal.holds("a")
        assert not journal.holds("b")


def test_a_missing_event_is_named_and_the_rest_is_read(path: Path) -> None:
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a"), note("lost"), note("lost too"), note("kept")])
    connection = sqlite3.connect(path)
    connection.execute("DROP TRIGGER event_is_kept")
    connection.execute("DELETE FROM event WHERE seq IN (2, 3)")
    connection.commit()
    connection.close()
    with open_journal(path) as journal:
        readable = journal.readable_events("a")
        assert readable.events == (opened("a"), note("kept"))
        assert [(left.seq, left.why) for left in readable.left_out] == [(2, "it is missing"), (3, "it is missing")]


def test_the_files_of_a_procedure_are_kept_once_and_come_back(journal: Journal) -> None:
    files = (WrittenFile("own.yaml", "procedure: own\n"), WrittenFile("shared/part.yaml", "points: {}  # 20 Ω\n"))
    journal.keep_written("d" * 64, "own", files)
    journal.keep_written("d" * 64, "own", files)
    assert journal.written("d" * 64) == files
    assert journal.written("e" * 64) == ()


def test_marks_are_kept_beside_the_events_and_each_once(journal: Journal) -> None:
    journal.append("a", 0, [opened("a")])
    marks = (Misheard(1, "two forty", "Ann", 5.0), Commented(None, "well done", "Ann", 6.0))
    assert journal.add_marks("a", marks) == 2
    assert journal.add_marks("a", (*marks, SignedOff(1, "Ann", 7.0))) == 1
    assert journal.marks("a") == (*marks, SignedOff(1, "Ann", 7.0))
    assert journal.events("a") == (opened("a"),)
    with pytest.raises(JournalError, match="no job b to mark"):
        journal.add_marks("b", marks)
    with pytest.raises(JournalError, match="not text"):
        journal.add_marks("a", [Commented(None, "\ud800", "Ann", 8.0)])


def test_what_changed_since_it_was_read_last(journal: Journal) -> None:
    assert journal.changes(Reached()) == Changes((), (), Reached())
    journal.append("a", 0, [opened("a")])
    journal.append("b", 0, [opened("b"), note("x")])
    first = journal.changes(Reached())
    assert first.jobs == ("a", "b")
    assert journal.changes(first.reached).jobs == ()
    journal.append("b", 2, [note("y")])
    journal.add_marks("a", [SignedOff(1, "Ann", 7.0)])
    assert journal.changes(first.reached).jobs == ("a", "b")


def test_a_record_on_a_medium_that_cannot_be_written_is_read(open_folder: Path) -> None:
    path = open_folder / "jobs.db"
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a"), note("kept")])
    path.chmod(0o444)
    open_folder.chmod(0o555)
    with _as_somebody_without_rights(), open_to_read(path) as journal:
        assert journal.events("a") == (opened("a"), note("kept"))
        assert [line.job for line in journal.jobs()] == ["a"]
    with _as_somebody_without_rights(), pytest.raises(JournalError, match="cannot be written"):
        open_journal(path)
    assert [file.name for file in open_folder.iterdir()] == ["jobs.db"]


def test_a_record_of_an_older_layout_is_read_without_being_changed(path: Path) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    apply(connection, MIGRATIONS[:1])
    kind, body = encoded(opened("a"))
    connection.execute("INSERT INTO event (job, seq, kind, at_s, body) VALUES ('a', 1, ?, 1.0, ?)", (kind, body))
    connection.close()
    before = path.read_bytes()
    with open_to_read(path) as journal:
        assert journal.events("a") == (opened("a"),)
        assert journal.marks("a") == ()
    assert path.read_bytes() == before


def test_what_is_still_in_the_log_is_read_while_another_program_writes(path: Path) -> None:
    with open_journal(path) as writer:
        writer.append("a", 0, [opened("a")])
        with open_to_read(path) as reader:
            assert reader.events("a") == (opened("a"),)
            writer.append("a", 1, [note("later")])
            assert reader.events("a") == (opened("a"), note("later"))


def test_there_is_nothing_to_read(path: Path) -> None:
    with pytest.raises(JournalError, match="no record of jobs"):
        open_to_read(path)
    assert not path.exists()


def test_nothing_is_acknowledged_that_goes_to_a_file_that_is_gone(path: Path) -> None:
    for take_away in (Path.unlink, lambda file: file.rename(file.with_name("elsewhere.db")), _replace):
        for beside in path.parent.iterdir():
            beside.unlink()
        with open_journal(path) as journal:
            journal.append("a", 0, [opened("a")])
            take_away(path)
            with pytest.raises(JournalError, match="was deleted, moved or replaced while"):
                journal.append("a", 1, [note("to nowhere")])


def _replace(file: Path) -> None:
    other = file.with_name("other.db")
    other.write_bytes(file.read_bytes())
    other.replace(file)


def test_a_new_record_takes_its_first_event(path: Path) -> None:
    with open_journal(path) as journal:
        assert journal.append("a", 0, [opened("a")]) == 1
    with open_journal(path) as journal:
        assert journal.append("a", 1, [note("and its second")]) == 2


def test_a_failing_disk_that_is_full_is_told_to_be_full(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failed = sqlite3.OperationalError("disk I/O error")
    failed.sqlite_errorcode = sqlite3.SQLITE_IOERR
    assert "disk failed" in str(explained(failed, path))
    monkeypatch.setattr("shutil.disk_usage", lambda _folder: SimpleNamespace(free=0))
    assert "disk is full" in str(explained(failed, path))
