"""The walkthrough's facts: every turn with what came in, what it led to, what was suspected and what reviewers said."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.dialogue.talker import lexicon, shipped
from tests.replay.jobs import session_lines, typed_job
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.job import open_job
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import Commented, Mark, Misheard, SignedOff, TakenBack
from voicetech.reports.facts.without_names import readable_without_names
from voicetech.reports.walkthrough.facts import Flag, TurnFact, Walkthrough, walkthrough_of
from voicetech.turn import Turn


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with open_journal(tmp_path / "jobs.db") as opened:
        yield opened


def walked(journal: Journal, *lines: str, marks: tuple[Mark, ...] = ()) -> Walkthrough:
    typed_job(journal, "one", lines)
    return walkthrough_of(shipped(), journal.readable_events("one"), marks)


def session(journal: Journal, name: str) -> Walkthrough:
    return walked(journal, *session_lines(name))


def said(walkthrough: Walkthrough, words: str) -> TurnFact:
    return next(turn for turn in walkthrough.turns if turn.said and turn.said.words == words)


def whats(turn: TurnFact) -> list[str]:
    return [each.what for each in turn.happened]


def test_every_turn_is_there_in_order_with_its_number(journal: Journal) -> None:
    walkthrough = session(journal, "bake-element-repaired")
    lines = session_lines("bake-element-repaired")
    assert [turn.said.words for turn in walkthrough.turns if turn.said] == lines
    assert walkthrough.turns[0].began == "Job opened by chat"
    assert walkthrough.events == len(journal.events("one"))
    numbers = [turn.number for turn in walkthrough.turns]
    assert numbers == sorted(set(numbers))
    assert isinstance(journal.events("one")[numbers[1] - 1], InputReceived)


def test_a_reading_stands_with_its_limits_and_verdict(journal: Journal) -> None:
    walkthrough = session(journal, "bake-element-repaired")
    outside = [turn for turn in walkthrough.turns if Flag.OUT_OF_LIMITS in turn.flags]
    assert outside
    reading = next(each.reading for each in outside[0].happened if each.reading is not None)
    assert reading.limits
    assert reading.verdict == "over range"
    assert reading.band is not None


def test_what_is_suspected_is_told_where_it_changes(journal: Journal) -> None:
    walkthrough = session(journal, "bake-element-repaired")
    told = [turn for turn in walkthrough.turns if turn.suspects is not None]
    assert len(told) < len(walkthrough.turns) / 2
    last = told[-1].suspects
    assert last is not None
    assert last[0].proved
    assert last[0].says == "The bake element is open"
    first = told[0].suspects
    assert first is not None
    assert not first[0].proved
    assert sum(each.share for each in first) <= 1.01


def test_making_safe_and_the_proof_are_flagged(journal: Journal) -> None:
    walkthrough = session(journal, "bake-element-repaired")
    safety = [what for turn in walkthrough.turns if Flag.SAFETY in turn.flags for what in whats(turn)]
    for what in ("isolated", "tester proved", "reads dead", "proved dead", "hold taken", "proof of dead ended"):
        assert what in safety


def test_danger_and_the_way_back(journal: Journal) -> None:
    walkthrough = session(journal, "danger-and-the-way-back")
    danger = [turn for turn in walkthrough.turns if Flag.DANGER in turn.flags]
    assert any("danger: everything stopped" in whats(turn) for turn in danger)
    every = [what for turn in walkthrough.turns for what in whats(turn)]
    assert "stop ended" in every
    assert "what had happened" in every
    assert walkthrough.moves[Turn.STOPPED, Turn.RECOUNTING] >= 1


def test_a_hand_over_says_to_whom(journal: Journal) -> None:
    walkthrough = session(journal, "lost-leg-handed-over")
    over = next(each for turn in walkthrough.turns for each in turn.happened if each.what == "handed over")
    assert "To: " in over.words


def test_a_correction_is_a_correction_and_what_it_replaced_is_withdrawn(journal: Journal) -> None:
    walkthrough = walked(journal, "no", "bake", "at once", "two forty", "no, two oh eight", "pause", "resume")
    corrected = said(walkthrough, "no, two oh eight")
    assert Flag.CORRECTION in corrected.flags
    (withdrawn,) = [each for each in corrected.happened if each.what == "withdrawn"]
    assert withdrawn.words == "Plate volts: 240\N{NO-BREAK SPACE}V, because of: correction"
    first = said(walkthrough, "two forty").happened
    assert first[0].withdrawn is not None
    assert whats(said(walkthrough, "pause")) == ["paused"]


def test_what_was_not_understood_is_flagged(journal: Journal) -> None:
    walkthrough = walked(journal, "no", "mumble", "repeat", "note: a chafed cord")
    assert Flag.AGAIN in said(walkthrough, "mumble").flags
    assert whats(said(walkthrough, "repeat")) == ["asked the program"]
    assert said(walkthrough, "note: a chafed cord").happened[0].words == "a chafed cord"


def test_rivals_stand_with_their_probabilities(journal: Journal) -> None:
    job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 5.0)
    job.typed("no")
    heard = Heard((Alternative("bake", 0.55), Alternative("broil", 0.43)), "ear", 0.98, "bake or")
    job.heard(heard, Channel.VOICE, "f" * 64)
    walkthrough = walkthrough_of(shipped(), journal.readable_events("one"))
    turn = walkthrough.turns[-1]
    assert turn.said is not None
    assert turn.said.alternatives == (("bake", 0.55), ("broil", 0.43))
    assert (turn.said.for_us, turn.said.free) == (0.98, "bake or")
    assert walkthrough.sounds == ("f" * 64,)
    assert Flag.AGAIN in turn.flags


def test_what_was_acted_on_is_told_where_it_is_known(journal: Journal) -> None:
    job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 5.0)
    job.typed("no")
    for heard in (
        Heard((Alternative("bake", 0.55), Alternative("broil", 0.43)), "ear", 0.98),
        Heard((Alternative("bake", 0.97), Alternative("broil", 0.02)), "ear", 0.98),
        Heard((Alternative("at once", 1.0),), "ear"),
        # By sound a request is a little likelier; where a number is owed it is not what was said.
        Heard((Alternative("repeat", 0.5), Alternative("two forty volts", 0.49)), "ear"),
    ):
        job.heard(heard)
    readable = journal.readable_events("one")
    asked, taken, _, second = (turn.said for turn in walkthrough_of(shipped(), readable, lexicon=lexicon()).turns[2:])
    assert asked is not None
    assert (asked.taken, asked.offered) == ("", ("bake", "broil"))
    assert taken is not None
    assert (taken.taken, taken.offered) == ("bake", ())
    assert second is not None
    assert (second.words, second.taken, second.offered) == ("repeat", "two forty volts", ())
    assert all(turn.said is None or turn.said.taken == "" for turn in walkthrough_of(shipped(), readable).turns)


def test_the_way_goes_from_section_to_section(journal: Journal) -> None:
    walkthrough = session(journal, "bake-element-repaired")
    titles = [stay.title for stay in walkthrough.stays]
    assert titles[0] == "Intake"
    assert titles.index("Making safe") < titles.index("Repair") < titles.index("Retest")
    assert sum(stay.turns for stay in walkthrough.stays) == len([turn for turn in walkthrough.turns if turn.place])
    assert all(stay.to_s >= stay.from_s for stay in walkthrough.stays)


def test_marks_stand_where_they_belong(journal: Journal) -> None:
    typed_job(journal, "one", ["no", "bake"])
    number = walkthrough_of(shipped(), journal.readable_events("one")).turns[2].number
    marks: tuple[Mark, ...] = (
        Misheard(number, "broil", "Ann", 1.0),
        Commented(None, "quick work", "Ann", 2.0),
        Commented(number, "taken back", "Ann", 3.0),
        TakenBack(3, "Ann", 4.0),
        SignedOff(3, "Ann", 5.0),
    )
    walkthrough = walkthrough_of(shipped(), journal.readable_events("one"), marks)
    turn = walkthrough.turns[2]
    assert [(each.nr, each.mark) for each in turn.marks] == [(1, marks[0])]
    assert Flag.MARK in turn.flags
    assert Flag.DIFFERING not in turn.flags
    other = (*marks, Misheard(number, "bake", "Ben", 6.0))
    turn = walkthrough_of(shipped(), journal.readable_events("one"), other).turns[2]
    assert [each.nr for each in turn.marks] == [1, 6]
    assert Flag.DIFFERING in turn.flags
    assert [each.nr for each in walkthrough.comments] == [2]
    (sign_off,) = walkthrough.sign_offs
    assert sign_off.stale
    assert walkthrough.events > 3


def test_without_its_procedure_the_names_are_as_stored(journal: Journal) -> None:
    typed_job(journal, "one", ["no", "bake"])
    walkthrough = walkthrough_of(None, journal.readable_events("one"))
    assert walkthrough.turns[1].place == "Intake"
    assert all(turn.suspects is None for turn in walkthrough.turns)


def test_without_names_the_numbers_stay_and_the_words_go(journal: Journal) -> None:
    walked(journal, "no", "bake", "note: the customer is called Bonaparte")
    full = walkthrough_of(shipped(), journal.readable_events("one"))
    bare = walkthrough_of(
        shipped(), readable_without_names(journal.readable_events("one"), shipped()), without_names=True
    )
    assert [turn.number for turn in bare.turns] == [turn.number for turn in full.turns]
    assert "Bonaparte" in repr(full)
    assert "Bonaparte" not in repr(bare)
