"""Speaking while the program speaks, into a microphone that does not hear the program."""

from collections.abc import Iterator

import pytest

from tests.talking.stage import Stage, Stages
from voicetech.events import AnswerTaken, VoiceChanged
from voicetech.hearing.endpoint import EndpointSettings
from voicetech.hearing.frames import FRAME_SAMPLES, Utterance
from voicetech.hearing.listening import Paused, Quiet, Sound, Unfinished
from voicetech.turn import Turn


@pytest.fixture
def speaking(stage: Stages) -> Stage:
    """A stage with a headset whose voice is in the middle of the first prompt, at 1 s of the recording."""
    one: Stage = stage(beside=True, holds=True, headset=True)
    one.talk.begin(one.first)
    assert one.voice.started.wait(10), "the voice never began"
    one.voice.holds = False
    one.recording_s = 1.0
    return one


def open_in_the_cutter(one: Stage, sound: Utterance) -> None:
    """Let somebody be in the middle of saying this."""
    for at in range(20):
        one.cutter.take(sound.samples[at * FRAME_SAMPLES :][:FRAME_SAMPLES], 0.9)


def test_an_answer_silences_the_prompt_and_is_taken(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("no", start_s=1.0))
    speaking.talk.run(())
    assert speaking.voice.hushes >= 1
    assert speaking.heard == [("no", True)]
    assert speaking.of(AnswerTaken)
    assert speaking.voice.said == [speaking.first.speak, speaking.replies[-1].speak]


def test_it_is_taken_at_its_first_pause(speaking: Stage) -> None:
    sound = speaking.ear.sound("no", start_s=1.0)
    open_in_the_cutter(speaking, sound)
    speaking.talk.run([Paused(speaking.cutter.said())])
    assert speaking.heard == [("no", True)]
    assert not speaking.cutter.speaking


def test_what_begins_like_an_answer_silences_the_prompt_and_is_not_taken_yet(speaking: Stage) -> None:
    speaking.talk.run([Unfinished(speaking.ear.sound("no", start_s=1.0, whole=False), 0.6)])
    assert speaking.voice.hushes == 1
    assert speaking.heard == []


def test_a_prompt_that_was_silenced_in_vain_is_said_again(speaking: Stage) -> None:
    speaking.talk.run([Unfinished(speaking.ear.sound("no", start_s=1.0, whole=False), 0.6)])
    speaking.talk.take(speaking.ear.sound("no way did he say that", start_s=1.0))
    speaking.talk.run([Quiet(4.0)])
    assert speaking.voice.said == [speaking.first.speak] * 2


@pytest.mark.parametrize("said", ["we had lunch", "and then she told me"])
def test_people_nearby_do_not_silence_it(speaking: Stage, said: str) -> None:
    speaking.voice.holds = True
    speaking.talk.take(speaking.ear.sound(said, start_s=1.0))
    assert speaking.voice.hushes == 0
    assert speaking.heard == [(said, False)]
    speaking.voice.let_go()


def test_an_answer_after_it_was_silenced_in_vain_is_as_good(speaking: Stage) -> None:
    speaking.talk.run([Unfinished(speaking.ear.sound("no", start_s=1.0, whole=False), 0.6)])
    speaking.talk.take(speaking.ear.sound("no way did he say that", start_s=1.0))
    speaking.talk.take(speaking.ear.sound("no", start_s=2.5))
    speaking.talk.run([Quiet(5.0), Quiet(6.0)])
    assert speaking.voice.said == [speaking.first.speak, speaking.replies[-1].speak]


def test_danger_stops_the_job(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("sparking", start_s=1.0))
    assert speaking.voice.hushes >= 1
    assert speaking.job.session.turn is Turn.STOPPED, "the headset does not hear the prompt say so"


def test_danger_in_unfinished_speech_stops_it_at_the_second_look(speaking: Stage) -> None:
    sound = speaking.ear.sound("stop", length_s=2.0, start_s=1.0)
    open_in_the_cutter(speaking, sound)
    look = speaking.cutter.so_far(2.5)
    speaking.talk.run([Unfinished(look, 0.6), Unfinished(look, 1.1)])
    assert speaking.job.session.turn is Turn.STOPPED


def test_a_request_that_asks_nothing_has_the_prompt_said_again(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("louder", start_s=1.0))
    speaking.talk.run(())
    assert speaking.voice.said == [speaking.first.speak, "Louder.", speaking.first.speak]


def test_a_wish_for_silence_does_not(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("be quiet", start_s=1.0))
    speaking.talk.run(())
    assert speaking.of(VoiceChanged)
    assert speaking.voice.said == [speaking.first.speak]


def test_an_answer_into_a_prompt_is_given_as_long_to_end_as_any(speaking: Stage) -> None:
    ends_s: list[float] = []

    def sounds() -> Iterator[Sound]:
        yield Quiet(1.0)
        ends_s.append(speaking.cutter.settings.end_silence_s)
        speaking.voice.let_go()

    speaking.talk.run(sounds())
    assert ends_s == [EndpointSettings().end_silence_s]


def test_with_an_address_word_only_what_begins_with_it_silences_the_prompt(stage: Stages) -> None:
    one: Stage = stage(beside=True, holds=True)
    one.talk.close()
    one.talk = one.make(None, beside=True, headset=True, address_word="wrench")
    one.talk.begin(one.first)
    assert one.voice.started.wait(10)
    before = one.voice.hushes
    one.talk.take(one.ear.sound("no", start_s=1.0))
    assert one.voice.hushes == before
    one.voice.holds = False
    one.talk.take(one.ear.sound("wrench no", start_s=2.0))
    assert one.voice.hushes > before
    assert one.heard == [("no", False), ("no", True)]
