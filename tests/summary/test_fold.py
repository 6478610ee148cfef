"""Real conversations folded to their summaries."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from tests.dialogue.talker import Talker, shipped
from tests.journal.examples import closed, complaint, opened
from tests.replay.jobs import session_lines
from voicetech.events import (
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    Event,
    InputReceived,
    SectionEnded,
)
from voicetech.marks import Commented, Mark, Misheard
from voicetech.summary.fold import Readable, summary_of
from voicetech.summary.records import Fault, FaultState, JobSummary, Who, words_of

WORDS = words_of(shipped())


def folded(events: Sequence[Event], *marks: Mark, words: bool = True) -> JobSummary:
    readable = Readable(tuple(events), tuple(range(1, len(events) + 1)), len(events), marks)
    return summary_of("job", readable, WORDS if words else None)


@pytest.fixture(scope="module")
def repaired() -> tuple[Event, ...]:
    talker = Talker()
    talker.say(*session_lines("bake-element-repaired"))
    return tuple(talker.events)


def test_a_repaired_job(repaired: tuple[Event, ...]) -> None:
    summary = folded(repaired)
    assert (summary.procedure, summary.appliance) == ("electric-range-no-heat", "electric range")
    assert (summary.model, summary.serial) == ("M742", None)
    assert (summary.complaint, summary.complaint_says) == ("bake", "bake does not heat")
    assert summary.outcome == "repaired"
    assert summary.faults == (Fault("bake-open", "the bake element is open", FaultState.PROVED),)
    assert summary.parts == ("bake element",)
    assert summary.proofs_of_dead == 2
    assert summary.tests == 12
    assert {section.section for section in summary.sections} >= {"intake", "make-safe", "bake", "repair"}
    assert sum(section.seconds for section in summary.sections) <= summary.worked_s


def test_without_the_procedure_nothing_is_made_up(repaired: tuple[Event, ...]) -> None:
    summary = folded(repaired, words=False)
    assert (summary.appliance, summary.tests, summary.complaint_says) == (None, None, "")
    assert summary.complaint == "bake"
    assert [fault.cause for fault in summary.faults] == ["bake-open"]


def test_each_speakers_words_are_lines_with_the_event_they_stand_in(repaired: tuple[Event, ...]) -> None:
    summary = folded(repaired, Misheard(8, "it won't broil", "ann", 5.0), Commented(None, "Well done", "ann", 6.0))
    lines = {(line.who, line.text): line for line in summary.lines}
    said = lines[Who.TECHNICIAN, "it won't bake"]
    assert said.at_s is not None
    assert lines[Who.REVIEWER, "it won't broil"].event == 8
    assert (Who.REVIEWER, "Well done") in lines
    assert (Who.RECORD, "bake-open the bake element is open") in lines
    assert len(lines) == len(summary.lines), "each text once for each speaker"


def test_what_people_nearby_said_is_no_line_of_the_job() -> None:
    talker = Talker()
    talker.say("no")
    heard = next(event for event in talker.events if isinstance(event, InputReceived))
    summary = folded([*talker.events, replace(heard, outcome="ignored", text="what is for dinner")])
    assert not any("dinner" in line.text for line in summary.lines)


def shown(seq: int, cause: str, proved: bool = True) -> CauseShown:
    return CauseShown(seq, cause, proved, "bake", "bake-ohms")


def test_a_fault_that_is_withdrawn_is_none_and_one_that_is_ruled_out_says_so() -> None:
    begun: tuple[Event, ...] = (opened("job"), complaint(1, "bake"))
    gone = folded((*begun, shown(2, "bake-open"), AnswerWithdrawn(2, "undo", 1.0)))
    assert gone.faults == ()
    suspected = folded((*begun, shown(2, "bake-open", proved=False)))
    assert suspected.faults[0].state is FaultState.SUSPECTED
    ruled_out = folded((*begun, shown(2, "bake-open", proved=False), CausesExcluded(3, ("bake-open", "lost-leg"))))
    assert [(f.cause, f.state) for f in ruled_out.faults] == [("bake-open", FaultState.RULED_OUT)]
    assert ruled_out.parts == ()


def test_a_fault_that_was_mended_before_the_next_one_was_found_was_there() -> None:
    events: list[Event] = [
        opened("job"),
        shown(2, "bake-open"),
        SectionEnded(3, "repair", "done"),
        CausesExcluded(4, ("bake-open",)),
        shown(5, "broil-open"),
        closed("repaired"),
    ]
    states = {fault.cause: fault.state for fault in folded(events).faults}
    assert states == {"bake-open": FaultState.MENDED, "broil-open": FaultState.PROVED}
    assert all(state.found for state in states.values())


def test_the_last_complaint_that_stands_counts() -> None:
    corrected: list[Event] = [
        opened("job"),
        complaint(1, "bake"),
        AnswerWithdrawn(1, "correction", 1.0),
        complaint(2, "broil"),
    ]
    assert folded(corrected).complaint == "broil"


def test_nothing_readable_is_still_a_job() -> None:
    summary = summary_of("job", Readable((), (), stored=3, unreadable=3))
    assert (summary.events, summary.unreadable, summary.outcome, summary.opened_at_s) == (3, 3, None, None)
