"""A job behind the page: answered, watched, handed over and stopped, by one tab or several."""

import sqlite3
from pathlib import Path

import pytest

from tests.desk.conftest import Rooms
from tests.desk.tab import KeptTab
from tests.dialogue.talker import shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.desk.messages import Aloud, Answer, Listen, Stop, TakeUp
from voicetech.events import (
    Channel,
    DangerStopped,
    InputReceived,
    JobReopened,
    ProofEnded,
    Replied,
    TimePassed,
)
from voicetech.job import Job, job_on_record, open_job, take_up_job
from voicetech.journal.store import Journal, open_journal

TO_THE_PROOF = (
    "no", "it won't bake", "all at once", "two forty volts", "m seven four two", "none", "house", "no", "no",
)  # fmt: skip


def demo() -> list[str]:
    return [turn.say for turn in demo_turns(Path(str(shipped_folder("demo_audio"))) / "script.yaml")]


def at_terminal(journal: Journal) -> Job:
    return take_up_job(shipped(), journal, "one", Channel.CHAT, lambda: 1_000_000.0)[0]


def test_a_whole_job_is_worked_and_every_event_is_that_of_the_terminal(room: Rooms, tmp_path: Path) -> None:
    one = room()
    tab = one.tab()
    for line in demo():
        tab.answer(line)
    assert tab.view["outcome"] == "repaired"
    (tmp_path / "other").mkdir()
    with open_journal(tmp_path / "other" / "jobs.db") as journal:
        job, _ = open_job(shipped(), journal, "one", Channel.PAGE, lambda: one.now_s)
        for line in demo():
            job.typed(line, Channel.PAGE)
        assert one.events == journal.events("one")


def test_a_second_tab_is_shown_the_same(room: Rooms) -> None:
    one = room()
    first = one.tab()
    first.answer("no", "it won't bake")
    second = one.tab()
    assert (second.lines, second.view) == (first.lines, first.view)
    second.answer("all at once")
    first.until(lambda: first.view == second.view, "the other tab's turn")
    assert first.lines == second.lines


def test_an_answer_to_what_is_no_longer_open_is_kept_and_not_taken(room: Rooms) -> None:
    one = room()
    first, second = one.tab(), one.tab()
    stale = second.shown["open"]
    first.answer("no")
    before = first.view["prompt"]
    second.send_message(Answer(kind="answer", text="no", open=stale))
    second.until(lambda: any("elsewhere" in line["text"] for line in second.lines), "word of it")
    assert second.view["prompt"] == before
    assert [e.outcome for e in one.events if isinstance(e, InputReceived)] == ["accepted", "late"]


