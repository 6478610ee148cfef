"""A job gone through again: exact where nothing changed, and every difference told where something did."""

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from tests.replay.jobs import SESSIONS, Clock, session_lines, spoken_job, typed_job
from voicetech.authoring.procedure_files import load_written
from voicetech.events import AlternativeHeard, Channel, Event, InputReceived, JobOpened, ReadingTaken, Replied
from voicetech.job import open_job, take_up_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import Misheard
from voicetech.replay import Missing, material_of, replay
from voicetech.replay.ear import Ear
from voicetech.replay.replayed import Now
from voicetech.replaying import turns_of


def renamed(opening: Event) -> JobOpened:
    assert isinstance(opening, JobOpened)
    return replace(opening, job="two")


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with open_journal(journal_path(tmp_path)) as opened:
        yield opened


@pytest.mark.parametrize("session", sorted(path.stem for path in SESSIONS.glob("*.txt")))
def test_every_recorded_session_comes_out_the_same(journal: Journal, session: str) -> None:
    job = typed_job(journal, session, session_lines(session))
    done = replay(material_of(journal, session, "here"))
    assert done.exact, done
    assert done.turns > len(session_lines(session))
    assert done.events == len(journal.events(session))
    assert job.id == session


def test_time_restart_and_remarks_come_out_the_same(journal: Journal) -> None:
    clock = Clock()
    job = typed_job(journal, "one", session_lines("bake-element-repaired")[:30])
    job, _ = take_up_job(shipped(), journal, "one", Channel.VOICE, clock)
    job.remark("The microphone is back. I can hear you.")
    for line in ("mumble", "status", "undo", "pause", "resume", "note: a chafed cord", "stop"):
        job.typed(line)
    clock.now_s += 3600
    job.tick()
    done = replay(material_of(journal, "one", "here"))
    assert done.exact, done


def test_a_clock_that_jumps_loses_nothing_and_ends_a_proof_of_dead(journal: Journal) -> None:
    clock = Clock()
    job, _ = open_job(shipped(), journal, "one", Channel.CHAT, clock)
    jumps = {20: -3600.0, 30: 86_400.0, 40: -10_000_000.0}
    lines = session_lines("bake-element-repaired")
    for number, line in enumerate(lines):
        clock.now_s += jumps.get(number, 0.0)
        job.typed(line)
    events = journal.events("one")
    assert [event.text for event in events if isinstance(event, InputReceived)] == lines
    assert replay(material_of(journal, "one", "here")).exact
    later, _ = open_job(shipped(), journal, "two", Channel.CHAT, clock)
    assert [line.job for line in journal.jobs()] == ["two", "one"], "in the order they were written, whatever the clock"
    assert later.session.opened_at_s < 0


def test_turns_keep_the_numbers_of_their_events(journal: Journal) -> None:
    typed_job(journal, "one", ["no", "bake"])
    events = journal.events("one")
    turns = turns_of(events)
    assert [type(events[turn.number - 1]) for turn in turns] == [JobOpened, InputReceived, InputReceived]
    assert sum(len(turn.caused) + (turn.replied is not None) for turn in turns) == len(events)
    with pytest.raises(ValueError, match="opening"):
        turns_of(events[1:])


def test_what_today_decides_otherwise_is_told_at_its_event(journal: Journal) -> None:
    job = typed_job(journal, "one", session_lines("bake-element-repaired"))
    events = list(journal.events("one"))
    place, reading = next((n, e) for n, e in enumerate(events) if isinstance(e, ReadingTaken) and e.low is not None)
    events[place] = replace(reading, verdict="above", low=reading.value)
    journal.keep_written(job.procedure.digest, "x", ())
    journal.append("two", 0, [renamed(events[0]), *events[1:]])
    done = replay(material_of(journal, "two", "here"))
    assert not done.exact
    found = [difference for difference in done.differences if not difference.worded_only]
    assert any("verdict above" in line for difference in found for line in difference.then)
    assert any(f"verdict {reading.verdict}" in line for difference in found for line in difference.now)


def test_what_is_only_worded_otherwise_is_told_apart(journal: Journal) -> None:
    typed_job(journal, "one", ["no", "bake"])
    events = list(journal.events("one"))
    assert isinstance(events[-1], Replied)
    events[-1] = replace(events[-1], speak="What now?")
    journal.append("two", 0, [renamed(events[0]), *events[1:]])
    done = replay(material_of(journal, "two", "here"))
    assert [difference.worded_only for difference in done.differences] == [True]


