"""Whether sound may be kept: asked before anything else, off without a yes, and never in the way of danger."""

import pytest

from tests.dialogue.talker import lexicon, shipped
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import KeepSound, Opening, Reopening
from voicetech.dialogue.keeping_sound import SOUND_QUESTION
from voicetech.dialogue.reply import reply
from voicetech.events import Channel, Event, SoundAgreed, SoundAsked, StepEntered
from voicetech.heard import typed
from voicetech.language.meaning import Asking
from voicetech.language.spoken_length import spoken_length_s
from voicetech.replaying import decided_again, turns_of
from voicetech.sense import made_of
from voicetech.session import Session, fold
from voicetech.turn import Turn


class Beginning:
    """A job by voice whose first question is about its sound."""

    def __init__(self, wish: KeepSound = KeepSound.ASK) -> None:
        self.events: list[Event] = list(decide(shipped(), None, Opening("one", Channel.VOICE, 1.0, wish)))
        self.said = reply(shipped(), self.session, self.events).speak

    @property
    def session(self) -> Session:
        return fold(self.events)

    def say(self, line: str) -> str:
        words = made_of(shipped(), self.session, lexicon(), typed(line), Channel.VOICE, 2.0)
        caused = decide(shipped(), self.session, words)
        self.events += caused
        self.said = reply(shipped(), self.session, caused).speak
        return self.said


FIRST_QUESTION = "Is it sparking, smoking or giving shocks right now"


def test_it_is_asked_first_and_nothing_else_is() -> None:
    begun = Beginning()
    assert begun.said == SOUND_QUESTION
    assert begun.session.sound_kept is None
    assert spoken_length_s(SOUND_QUESTION) < 8


@pytest.mark.parametrize(("line", "kept"), [("yes", True), ("sure", True), ("no", False), ("no thanks", False)])
def test_the_answer_is_on_record_and_the_job_begins(line: str, kept: bool) -> None:
    begun = Beginning()
    said = begun.say(line)
    assert begun.session.sound_kept is kept
    assert SoundAgreed(kept, False, 2.0) in begun.events
    assert FIRST_QUESTION in said
    assert ("Sound is kept." in said) is kept
    begun.say("no")
    assert not any(isinstance(event, SoundAsked) for event in begun.events[4:])


def test_what_is_neither_yes_nor_no_twice_is_a_no() -> None:
    begun = Beginning()
    assert "Yes, or no?" in begun.say("banana bread")
    assert begun.session.sound_asked
    assert begun.say("repeat") == SOUND_QUESTION
    begun.say("banana bread")
    assert FIRST_QUESTION in begun.say("banana bread")
    assert begun.session.sound_kept is False


@pytest.mark.parametrize("line", ["stop", "it's on fire", "I got shocked"])
def test_danger_comes_before_it(line: str) -> None:
    begun = Beginning()
    begun.say(line)
    assert begun.session.turn is Turn.STOPPED
    assert not begun.session.sound_asked
    assert begun.session.sound_kept is None


def test_what_was_agreed_beforehand_or_is_off_is_not_asked() -> None:
    agreed = Beginning(KeepSound.AGREED)
    assert agreed.session.sound_kept is True
    assert FIRST_QUESTION in agreed.said
    off = Beginning(KeepSound.OFF)
    assert off.session.sound_kept is None
    assert not any(isinstance(event, (SoundAsked, SoundAgreed)) for event in off.events)


def test_a_job_taken_up_by_voice_is_asked_once() -> None:
    begun = Beginning(KeepSound.OFF)
    begun.say("no")
    again = Reopening(Channel.VOICE, "the program was started again", 3.0, KeepSound.ASK)
    begun.events += decide(shipped(), begun.session, again)
    assert begun.session.sound_asked
    begun.say("no")
    assert isinstance(begun.events[-1], StepEntered)
    begun.events += decide(shipped(), begun.session, again)
    assert not begun.session.sound_asked
    assert begun.session.sound_kept is False


def test_the_question_is_a_yes_or_no_for_the_ear_too() -> None:
    from voicetech.dialogue.questions import question_for

    assert question_for(shipped(), Beginning().session).asking is Asking.YES_NO


@pytest.mark.parametrize("wish", KeepSound)
def test_it_is_decided_the_same_from_the_record(wish: KeepSound) -> None:
    begun = Beginning(wish)
    for line in ("banana bread", "yes", "no", "bake"):
        begun.say(line)
    for turn in turns_of(begun.events):
        assert decided_again(shipped(), lexicon(), turn)[0] == turn.caused
