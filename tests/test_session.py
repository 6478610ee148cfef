"""Folding: the record alone gives the job as it stands."""

import pytest

from tests.dialogue.talker import Talker
from voicetech.events import Event, JobOpened, Replied, decoded, encoded
from voicetech.session import Power, evolve, fold
from voicetech.turn import Turn

LINES = (
    ("no", "bake", "at once", "undo", "faded", "two forty volts", "twelve kilowatts", "m seven four two", "yes"),
    ("go to the bake element", "four wire cord", "plug is out", "one twenty", "no", "one twenty one", "yes"),
    ("stop", "everything is safe start again", "the cord was chafed"),
    ("pause", "resume", "call mode", "resume", "note: the drawer is missing"),
)


def after(lines: tuple[str, ...]) -> Talker:
    talker = Talker()
    talker.say(*lines)
    return talker


@pytest.mark.parametrize("lines", LINES)
def test_the_record_folds_to_the_session_it_came_from(lines: tuple[str, ...]) -> None:
    talker = after(lines)
    assert fold(talker.events) == talker.session


@pytest.mark.parametrize("lines", LINES)
def test_what_is_stored_and_read_back_folds_to_the_same(lines: tuple[str, ...]) -> None:
    talker = after(lines)
    stored: list[Event] = [decoded(*encoded(event)) for event in talker.events]
    assert stored == talker.events
    assert fold(stored) == talker.session


def test_what_was_said_changes_nothing_by_itself() -> None:
    talker = after(LINES[0])
    assert evolve(talker.session, Replied("anything", ())) == talker.session


def test_an_undo_takes_back_the_answer_and_what_followed_from_it() -> None:
    talker = after(("no", "bake", "at once"))
    assert talker.session.answers["onset"] == "at-once"
    talker.say("undo")
    assert "onset" not in talker.session.answers
    assert talker.session.answers["complaint"] == "bake"
    assert talker.place == "intake/onset"


def test_undo_can_be_said_again_and_again_down_to_the_first_answer() -> None:
    talker = after(("no", "bake", "at once", "undo", "undo", "undo"))
    assert talker.place == "intake/urgent"
    assert "nothing to undo" in talker.say("undo")


def test_a_record_that_does_not_begin_with_its_opening_is_refused() -> None:
    talker = after(LINES[0])
    assert isinstance(talker.events[0], JobOpened)
    with pytest.raises(ValueError, match="begins with its opening"):
        fold(talker.events[1:])


def test_a_job_begins_with_nothing_known_of_its_power() -> None:
    session = Talker().session
    assert session.safety.power is Power.UNKNOWN
    assert session.turn is Turn.ASKING
    assert not session.proof_stands(session.last_at_s, 1800)