def test_a_changed_event_is_damage_and_the_rest_is_gone_through(journal: Journal, tmp_path: Path) -> None:
    typed_job(journal, "one", ["no", "bake", "note: first", "note: second"])
    connection = sqlite3.connect(journal_path(tmp_path))
    connection.execute("DROP TRIGGER event_stays")
    connection.execute("UPDATE event SET body = replace(body, 'first', 'worst') WHERE kind = 'note-taken/1'")
    connection.commit()
    connection.close()
    done = replay(material_of(journal, "one", "here"))
    assert not done.exact
    assert len(done.damaged) == 1
    assert "changed after it was recorded" in done.damaged[0]


def test_a_job_is_judged_by_the_text_it_followed(journal: Journal) -> None:
    own = shipped()
    text = own.texts[0].text
    changed = replace(own.texts[0], text=f"# of our own\n{text}")
    procedure = load_written((changed, *own.texts[1:]))
    typed_job(journal, "one", ["no", "bake"], procedure)
    done = replay(material_of(journal, "one", "here"))
    assert done.exact
    assert not done.other_text
    assert replay(material_of(journal, "one", "here"), procedure=own.id).other_text


def test_a_job_without_its_procedure_or_opening_says_so(journal: Journal) -> None:
    strange = replace(shipped(), id="gone", digest="f" * 64, texts=())
    open_job(strange, journal, "one", Channel.CHAT, Clock())
    assert replay(replace(material_of(journal, "one", "here"), files=())).missing is Missing.PROCEDURE
    journal.append("two", 0, list(journal.events("one"))[1:])
    assert replay(material_of(journal, "two", "here")).missing is Missing.OPENING


def test_sounds_are_heard_again(tmp_path: Path) -> None:
    spoken_job(tmp_path, "one", 6)
    with open_journal(journal_path(tmp_path)) as journal:
        material = material_of(journal, "one", "here", sounds_folder(tmp_path))
    done = replay(material, Ear())
    assert done.reheard is not None
    assert done.without_sound == 0
    assert [one.compared for one in done.reheard] == [Now.SAME] * 6
    assert {(one.right_then, one.right_now) for one in done.reheard} <= {("right", "right"), (None, None)}
    lost = replace(material, sounds=dict(list(material.sounds.items())[1:]))
    assert replay(lost, Ear()).without_sound >= 1


def test_a_reviewers_words_decide_what_was_right(tmp_path: Path) -> None:
    spoken_job(tmp_path, "one", 3)
    with open_journal(journal_path(tmp_path)) as journal:
        heard = [nr for nr, event in enumerate(journal.events("one"), 1) if isinstance(event, InputReceived)]
        before = replay(material_of(journal, "one", "here", sounds_folder(tmp_path)), Ear()).reheard
        journal.add_marks("one", [Misheard(heard[0], "yes", "Ann", 1.0), Misheard(heard[1], "", "Ann", 1.0)])
        after = replay(material_of(journal, "one", "here", sounds_folder(tmp_path)), Ear()).reheard
    assert before is not None
    assert after is not None
    assert [(one.right_then, one.right_now) for one in before] == [("right", "right")] * 3
    assert [(one.right_then, one.right_now) for one in after] == [("wrong", "wrong")] * 2 + [("right", "right")]


def test_what_is_heard_otherwise_now_stands_beside_what_was_heard_then(tmp_path: Path) -> None:
    spoken_job(tmp_path, "one", 2)
    with open_journal(journal_path(tmp_path)) as journal:
        events = list(journal.events("one"))
        place = max(n for n, e in enumerate(events) if isinstance(e, InputReceived))
        heard = events[place]
        assert isinstance(heard, InputReceived)
        events[place] = replace(heard, alternatives=(AlternativeHeard("broil", 1.0),), text="broil")
        journal.append("two", 0, [renamed(events[0]), *events[1:]])
        done = replay(material_of(journal, "two", "here", sounds_folder(tmp_path)), Ear())
    assert done.reheard is not None
    changed = [one for one in done.reheard if one.compared is Now.OTHER]
    assert [(one.then, one.then_outcome) for one in changed] == [("broil", "accepted")]
    assert changed[0].now != "broil"
