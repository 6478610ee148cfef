"""Listening for danger while the program speaks: what it costs, what it finds, and the program's own voice."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from tests.talking.stage import Stage, Stages
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.listening import LOOK_BACK_S, LOOK_S, SPEAKING_SHARE, Paused, Quiet, Sound, Unfinished
from voicetech.talking.danger_watch import DangerWatch
from voicetech.turn import Turn

PROMPT = "Is anything sparking, or does it smell of smoke?"
TALK = "measure from leg to leg"


@pytest.fixture
def one(stage: Stages) -> Stage:
    made: Stage = stage()
    return made


@pytest.fixture
def speaking(stage: Stages) -> Stage:
    """A stage whose voice is in the middle of the first prompt."""
    made: Stage = stage(beside=True, holds=True)
    made.talk.begin(made.first)
    assert made.voice.started.wait(10), "the voice never began"
    return made


def looks(one: Stage, text: str, length_s: float) -> Iterator[Unfinished]:
    """Yield the looks at speech of that length, one every half second."""
    sound = one.ear.sound(text, length_s=LOOK_BACK_S).samples
    for at in range(1, int(length_s / LOOK_S)):
        end_s = at * LOOK_S
        window_s = min(end_s, LOOK_BACK_S)
        window = Utterance(sound[: int(window_s * RATE_HZ)], end_s - window_s, end_s, whole=False)
        yield Unfinished(window, end_s)


def run(one: Stage, sounds: Iterable[Sound]) -> None:
    """Let the talk hear sounds while the voice goes on; then the voice ends."""

    def then_quiet() -> Iterator[Sound]:
        yield from sounds
        one.voice.holds = False
        one.voice.let_go()

    one.talk.run(then_quiet())


@pytest.mark.parametrize("decode_s", [0.05, 0.12, 0.3, 1.0])
def test_looks_into_a_prompt_cost_no_more_than_their_share(speaking: Stage, decode_s: float) -> None:
    speaking.ear.decode_s = decode_s
    speaking.ear.decoded.clear()

    def watched() -> Iterator[Sound]:
        for look in looks(speaking, TALK, 30.0):
            before = len(speaking.ear.decoded)
            yield look
            if len(speaking.ear.decoded) > before:
                assert before * decode_s <= SPEAKING_SHARE * look.open_s + 1e-9

    run(speaking, watched())
    made = len(speaking.ear.decoded)
    assert made >= min(30.0 / LOOK_S - 1, SPEAKING_SHARE * 30.0 / decode_s) * 0.75, "the share is there to be used"


def test_nothing_holds_looks_back_while_nobody_is_spoken_to(stage: Stages) -> None:
    one: Stage = stage(beside=True)
    one.ear.decode_s = 1.0
    run(one, looks(one, TALK, 10.0))
    assert len(one.ear.decoded) >= (10.0 - 3.0) / LOOK_S - 1


def test_what_was_looked_at_is_not_decoded_again(one: Stage) -> None:
    watch = DangerWatch(one.job, one.ear, streams=True)
    for look in looks(one, TALK, 8.0):
        watch.look(look, PROMPT)
    one.ear.decoded.clear()
    sound = one.ear.sound(TALK, length_s=8.0).samples
    assert watch.find(Utterance(sound, 0.0, 8.0, speech_start_s=0.4, speech_end_s=7.8), PROMPT) is None
    assert sum(utterance.length_s for utterance in one.ear.decoded) <= LOOK_BACK_S
    one.ear.decoded.clear()
    assert watch.find(Utterance(sound, 0.0, 8.2, speech_start_s=0.4, speech_end_s=7.8), PROMPT) is None
    assert one.ear.decoded == [], "nobody spoke since"


def test_looks_that_were_not_affordable_are_made_up_for_at_the_end(speaking: Stage) -> None:
    speaking.ear.decode_s = 100.0
    cry = speaking.ear.sound("i got shocked", length_s=1.25).samples
    talk = speaking.ear.sound(TALK, length_s=1.25).samples

    def sounds() -> Iterator[Sound]:
        yield from looks(speaking, TALK, 3.0)
        speaking.ear.decoded.clear()
        samples = [talk, talk, cry, cry, talk, talk]

        yield Utterance(np.concatenate(samples), 0.0, 7.5, speech_start_s=0.4, speech_end_s=7.3)

    run(speaking, sounds())
    assert speaking.job.session.turn is Turn.STOPPED


def test_a_cry_into_a_prompt_stops_the_job_at_its_pause(speaking: Stage) -> None:
    sound = speaking.ear.sound("stop", length_s=2.0)
    for at in range(20):
        speaking.cutter.take(sound.samples[at * 512 : at * 512 + 512], 0.9)
    speaking.voice.holds = False
    run(speaking, [Paused(speaking.cutter.said())])
    assert speaking.job.session.turn is Turn.STOPPED
    assert speaking.voice.hushes >= 1
    assert not speaking.cutter.speaking


@pytest.mark.parametrize("said", ["sparking", "smoke", "sparks", "it's sparking"])
def test_words_the_prompt_holds_are_the_prompt(one: Stage, said: str) -> None:
    prompt = "Is it sparking? Any smoke, any sparks? It's all to be told."
    assert DangerWatch(one.job, one.ear, streams=False).find(one.ear.sound(said), prompt) is None


def test_the_emergency_number_in_a_prompt_is_the_prompt(one: Stage) -> None:
    found = DangerWatch(one.job, one.ear, streams=False)
    assert found.find(one.ear.sound("call nine one one"), "Get out. Call 9 1 1 from outside.") is None
    assert found.find(one.ear.sound("call 911"), "Get out. Call 9 1 1 now.") is None
    assert found.find(one.ear.sound("call nine one one"), TALK) is not None


@pytest.mark.parametrize("said", ["stop", "fire", "i got shocked", "i smell gas", "stop it's sparking"])
def test_words_it_does_not_hold_are_somebody(one: Stage, said: str) -> None:
    found = DangerWatch(one.job, one.ear, streams=False).find(one.ear.sound(said), PROMPT)
    assert found is not None
    assert found.text == said


def test_past_danger_in_talk_is_not_an_alarm(one: Stage) -> None:
    assert DangerWatch(one.job, one.ear, streams=False).find(one.ear.sound("it sparked last night"), TALK) is None


def test_a_prompt_that_is_misheard_is_silenced_once_and_not_again(speaking: Stage) -> None:
    """Its own "by eye" may sound like "fire" until the sentence is complete."""
    speaking.voice.holds = False
    misheard = Unfinished(speaking.ear.sound("fire", start_s=1.0, whole=False), 0.6)
    whole = speaking.ear.sound("plug and outlet by eye", start_s=1.0)
    speaking.talk.run([misheard])
    assert speaking.voice.hushes == 1
    speaking.voice.holds = True
    speaking.voice.started.clear()
    speaking.talk.take(whole)

    def said_again() -> Iterator[Sound]:
        yield Quiet(3.6)
        assert speaking.voice.started.wait(10), "the prompt is said again"
        yield Unfinished(speaking.ear.sound("fire", start_s=4.0, whole=False), 0.6)

    run(speaking, said_again())
    assert speaking.voice.hushes == 1
    assert speaking.job.session.turn is Turn.ASKING


def test_a_cry_of_the_misheard_word_still_stops_the_job(speaking: Stage) -> None:
    speaking.voice.holds = False
    speaking.talk.run([Unfinished(speaking.ear.sound("fire", start_s=1.0, whole=False), 0.6)])
    speaking.talk.take(speaking.ear.sound("plug and outlet by eye", start_s=1.0))
    speaking.talk.take(speaking.ear.sound("fire", start_s=2.0))
    assert speaking.job.session.turn is Turn.STOPPED


def loud(one: Stage, text: str, level: float, start_s: float) -> Utterance:
    """Return sound that somebody makes at that level; the ear hears the text in it."""
    sound = one.ear.sound(text, start_s=start_s)
    samples = sound.samples.copy()
    samples[1:] = level
    return replace(sound, samples=samples)


def test_a_voice_raised_over_the_prompt_silences_it_before_it_is_understood(speaking: Stage) -> None:
    speaking.talk.take(loud(speaking, TALK, 0.1, 0.0))
    hushes: list[int] = []

    def sounds() -> Iterator[Sound]:
        yield Unfinished(loud(speaking, TALK, 0.15, 1.0), 1.0)
        yield Quiet(2.0)
        hushes.append(speaking.voice.hushes)
        speaking.voice.holds = False
        yield Unfinished(loud(speaking, TALK, 0.25, 2.0), 1.0)
        hushes.append(speaking.voice.hushes)
        speaking.talk.take(loud(speaking, "muffled", 0.25, 2.0))
        yield Quiet(3.5)
        yield loud(speaking, "stop", 0.25, 3.6)

    speaking.talk.run(sounds())
    assert hushes == [0, 1]
    assert speaking.job.session.turn is Turn.STOPPED, "there was time to repeat it"
    assert speaking.voice.said[0] == speaking.first.speak
    assert len(speaking.voice.said) == 2, "the prompt is not said into the repetition"


def test_shouting_does_not_silence_what_to_do_in_danger(speaking: Stage) -> None:
    speaking.talk.take(loud(speaking, TALK, 0.1, 0.0))
    speaking.talk.take(loud(speaking, "fire", 0.1, 1.0))
    assert speaking.job.session.turn is Turn.STOPPED
    before = speaking.voice.hushes
    run(speaking, [Unfinished(loud(speaking, TALK, 0.9, 2.0), 1.0)])
    assert speaking.voice.hushes == before
