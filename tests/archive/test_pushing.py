"""Jobs of laptops brought to a shop's archive, on either kind of database."""

import multiprocessing
import sqlite3
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import create_engine, select, text

from tests.archive.invented import rehearsed_job
from tests.archive.server import Server
from tests.dialogue.talker import shipped
from tests.journal.examples import closed, complaint, note, opened, reply
from voicetech.archive import tables
from voicetech.archive.address import address_from
from voicetech.archive.errors import ArchiveError, NewerLayoutError, UnreachableError
from voicetech.archive.figures import figures_of
from voicetech.archive.listing import Filters, jobs_listed
from voicetech.archive.local import local_archive
from voicetech.archive.opening import Archive, open_archive
from voicetech.archive.pushing import Pushed, push
from voicetech.archive.shop import bring_summaries_up_to_date
from voicetech.authoring.findings import ProcedureFindings
from voicetech.events import Channel, InputReceived
from voicetech.journal.forgetting import forget
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound, sound_path
from voicetech.journal.store import open_journal
from voicetech.marks import Commented
from voicetech.procedure import WrittenFile
from voicetech.summary.words import wanted

NOW_S = 1_700_000_000.0


class Laptop:
    """A folder with a record."""

    def __init__(self, home: Path) -> None:
        home.mkdir(parents=True)
        self.home = home
        self.sounds = sounds_folder(home)
        self.journal = open_journal(journal_path(home))

    def begin(self, *jobs: str) -> None:
        for job in jobs:
            self.journal.append(job, 0, [opened(job), complaint(1, "bake"), reply(f"hello {job}")])

    def said(self, job: str, words: str) -> str:
        """Take words with their sound; return the sound's name."""
        samples = np.frombuffer(words.encode() * 100, dtype=np.int16)
        sha256 = save_sound(self.sounds, samples)
        heard = InputReceived(Channel.VOICE, "any", (), 1.0, "accepted", words, sha256, NOW_S)
        self.journal.append(job, len(self.journal.stored(job)), [heard])
        return sha256

    def change(self, statement: str, *values: object) -> None:
        """Change the record as another hand would, past its own guards."""
        raw = sqlite3.connect(journal_path(self.home))
        for trigger in ("event_stays", "event_is_kept"):
            raw.execute(f"DROP TRIGGER IF EXISTS {trigger}")
        raw.execute(statement, values)
        raw.commit()
        raw.close()


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Laptop]:
    laptop = Laptop(tmp_path / "laptop")
    yield laptop
    laptop.journal.close()


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Laptop]:
    laptop = Laptop(tmp_path / "other")
    yield laptop
    laptop.journal.close()


def brought(laptop: Laptop, archive: Archive, **more: object) -> Pushed:
    return push(laptop.journal, archive, NOW_S, **more)  # type: ignore[arg-type]


def everything(archive: Archive) -> dict[str, list[tuple[object, ...]]]:
    """Return all rows of an archive but when it was pushed to."""
    with archive.reading() as connection:
        names = [*tables.KEPT.tables, *tables.SUMMARIES.tables, "record"]
        return {
            name: sorted((tuple(row) for row in connection.execute(text(f"SELECT * FROM {name}"))), key=repr)
            for name in names
        }


def listed(archive: Archive, words: str = "") -> list[str]:
    return sorted(job.job for job in jobs_listed(archive, Filters(words=wanted(words))).jobs)


