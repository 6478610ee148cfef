"""Talking a job through on a stage: what is answered, kept, spoken and stopped."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.talking.stage import CLEAR, HeldVoice, Stage, Stages
from voicetech.dialogue.reply import Line, LineKind, Reply
from voicetech.events import (
    AnswerTaken,
    Channel,
    DangerRecounted,
    DangerStopped,
    Event,
    InputReceived,
    NoteTaken,
    Replied,
    VoiceChanged,
)
from voicetech.hearing.endpoint import EndpointSettings
from voicetech.hearing.frames import FRAME_SAMPLES, RATE_HZ, Utterance
from voicetech.hearing.listening import Quiet, Sound, Unfinished
from voicetech.job import Job
from voicetech.journal.sounds import load_sound, sound_path
from voicetech.journal.store import open_journal
from voicetech.speaking.background import BackgroundVoice
from voicetech.speaking.speaker import SpeakingError
from voicetech.talking import fit_address_word, heard_for
from voicetech.talking.talk import SPEAKING_END_S
from voicetech.turn import Turn


def test_an_answer_is_taken_shown_and_answered_aloud(stage: Stages) -> None:
    one = stage()
    one.talk.begin(one.first)
    before = one.job.session.at
    one.say("no")
    assert one.heard == [("no", True)]
    assert one.job.session.at != before
    assert one.replies[0] == one.first
    assert one.voice.said == [reply.speak for reply in one.replies]


def test_nothing_is_spoken_that_is_not_on_record(stage: Stages, tmp_path: Path) -> None:
    one = stage()
    on_record: list[bool] = []

    def say(text: str) -> None:
        with open_journal(tmp_path / "jobs.db") as journal:
            on_record.append(any(isinstance(e, Replied) and e.speak == text for e in journal.events("one")))

    one.voice.say = say  # type: ignore[method-assign]
    one.say("no", "repeat")
    assert on_record == [True, True]


def test_a_tone_invites_the_answer_and_nothing_else(stage: Stages) -> None:
    one = stage()
    one.talk.begin(one.first)
    assert one.voice.tones == 1
    one.say("slower")
    assert one.voice.tones == 1


def test_the_sound_of_an_answer_is_kept_and_its_event_names_it(stage: Stages) -> None:
    one = stage()
    utterance = one.ear.sound("no")
    one.talk.take(utterance)
    (received,) = one.of(InputReceived)
    assert isinstance(received, InputReceived)
    assert received.sound_sha256 is not None
    kept = load_sound(one.sounds, received.sound_sha256)
    assert np.allclose(kept / 32_768, utterance.samples, atol=1e-4)


def test_the_sound_is_on_disk_before_the_event_is(stage: Stages) -> None:
    one = stage()
    there: list[bool] = []
    append = one.journal.append

    def watching(job: str, at: int, events: list[Event]) -> int:
        names = [e.sound_sha256 for e in events if isinstance(e, InputReceived) and e.sound_sha256]
        there.extend(sound_path(one.sounds, name).is_file() for name in names)
        return append(job, at, events)

    one.journal.append = watching  # type: ignore[method-assign, assignment]
    one.say("no")
    assert there == [True]


def test_people_nearby_are_neither_answered_nor_kept(stage: Stages) -> None:
    one = stage()
    one.say("what are we having for lunch")
    assert one.heard == [("what are we having for lunch", False)]
    assert one.voice.said == []
    assert not one.sounds.exists()


def test_without_a_folder_no_sound_is_kept(stage: Stages) -> None:
    one = stage()
    one.talk.close()
    one.talk = one.make(None)
    one.say("no")
    (received,) = one.of(InputReceived)
    assert isinstance(received, InputReceived)
    assert received.sound_sha256 is None
    assert not one.sounds.exists()


def test_no_room_for_sounds_is_told_once_and_the_job_goes_on(stage: Stages) -> None:
    one = stage()
    one.sounds.write_text("a file where a folder is needed", encoding="utf-8")
    one.say("no", "repeat")
    assert len(one.told) == 1
    assert "goes on without sounds" in one.told[0]
    assert len(one.of(InputReceived)) == 2


def test_danger_said_into_a_prompt_silences_it_and_stops_the_job(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("i got shocked", start_s=1.0))
    assert speaking.voice.hushes >= 1
    assert speaking.job.session.turn is Turn.STOPPED
    assert speaking.heard == [("i got shocked", True)]
    speaking.voice.let_go()


@pytest.mark.parametrize("said", ["no", "yes", "two forty volts", "repeat", "we had lunch"])
def test_other_speech_into_a_prompt_is_ignored(speaking: Stage, said: str) -> None:
    before = len(speaking.events())
    speaking.talk.take(speaking.ear.sound(said, start_s=1.0))
    assert len(speaking.events()) == before
    assert speaking.heard == []
    assert speaking.voice.hushes == 0


def test_words_of_the_prompt_itself_do_not_count(speaking: Stage) -> None:
    assert "sparking" in speaking.first.speak
    speaking.talk.take(speaking.ear.sound("sparking", start_s=1.0))
    assert not speaking.of(DangerStopped)
    speaking.talk.take(speaking.ear.sound("stop", start_s=2.0))
    assert speaking.of(DangerStopped)


def test_danger_in_the_middle_of_long_speech_is_found(speaking: Stage) -> None:
    length = int(1.25 * RATE_HZ)
    places = [speaking.ear.sound(text).samples[:length] for text in ("measure from", "leg", "stop", "to leg", "now")]
    speaking.talk.take(Utterance(np.concatenate(places), 0.5, 0.5 + 5 * 1.25))
    assert speaking.job.session.turn is Turn.STOPPED


def test_a_wish_for_silence_is_heard_into_a_prompt(speaking: Stage) -> None:
    speaking.talk.take(speaking.ear.sound("be quiet", start_s=1.0))
    assert speaking.voice.hushes >= 1
    assert len(speaking.of(VoiceChanged)) == 1


def finish_prompt(one: Stage, at_s: float) -> None:
    """Let the prompt end at this time of the recording."""
    one.recording_s = at_s
    one.voice.holds = False
    one.voice.let_go()
    one.talk.run(())


def test_an_answer_after_the_prompt_is_taken(speaking: Stage) -> None:
    finish_prompt(speaking, 3.0)
    speaking.talk.take(speaking.ear.sound("no", start_s=3.4))
    assert speaking.heard == [("no", True)]


def test_the_echo_of_a_prompt_is_not_an_answer(speaking: Stage) -> None:
    finish_prompt(speaking, 3.0)
    speaking.talk.take(speaking.ear.sound("no", start_s=2.7))
    assert speaking.heard == []


def test_a_look_into_unfinished_sound_silences_the_prompt_and_the_end_decides(speaking: Stage) -> None:
    voice, first = speaking.voice, speaking.first.speak
    sound = speaking.ear.sound("stop", start_s=1.0)
    voice.holds = False
    speaking.talk.run([Unfinished(sound, 0.6)])
    assert voice.hushes >= 1
    assert speaking.job.session.turn is Turn.ASKING
    assert voice.said == [first]
    speaking.talk.take(speaking.ear.sound("stopwatch", start_s=1.0, length_s=1.0))
    speaking.talk.run([Quiet(3.4)])
    assert voice.said == [first]
    speaking.talk.run([Quiet(3.6)])
    assert voice.said == [first, first]
    speaking.talk.run([Quiet(6.0)])
    assert voice.said == [first, first], "said again once"
    assert speaking.job.session.turn is Turn.ASKING


def test_a_second_cry_ends_the_utterance_at_once(speaking: Stage) -> None:
    sound = speaking.ear.sound("stop", length_s=2.0)
    for at in range(40):
        frame = sound.samples[at * 16 : at * 16 + FRAME_SAMPLES]
        speaking.cutter.take(np.resize(frame, FRAME_SAMPLES), 0.9)
    looks = [Unfinished(speaking.cutter.so_far(2.5), speaking.cutter.open_s)] * 2
    speaking.voice.holds = False
    speaking.talk.run(looks)
    assert not speaking.cutter.speaking
    assert speaking.job.session.turn is Turn.STOPPED


def test_short_unfinished_speech_is_left_alone_while_nothing_is_said(stage: Stages) -> None:
    one = stage(beside=True)
    one.talk.run([Unfinished(one.ear.sound("stop"), 1.0)])
    assert one.voice.hushes == 0
    one.talk.run([Unfinished(one.ear.sound("stop"), 4.0)])
    assert one.voice.hushes == 1


def test_the_key_silences_and_stops(speaking: Stage) -> None:
    speaking.voice.holds = False
    speaking.talk.press_stop()
    assert speaking.voice.hushes >= 1
    speaking.talk.run([Quiet(1.0)])
    assert speaking.job.session.turn is Turn.STOPPED
    (stopped,) = speaking.of(DangerStopped)
    assert isinstance(stopped, DangerStopped)


def test_time_passes_every_twenty_seconds_of_silence(stage: Stages, monkeypatch: pytest.MonkeyPatch) -> None:
    one = stage(beside=True)
    said = Reply((Line(LineKind.QUESTION, "The proof of dead has run out.", "The proof of dead has run out."),))
    replies = [Reply(()), Reply(()), said, Reply(())]
    monkeypatch.setattr(one.job, "tick", lambda: replies.pop(0))
    one.talk.run(Quiet(float(at)) for at in range(50))
    assert replies == [said, Reply(())]
    one.talk.run([Quiet(60.0), Quiet(61.0)])
    assert one.replies == [said]
    assert one.voice.said == [said.speak]


def test_time_does_not_pass_over_a_prompt(speaking: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    ticks: list[float] = []

    def tick() -> Reply:
        ticks.append(speaking.recording_s)
        return Reply(())

    monkeypatch.setattr(speaking.job, "tick", tick)

    def sounds() -> Iterator[Sound]:
        yield Quiet(30.0)
        speaking.voice.let_go()

    speaking.talk.run(sounds())
    assert ticks == []
    speaking.talk.run([Quiet(30.25)])
    assert len(ticks) == 1


def test_the_voice_follows_what_is_asked_of_it(stage: Stages) -> None:
    one = stage()
    rate = one.voice.settings.words_per_minute
    one.say("slower")
    assert one.voice.settings.words_per_minute < rate
    one.say("faster", "faster")
    assert one.voice.settings.words_per_minute > rate
    volume = one.voice.settings.volume
    one.say("louder")
    assert one.voice.settings.volume > volume
    one.say("quieter", "quieter")
    assert one.voice.settings.volume < volume
    one.say("quiet")
    assert one.voice.hushes >= 1


@pytest.mark.parametrize("failure", [SpeakingError("The voice is gone."), RuntimeError("segfault"), OSError("pipe")])
def test_a_voice_that_fails_ends_the_talk_with_its_reason_and_keeps_the_job(stage: Stages, failure: Exception) -> None:
    one = stage(beside=True)
    one.voice.fails = failure
    with pytest.raises(SpeakingError, match=str(failure)):
        one.talk.run([one.ear.sound("no", start_s=5.0), Quiet(6.0)])
    assert one.of(AnswerTaken)


def test_what_the_microphone_raises_is_not_swallowed_and_the_job_is_on_record(stage: Stages) -> None:
    one = stage(beside=True)

    def sounds() -> Iterator[Sound]:
        yield one.ear.sound("no", start_s=5.0)
        raise SpeakingError("pulled out")

    with pytest.raises(SpeakingError, match="pulled out"):
        one.talk.run(sounds())
    assert one.of(AnswerTaken)


def test_a_voice_that_never_comes_back_is_noticed() -> None:
    now = [0.0]
    speaker = HeldVoice(holds=True)
    voice = BackgroundVoice(speaker, lambda: 0.0, lambda: now[0])
    voice.say("Measure leg to leg.", tone=False)
    voice.check()
    now[0] = 120.0
    with pytest.raises(SpeakingError, match="does not come back"):
        voice.check()
    speaker.let_go()
    voice.close()


def test_a_prompt_that_waits_is_hushed_with_the_one_before_it() -> None:
    speaker = HeldVoice(holds=True)
    voice = BackgroundVoice(speaker, lambda: 0.0)
    voice.say("One.", tone=True)
    voice.say("Two.", tone=True)
    voice.hush()
    voice.wait()
    voice.close()
    assert "Two." not in speaker.said
    assert speaker.tones == 0


def test_what_happened_is_taken_in_free_words(stage: Stages) -> None:
    one = stage()
    one.say("stop", CLEAR)
    assert one.job.wants_free_words
    one.say("The cord was pinched behind the drawer.")
    assert one.ear.written_down == ["The cord was pinched behind the drawer."]
    (recounted,) = one.of(DangerRecounted)
    assert isinstance(recounted, DangerRecounted)
    assert recounted.words == "The cord was pinched behind the drawer."


def test_danger_in_words_no_grammar_has_still_stops(stage: Stages) -> None:
    one = stage()
    one.say("oh my god there is smoke coming out of the back")
    assert one.job.session.turn is Turn.STOPPED


def test_a_note_may_be_said_in_free_words(stage: Stages) -> None:
    one = stage()
    heard = heard_for(one.job, one.ear, one.ear.sound("note the left rear terminal is green"))
    assert heard.text == "note the left rear terminal is green"


def test_other_words_outside_the_grammar_stay_out(stage: Stages) -> None:
    one = stage()
    heard = heard_for(one.job, one.ear, one.ear.sound("two forty on the other one I think"))
    assert heard.alternatives == ()


def test_an_answer_with_sound_missing_is_asked_again_and_danger_is_not(stage: Stages) -> None:
    one = stage()
    before = one.job.session.at
    one.talk.take(one.ear.sound("no", whole=False))
    assert one.job.session.at == before
    assert not one.of(AnswerTaken)
    one.talk.take(one.ear.sound("stop", whole=False))
    assert one.job.session.turn is Turn.STOPPED


def test_a_cry_into_a_prompt_ends_sooner_than_an_answer(speaking: Stage) -> None:
    def sounds() -> Iterator[Sound]:
        yield Quiet(1.0)
        assert speaking.cutter.settings.end_silence_s == SPEAKING_END_S
        speaking.voice.holds = False
        speaking.voice.let_go()

    speaking.talk.run(sounds())
    speaking.talk.run([Quiet(2.0)])
    assert speaking.cutter.settings.end_silence_s == EndpointSettings().end_silence_s


def test_a_closed_job_ends_the_talk(stage: Stages, monkeypatch: pytest.MonkeyPatch) -> None:
    one = stage()
    monkeypatch.setattr(Job, "closed", property(lambda job: job.session.turn is Turn.STOPPED))
    left: Iterator[Sound] = iter([Quiet(0.1), one.ear.sound("stop"), Quiet(2.0), Quiet(3.0)])
    one.talk.run(left)
    assert list(left) == [Quiet(2.0), Quiet(3.0)]


def test_with_an_address_word_only_what_begins_with_it_is_an_answer(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, address_word="wrench")
    one.say("no")
    assert one.heard[-1][1] is False
    one.say("wrench no")
    assert one.heard[-1] == ("no", True)
    assert one.job.session.answers["urgent"] == "no"


def test_free_words_are_addressed_too(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, address_word="wrench")
    one.say("stop")
    one.say(f"wrench {CLEAR}")
    one.say("the cord was chafed")
    assert not one.of(DangerRecounted)
    one.say("Wrench, the cord was chafed")
    assert [event.words for event in one.of(DangerRecounted) if isinstance(event, DangerRecounted)] == [
        "the cord was chafed"
    ]


def test_danger_needs_no_address_word(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, address_word="wrench")
    one.say("it's sparking")
    assert one.job.session.turn is Turn.STOPPED


@pytest.mark.parametrize(
    ("word", "why"), [("yes", "4 to 15 letters"), ("two words", "one word"), ("fourteen", "answer")]
)
def test_a_word_that_cannot_be_an_address_is_refused(stage: Stages, word: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        fit_address_word(stage().job, word)


def test_with_push_to_talk_a_press_opens_for_one_answer(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, push_to_talk=True)
    one.say("no")
    assert "urgent" not in one.job.session.answers
    one.talk.open_for_one()
    one.say("no")
    assert one.job.session.answers["urgent"] == "no"
    one.say("bake")
    assert "complaint" not in one.job.session.answers, "one press is one answer"


def test_danger_needs_no_press(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, push_to_talk=True)
    one.say("it's sparking")
    assert one.job.session.turn is Turn.STOPPED


def test_a_press_is_not_used_up_by_a_cough_or_by_people_nearby(stage: Stages) -> None:
    one = stage()
    one.talk = one.make(None, push_to_talk=True)
    one.talk.open_for_one()
    one.say("what are we having for lunch", "no")
    assert one.job.session.answers["urgent"] == "no"


def test_a_press_does_not_last(stage: Stages) -> None:
    one = stage(beside=True)
    one.talk = one.make(None, beside=True, push_to_talk=True)
    one.recording_s = 5.0
    one.talk.open_for_one()
    one.talk.take(one.ear.sound("no", start_s=30.0))
    assert "urgent" not in one.job.session.answers
    one.talk.take(one.ear.sound("no", start_s=12.0))
    assert one.job.session.answers["urgent"] == "no"


@pytest.mark.parametrize("said", [["stop"], ["it sparked last night"], ["pause"], ["call mode"], []])
def test_people_nearby_are_ignored_whatever_the_job_waits_for(stage: Stages, said: list[str]) -> None:
    one = stage()
    one.say(*said)
    before = (one.job.session.turn, len(one.voice.said), len(one.replies))
    one.say("what are we having for lunch", "and then she said so too")
    assert (one.job.session.turn, len(one.voice.said), len(one.replies)) == before


def test_it_is_said_again_twice_and_then_waited_for_in_silence(stage: Stages) -> None:
    one = stage()
    one.ear.sure = 0.4
    one.say("no", "no", "no", "no")
    assert one.voice.said == ["Say again?", "Say again?"]
    one.ear.sure = 1.0
    one.say("no")
    assert len(one.voice.said) == 3, "it goes on when it is spoken to clearly"


def test_what_is_said_again_alike_is_read_back(stage: Stages) -> None:
    one = stage()
    one.ear.sure = 0.6
    one.say("no", "no")
    assert one.voice.said == ["Say again?", "No. Right?"]
    one.ear.sure = 1.0
    one.say("yes")
    assert one.job.session.answers["urgent"] == "no"


def test_in_call_mode_only_resume_and_danger_are_heard(stage: Stages) -> None:
    one = stage()
    one.say("call mode")
    said = len(one.voice.said)
    kept = sorted(path.name for path in one.sounds.iterdir())
    one.say("yes", "done", "louder", "two forty volts", "repeat")
    assert len(one.voice.said) == said
    assert one.heard[1:] == [(text, False) for text in ("yes", "done", "louder", "two forty volts", "repeat")]
    assert sorted(path.name for path in one.sounds.iterdir()) == kept, "nothing of a call is kept"
    one.say("resume")
    assert one.heard[-1] == ("resume", True)
    assert len(one.voice.said) == said + 1


def test_danger_is_heard_in_call_mode(stage: Stages) -> None:
    one = stage()
    one.say("call mode", "smoke")
    assert one.job.session.turn is Turn.STOPPED


def test_a_typed_line_is_an_answer(stage: Stages) -> None:
    one = stage(beside=True)
    one.talk.type_line("no")
    one.talk.run([Quiet(1.0)])
    assert one.job.session.answers["urgent"] == "no"
    (received,) = one.of(InputReceived)
    assert isinstance(received, InputReceived)
    assert (received.engine, received.channel) == ("typed", Channel.VOICE)
    assert one.job.session.channel is Channel.VOICE, "the same person at the same device has not handed it over"


def test_a_remark_is_shown_spoken_and_on_record(stage: Stages) -> None:
    one = stage()
    at = one.job.session.at
    one.talk.remark("The microphone is gone.")
    assert one.voice.said == ["The microphone is gone."]
    assert one.voice.tones == 0
    replied = one.of(Replied)[-1]
    assert isinstance(replied, Replied)
    assert replied.speak == "The microphone is gone."
    assert one.job.session.at == at
    one.say("no")
    assert one.of(AnswerTaken)


def test_spoken_notes_are_kept_with_their_sound_and_unverified(stage: Stages) -> None:
    one = stage()
    one.say("note the left rear terminal is green")
    (noted,) = one.of(NoteTaken)
    assert isinstance(noted, NoteTaken)
    assert (noted.text, noted.unverified) == ("the left rear terminal is green", True)
    received = one.of(InputReceived)[-1]
    assert isinstance(received, InputReceived)
    assert received.sound_sha256 is not None
    assert sound_path(one.sounds, received.sound_sha256).is_file()
    assert "Unverified" in one.voice.said[-1]