def test_an_answer_to_something_never_shown_is_late_and_danger_never_is(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    tab.send_message(Answer(kind="answer", text="no", open="e999"))
    tab.send_message(Answer(kind="answer", text="there is smoke", open="e999"))
    assert tab.view["turn"] == "stopped"
    assert [e.outcome for e in one.events if isinstance(e, InputReceived)] == ["late", "accepted"]


def test_a_job_begun_elsewhere_is_only_looked_at_until_it_is_taken_up(room: Rooms) -> None:
    one = room(Channel.CHAT)
    count = len(one.events)
    tab = one.tab()
    assert tab.shown["here"] is False
    tab.send_message(Answer(kind="answer", text="no", open=tab.shown["open"]))
    assert tab.of("error")[-1]["answer"] == "no"
    assert len(one.events) == count
    tab.send_message(TakeUp(kind="take-up"))
    assert tab.shown["here"] is True
    assert isinstance(one.events[count], JobReopened)
    tab.answer("no")
    assert len([e for e in one.events if isinstance(e, InputReceived)]) == 1


def test_a_turn_at_the_terminal_shows_and_handing_over_ends_a_proof(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    lines = iter(demo())
    while tab.view["safety"]["state"] != "dead":
        tab.answer(next(lines))
    with open_journal(one.record) as journal:
        job = at_terminal(journal)
        tab.until(lambda: tab.shown["here"] is False, "the hand-over")
        assert tab.view["safety"]["state"] != "dead"
        shown = len(tab.lines)
        job.typed("status")
        tab.until(lambda: any(line["text"] == "status" for line in tab.lines[shown:]), "the terminal's turn")
        tab.send_message(TakeUp(kind="take-up"))
        tab.until(lambda: tab.shown["here"] is True, "the job back on the page")
        job.typed("status")
    asked = [event for event in one.events if isinstance(event, InputReceived) and event.text == "status"]
    assert [event.channel for event in asked] == [Channel.CHAT, Channel.CHAT]
    assert any(isinstance(event, ProofEnded) for event in one.events)


def test_the_big_stop_works_even_for_a_tab_that_only_looks_on(room: Rooms) -> None:
    one = room(Channel.CHAT)
    tab = one.tab()
    tab.send_message(Stop(kind="stop"))
    assert tab.view["turn"] == "stopped"
    assert isinstance(one.events[-2], DangerStopped)
    assert [answer["say"] for answer in tab.view["answers"]] == ["everything is safe start again"]


def test_a_proof_that_runs_out_is_told_without_anybody_asking(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    lines = iter(demo())
    while tab.view["safety"]["state"] != "dead":
        tab.answer(next(lines))
    one.now_s += 31 * 60
    tab.until(lambda: tab.view["safety"]["state"] != "dead", "the end of the proof")
    assert any(isinstance(event, TimePassed) for event in one.events)
    assert any("30 minutes" in line["text"] for line in tab.lines)


def test_an_answer_that_cannot_be_written_is_given_back(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    tab.answer("no")
    count = len(one.events)
    holder = sqlite3.connect(one.record, isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    try:
        tab.send_message(Answer(kind="answer", text="it won't bake", open=tab.shown["open"]))
    finally:
        holder.execute("ROLLBACK")
        holder.close()
    assert tab.of("error")[-1]["answer"] == "it won't bake"
    assert len(one.events) == count
    tab.answer("it won't bake")
    assert len(one.events) > count


def test_prompts_are_spoken_in_the_tab_that_wants_them(room: Rooms) -> None:
    one = room()
    quiet, loud = one.tab(), one.tab()
    one.desk.take(loud, Aloud(kind="aloud", on=True))
    loud.answer("no")
    loud.until(lambda: bool(loud.of("say")), "a prompt to play")
    said = next(message for message in loud.messages if message.told["kind"] == "say")
    assert said.sound is not None
    assert said.sound.startswith(b"RIFF")
    assert said.told["text"] == [event.speak for event in one.events if isinstance(event, Replied)][-1]
    assert not quiet.of("say")


def test_a_prompt_that_is_being_played_is_hushed_by_the_next_answer_and_by_stop(room: Rooms) -> None:
    one = room()
    tab = one.tab(holds=True)
    one.desk.take(tab, Aloud(kind="aloud", on=True))
    tab.answer("no")
    tab.until(lambda: len(tab.of("say")) == 1, "the first prompt")
    tab.answer("it won't bake")
    tab.until(lambda: len(tab.of("say")) == 2, "the second prompt")
    assert len(tab.of("hush")) == 1
    tab.send_message(Stop(kind="stop"))
    tab.until(lambda: len(tab.of("hush")) >= 2, "silence")


def test_without_an_ear_the_job_goes_on_by_typing(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    one.desk.take(tab, Listen(kind="listen", rate_hz=48_000, keep=False))
    tab.until(lambda: bool(tab.of("told")), "why there is no ear")
    assert "typing" in tab.of("told")[-1]["text"]
    assert tab.of("listening")[-1]["state"] == "off"
    tab.answer("no")


def test_a_desk_that_is_left_says_so_and_leaves_the_job_as_it_is(room: Rooms) -> None:
    one = room()
    tab = one.tab()
    tab.answer("no")
    count = len(one.events)
    one.desk.end("Stopped. Start again with: voicetech serve")
    assert tab.of("ended")[-1]["text"] == "Stopped. Start again with: voicetech serve"
    assert (one.desk.ended, len(one.events)) == (True, count)


def test_a_tab_that_comes_as_a_desk_is_left_is_told(room: Rooms) -> None:
    one = room()
    one.desk.end("Stopped.")
    tab = KeptTab()
    one.desk.show(tab)
    assert [told["text"] for told in tab.of("ended")] == ["Stopped."]


@pytest.mark.parametrize("cut", [0, 5, 40])
def test_a_job_left_anywhere_is_taken_up_again_as_it_was(cut: int, room: Rooms) -> None:
    one = room()
    tab = one.tab()
    for line in demo()[:cut]:
        tab.answer(line)
    view = tab.view
    with open_journal(one.record) as journal:
        watching = job_on_record(shipped(), journal, "one", lambda: one.now_s)
        assert watching.session.turn.value == view["turn"]
        assert len(journal.events("one")) == len(one.events)