def test_events_arrive_as_they_were_written(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    laptop.journal.add_marks("a", [Commented(None, "well done", "ann", 1.0)])
    pushed = brought(laptop, archive, name="van 3")
    assert (pushed.jobs, pushed.events, pushed.marks, pushed.refused) == (1, 3, 1, [])
    event = tables.event
    with archive.reading() as connection:
        rows = connection.execute(select(event).order_by(event.c.seq)).all()
        assert [(row.seq, row.kind, bytes(row.body), bytes(row.seal)) for row in rows] == [
            (row.seq, row.kind, row.body, row.seal) for row in laptop.journal.stored("a")
        ]
        assert [row.at_s for row in rows] == [1_700_000_000.0, 1_700_000_010.0, None]
        assert {row.record for row in rows} == {laptop.journal.record_id}
    (job,) = jobs_listed(archive, Filters(words=wanted("well done"))).jobs
    assert (job.laptop, job.record) == ("van 3", laptop.journal.record_id)


def test_the_same_push_twice_changes_nothing(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a", "b")
    laptop.said("a", "two forty")
    brought(laptop, archive, name="van 3", sounds=laptop.sounds)
    before = everything(archive)
    again = brought(laptop, archive, sounds=laptop.sounds)
    assert (again.jobs, again.events, again.sounds, again.there) == (0, 0, 0, 2)
    assert everything(archive) == before


def test_only_what_is_new_is_sent(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a", "b")
    brought(laptop, archive)
    laptop.journal.append("b", 3, [note("the cord is chafed"), closed("repaired")])
    laptop.journal.add_marks("a", [Commented(None, "seen", "ann", 1.0)])
    pushed = brought(laptop, archive)
    assert (pushed.jobs, pushed.events, pushed.marks) == (2, 2, 1)
    assert listed(archive, "chafed") == ["b"]
    assert listed(archive, "seen") == ["a"]


def test_a_shop_lists_and_counts_as_each_laptop_does(laptop: Laptop, archive: Archive) -> None:
    rehearsed_job(laptop.journal, "real", "bake-open")
    laptop.begin("small")
    brought(laptop, archive)
    with local_archive(laptop.journal, laptop.home) as own:
        for filters in (Filters(), Filters(words=wanted("element")), Filters(fault="bake-open")):
            assert jobs_listed(archive, filters) == jobs_listed(own, filters)
            assert figures_of(archive, filters) == figures_of(own, filters)


def test_the_text_of_the_procedure_comes_along_once(laptop: Laptop, other: Laptop, archive: Archive) -> None:
    rehearsed_job(laptop.journal, "a", "bake-open")
    rehearsed_job(other.journal, "a", "bake-open")
    brought(laptop, archive)
    brought(other, archive)
    with archive.reading() as connection:
        (row,) = connection.execute(select(tables.written)).all()
    assert row.digest == shipped().digest
    assert "make-safe" in row.files


def test_jobs_of_one_name_on_two_laptops_are_two_jobs(laptop: Laptop, other: Laptop, archive: Archive) -> None:
    for each, name in ((laptop, "van 1"), (other, "van 2")):
        each.begin("20261126-0941-k7")
        brought(each, archive, name=name)
    page = jobs_listed(archive, Filters())
    assert sorted((job.job, job.laptop) for job in page.jobs) == [
        ("20261126-0941-k7", "van 1"), ("20261126-0941-k7", "van 2"),
    ]  # fmt: skip
    assert [job.laptop for job in jobs_listed(archive, Filters(record="van 2")).jobs] == ["van 2"]


def test_a_laptop_keeps_its_name_until_it_is_given_another(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    for name, called in (("van 1", "van 1"), (None, "van 1"), ("van 2", "van 2")):
        brought(laptop, archive, name=name)
        assert jobs_listed(archive, Filters()).jobs[0].laptop == called


def test_sounds_come_along_only_where_they_are_wanted(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    sha256 = laptop.said("a", "two forty")
    assert brought(laptop, archive).sounds == 0
    pushed = brought(laptop, archive, sounds=laptop.sounds)
    assert (pushed.jobs, pushed.sounds, pushed.events) == (1, 1, 0)
    with archive.reading() as connection:
        (row,) = connection.execute(select(tables.sound)).all()
    assert (row.job, row.sha256) == ("a", sha256)
    assert bytes(row.flac) == sound_path(laptop.sounds, sha256).read_bytes()
    laptop.said("a", "two oh eight")
    assert brought(laptop, archive, sounds=laptop.sounds).sounds == 1


def test_a_sound_that_is_lost_or_changed_is_counted_and_sought_again(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    lost, changed = (sound_path(laptop.sounds, laptop.said("a", words)) for words in ("two forty", "one twenty"))
    kept = lost.read_bytes()
    changed.write_bytes(kept)
    lost.unlink()
    pushed = brought(laptop, archive, sounds=laptop.sounds)
    assert (pushed.sounds, pushed.lost_sounds) == (0, 2)
    lost.write_bytes(kept)
    pushed = brought(laptop, archive, sounds=laptop.sounds)
    assert (pushed.sounds, pushed.lost_sounds) == (1, 1)


def test_a_job_deleted_on_the_laptop_is_deleted_with_its_sound(laptop: Laptop, other: Laptop, archive: Archive) -> None:
    laptop.begin("a", "b")
    other.begin("a")
    laptop.said("a", "secret words")
    brought(laptop, archive, sounds=laptop.sounds)
    brought(other, archive)
    forget(journal_path(laptop.home), laptop.sounds, "a", NOW_S)
    assert brought(laptop, archive, sounds=laptop.sounds).deleted == 1
    assert listed(archive) == ["a", "b"], "the other laptop's job of that name stays"
    assert listed(archive, "secret") == []
    own = laptop.journal.record_id
    rows = everything(archive)
    assert not [row for name in ("event", "mark", "sound", "sounded") for row in rows[name] if row[:2] == (own, "a")]
    assert rows["sound"] == []
    assert brought(laptop, archive).deleted == 0


def test_an_older_copy_of_a_record_does_not_bring_back_what_was_deleted(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a", "b")
    laptop.journal.close()
    copy = journal_path(laptop.home).read_bytes()
    laptop.journal = open_journal(journal_path(laptop.home))
    brought(laptop, archive)
    forget(journal_path(laptop.home), laptop.sounds, "a", NOW_S)
    brought(laptop, archive)
    laptop.journal.close()
    journal_path(laptop.home).write_bytes(copy)
    laptop.journal = open_journal(journal_path(laptop.home))
    pushed = brought(laptop, archive)
    assert [refused.job for refused in pushed.refused] == ["a"]
    assert "deleted in the archive" in pushed.refused[0].why
    assert listed(archive) == ["b"]


def test_a_seal_that_does_not_fit_is_refused_and_the_others_are_brought(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a", "b", "c")
    laptop.change("UPDATE event SET body = replace(body, 'bake', 'broil') WHERE job = 'b' AND seq = 2")
    pushed = brought(laptop, archive)
    assert [(refused.job, "seal of event 2 does not fit" in refused.why) for refused in pushed.refused] == [("b", True)]
    assert listed(archive) == ["a", "c"]


def test_a_job_with_a_gap_is_refused(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    laptop.change("DELETE FROM event WHERE job = 'a' AND seq = 2")
    (refused,) = brought(laptop, archive).refused
    assert "event 2 is missing" in refused.why


def test_a_job_sealed_anew_after_it_was_brought_is_refused(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    brought(laptop, archive)
    before = everything(archive)
    laptop.change("DELETE FROM event WHERE job = 'a'")
    laptop.journal.append("a", 0, [opened("a"), complaint(1, "broil"), reply("hello a")])
    (refused,) = brought(laptop, archive).refused
    assert "from event 2 on it is another job in the archive" in refused.why
    assert everything(archive) == before


def test_an_older_copy_of_a_job_takes_nothing_away(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    brought(laptop, archive)
    laptop.change("DELETE FROM event WHERE job = 'a' AND seq = 3")
    (refused,) = brought(laptop, archive).refused
    assert "older copy" in refused.why
    with archive.reading() as connection:
        assert len(connection.execute(select(tables.event)).all()) == 3


def test_an_event_of_a_newer_program_is_brought_as_it_is(laptop: Laptop, archive: Archive) -> None:
    laptop.begin("a")
    laptop.change("INSERT INTO event (nr, job, seq, kind, body) VALUES (90, 'a', 4, 'newer/1', '{\"x\": \"ü\"}')")
    assert brought(laptop, archive).events == 4
    (job,) = jobs_listed(archive, Filters()).jobs
    assert (job.events, job.unreadable) == (4, 1)


class _BrokenOffError(Exception):
    pass


def test_a_push_that_breaks_off_goes_on_where_it_stopped(laptop: Laptop, archive: Archive) -> None:
    laptop.begin(*(f"job-{n}" for n in range(6)))

    def break_off(done: int, of: int) -> None:
        assert of == 6
        if done == 4:
            raise _BrokenOffError

    with pytest.raises(_BrokenOffError):
        brought(laptop, archive, progress=break_off)
    assert len(listed(archive)) == 4
    pushed = brought(laptop, archive)
    assert (pushed.jobs, pushed.there) == (2, 4)
    assert len(listed(archive)) == 6


def test_a_job_is_brought_as_a_whole_or_not_at_all(
    laptop: Laptop, archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    laptop.begin("a")

    def fail(*_: object) -> None:
        raise _BrokenOffError

    with monkeypatch.context() as patched:
        patched.setattr("voicetech.archive.pushing.keep", fail)
        with pytest.raises(_BrokenOffError):
            brought(laptop, archive)
    assert everything(archive)["event"] == []
    assert brought(laptop, archive).events == 3


def _push_all(home: Path, address: str) -> None:
    with open_journal(journal_path(home)) as journal, open_archive(address_from(address)) as archive:
        assert push(journal, archive, NOW_S, sounds=sounds_folder(home)).refused == []


def test_laptops_that_push_at_once_do_not_disturb_each_other(laptop: Laptop, other: Laptop, address: str) -> None:
    for each in (laptop, other):
        each.begin(*(f"job-{n:02}" for n in range(25)))
        each.said("job-07", f"on {each.home.name}")
        each.journal.close()
    context = multiprocessing.get_context("spawn")
    # One of them twice, and all of them into an archive that is not there yet.
    homes = (laptop.home, other.home, laptop.home)
    programs = [context.Process(target=_push_all, args=(home, address)) for home in homes]
    for program in programs:
        program.start()
    for program in programs:
        program.join()
    assert [program.exitcode for program in programs] == [0, 0, 0]
    with open_archive(address_from(address)) as archive:
        assert jobs_listed(archive, Filters(), 1).total == 50
        rows = everything(archive)
        assert len(rows["event"]) == 2 * (25 * 3 + 1)
        assert len(rows["sound"]) == 2
        assert listed(archive, "laptop") == ["job-07"]


def test_summaries_of_another_layout_are_made_anew_from_the_events_there(
    laptop: Laptop, archive: Archive, address: str
) -> None:
    rehearsed_job(laptop.journal, "real", "bake-open")
    laptop.begin("small")
    brought(laptop, archive)
    before = jobs_listed(archive, Filters(words=wanted("element")))
    with archive.writing() as connection:
        connection.execute(text("UPDATE layout SET version = 0 WHERE name = 'summaries'"))
        connection.execute(text("ALTER TABLE job DROP COLUMN tests"))
    with pytest.raises(ArchiveError, match="voicetech push"):
        open_archive(address_from(address), make=False)
    with open_archive(address_from(address)) as newer:
        push(laptop.journal, newer, NOW_S)
        assert jobs_listed(newer, Filters(words=wanted("element"))) == before
        assert jobs_listed(newer, Filters()).total == 2


@pytest.mark.parametrize(
    "name", ["../outside.yaml", "/tmp/outside.yaml", "shared/../../outside.yaml", "C:outside.yaml"]
)
def test_files_another_laptop_named_are_never_written_outside_their_folder(
    laptop: Laptop, archive: Archive, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = replace(opened("a"), digest="e" * 64)
    laptop.journal.keep_written("e" * 64, "range-no-heat", [WrittenFile(name, "procedure: x")])
    laptop.journal.append("a", 0, [begun])
    read: list[object] = []

    def load_written(files: object) -> None:
        read.append(files)
        raise ProcedureFindings([])

    monkeypatch.setattr("voicetech.authoring.procedure_files.load_written", load_written)
    brought(laptop, archive)
    assert len(read) == 1, "one's own record is read as it is"
    with archive.writing() as connection:
        connection.execute(text("INSERT INTO pending (record, job) SELECT DISTINCT record, job FROM event"))
    assert bring_summaries_up_to_date(archive) == 1
    assert len(read) == 1
    assert listed(archive) == ["a"]


def test_an_archive_of_a_newer_program_is_left_alone(laptop: Laptop, archive: Archive, address: str) -> None:
    with archive.writing() as connection:
        connection.execute(text("UPDATE layout SET version = 99 WHERE name = 'kept'"))
    with pytest.raises(NewerLayoutError, match="Install the newest"):
        open_archive(address_from(address))
    assert everything(archive)["event"] == []


def test_an_archive_that_is_not_made_yet_is_told_to_who_only_reads(address: str) -> None:
    with pytest.raises(ArchiveError, match="is empty"):
        open_archive(address_from(address), make=False)


def test_a_database_of_something_else_is_left_alone(address: str, opened: Callable[[str], Archive]) -> None:
    engine = create_engine(address_from(address).url)
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE record (song TEXT)"))
    with pytest.raises(ArchiveError, match="another program"):
        opened(address)
    with engine.begin() as connection:
        assert connection.execute(text("SELECT count(*) FROM record")).scalar_one() == 0
    engine.dispose()


def test_a_server_that_dies_loses_nothing_and_the_next_push_goes_on(laptop: Laptop, server: Server) -> None:
    address = address_from(server.database())
    laptop.begin(*(f"job-{n}" for n in range(8)))

    def die(done: int, of: int) -> None:
        if done == 5:
            server.stop()

    try:
        with open_archive(address) as archive, pytest.raises(UnreachableError, match=r"again|safe"):
            brought(laptop, archive, progress=die)
    finally:
        server.start()
    with open_archive(address) as archive:
        pushed = brought(laptop, archive)
        assert pushed.jobs + pushed.there == 8
        assert len(listed(archive)) == 8


def test_a_user_who_may_only_read_can_list_and_is_told_that_it_may_not_push(laptop: Laptop, server: Server) -> None:
    address = server.database()
    laptop.begin("a")
    with open_archive(address_from(address)) as archive:
        brought(laptop, archive)
        with archive.outside() as connection:
            connection.execute(text("CREATE ROLE reader LOGIN"))
            connection.execute(text("GRANT SELECT ON ALL TABLES IN SCHEMA public TO reader"))
    with open_archive(address_from(address.replace("postgres@", "reader@")), make=False) as archive:
        assert listed(archive) == ["a"]
        with pytest.raises(ArchiveError, match="right to read and write"):
            brought(laptop, archive)


def test_what_others_are_writing_does_not_hold_up_a_reader(laptop: Laptop, archive: Archive, address: str) -> None:
    laptop.begin("a")
    brought(laptop, archive)
    seen: list[list[str]] = []

    def read() -> None:
        with open_archive(address_from(address), make=False) as reader:
            seen.append(listed(reader))

    with archive.writing() as connection:
        connection.execute(text("DELETE FROM job"))
        reader = threading.Thread(target=read)
        reader.start()
        reader.join(20)
    assert seen == [["a"]]


def test_a_copy_of_a_job_that_went_on_elsewhere_is_refused(laptop: Laptop, other: Laptop, archive: Archive) -> None:
    """Two copies of one record, each worked on: the archive keeps what it was given first."""
    laptop.begin("a")
    laptop.journal.close()
    other.journal.close()
    journal_path(other.home).write_bytes(journal_path(laptop.home).read_bytes())
    laptop.journal = open_journal(journal_path(laptop.home))
    other.journal = open_journal(journal_path(other.home))
    laptop.journal.append("a", 3, [note("here")])
    other.journal.append("a", 3, [replace(note("there"), at_s=NOW_S), closed("repaired")])
    assert brought(laptop, archive).refused == []
    (refused,) = brought(other, archive).refused
    assert "two copies of one record" in refused.why
    assert listed(archive, "here") == ["a"]
