"""The cutter: frames numbered by their sample value, probabilities written by hand."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.hearing.endpoint import EndpointSettings, UtteranceCutter, utterances
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, Samples, Utterance

SETTINGS = EndpointSettings(
    begin_s=2 * FRAME_S, end_silence_s=5 * FRAME_S, pre_roll_s=3 * FRAME_S, least_s=3 * FRAME_S, longest_s=40 * FRAME_S
)


def frame(number: int) -> Samples:
    return np.full(FRAME_SAMPLES, number, np.float32)


def cut(speech: str, cutter: UtteranceCutter | None = None) -> list[Utterance]:
    """Take one frame for each mark: S is speech, anything else silence."""
    cutter = cutter or UtteranceCutter(SETTINGS)
    taken = [cutter.take(frame(at), 0.9 if mark == "S" else 0.1) for at, mark in enumerate(speech)]
    return [utterance for utterance in [*taken, cutter.finish()] if utterance is not None]


def numbers(utterance: Utterance) -> list[int]:
    """Return the frames an utterance is made of."""
    return [int(value) for value in utterance.samples[::FRAME_SAMPLES]]


def test_an_utterance_has_its_pre_roll_and_the_silence_that_ended_it() -> None:
    (utterance,) = cut("..........SSSSSS..........")
    assert numbers(utterance) == list(range(7, 21))
    assert utterance.start_s == pytest.approx(7 * FRAME_S)
    assert utterance.end_s == pytest.approx(21 * FRAME_S)
    assert utterance.whole


def test_a_pause_shorter_than_the_end_silence_does_not_end_it() -> None:
    (utterance,) = cut("....SSSS....SSSS.......")
    assert numbers(utterance)[-1] == 20


def test_two_utterances_are_two() -> None:
    first, second = cut("....SSSS.......SSSS.......")
    assert (first.speech_start_s, first.speech_end_s) == pytest.approx((4 * FRAME_S, 8 * FRAME_S))
    assert (second.speech_start_s, second.speech_end_s) == pytest.approx((15 * FRAME_S, 19 * FRAME_S))
    assert numbers(second)[-1] == 23


def test_speech_that_comes_at_once_has_the_silence_before_it() -> None:
    first, second = cut("....SSSS.....SSSS.....")
    assert numbers(first)[-1] == 12
    assert numbers(second)[0] == 12
    assert second.speech_start_s == pytest.approx(13 * FRAME_S)


def test_what_was_said_before_a_pause_can_be_looked_at_and_ended_there() -> None:
    cutter = UtteranceCutter(replace(SETTINGS, pause_s=3 * FRAME_S))
    pauses = []
    for at, mark in enumerate("....SSSS....SSSS..."):
        assert cutter.take(frame(at), 0.9 if mark == "S" else 0.1) is None
        if cutter.pausing:
            pauses.append(at)
    assert pauses == [10, 18]
    said = cutter.said()
    ended = cutter.end_here()
    assert ended is not None
    assert numbers(ended) == numbers(said) == list(range(1, 19))
    assert (said.speech_end_s, ended.speech_end_s) == pytest.approx((16 * FRAME_S, 16 * FRAME_S))
    assert ended.whole
    assert not cutter.speaking
    assert cutter.end_here() is None


def test_a_click_is_not_looked_at() -> None:
    cutter = UtteranceCutter(replace(SETTINGS, pause_s=2 * FRAME_S))
    for at, mark in enumerate("....SS..."):
        cutter.take(frame(at), 0.9 if mark == "S" else 0.1)
        assert not cutter.pausing


@pytest.mark.parametrize("speech", ["", "..........", "...S......", "..S..S..S.......", "....SS.........."])
def test_silence_and_clicks_are_no_utterances(speech: str) -> None:
    assert cut(speech) == []


def test_sound_that_ends_in_speech_is_not_lost() -> None:
    (utterance,) = cut("....SSSSS")
    assert numbers(utterance)[-1] == 8


def test_a_weak_syllable_goes_on_but_does_not_begin() -> None:
    cutter = UtteranceCutter(SETTINGS)
    weak = [cutter.take(frame(at), 0.4) for at in range(10)]
    assert not cutter.speaking
    assert weak == [None] * 10
    for at in range(10, 14):
        cutter.take(frame(at), 0.9)
    for at in range(14, 30):
        assert cutter.take(frame(at), 0.4) is None
    assert cutter.speaking


def test_the_end_silence_may_change_while_somebody_speaks() -> None:
    cutter = UtteranceCutter(SETTINGS)
    for at in range(6):
        cutter.take(frame(at), 0.9)
    cutter.settings = replace(SETTINGS, end_silence_s=2 * FRAME_S)
    assert cutter.take(frame(6), 0.0) is None
    assert cutter.take(frame(7), 0.0) is not None


def test_speech_that_never_stops_is_cut_and_neither_part_is_whole() -> None:
    first, second = cut("...." + "S" * 60 + ".......")
    assert len(numbers(first)) == 40
    assert not first.whole
    assert not second.whole
    (third,) = cut("...SSSS.......")
    assert third.whole


def test_speech_after_a_pause_is_whole_again() -> None:
    *_, last = cut("...." + "S" * 60 + "........" + "SSSS.......")
    assert last.whole


def test_lost_sound_makes_the_open_utterance_not_whole() -> None:
    cutter = UtteranceCutter(SETTINGS)
    cutter.lost()
    for at in range(8):
        cutter.take(frame(at), 0.9)
    cutter.lost()
    broken = cutter.finish()
    assert broken is not None
    assert not broken.whole
    (next_one,) = cut("SSSSSS......", cutter)
    assert next_one.whole


def test_what_is_open_can_be_looked_at_and_ended() -> None:
    cutter = UtteranceCutter(SETTINGS)
    assert cutter.end_now() is None
    for at in range(12):
        cutter.take(frame(at), 0.9)
    assert numbers(cutter.so_far(4 * FRAME_S)) == [8, 9, 10, 11]
    assert cutter.open_s == pytest.approx(12 * FRAME_S)
    ended = cutter.end_now()
    assert ended is not None
    assert not ended.whole
    assert not cutter.speaking


@given(st.lists(st.floats(0.0, 1.0), max_size=300))
def test_no_speech_is_lost_or_in_two_utterances_and_times_are_frames(probabilities: list[float]) -> None:
    cutter = UtteranceCutter(SETTINGS)
    taken = [cutter.take(frame(at), p) for at, p in enumerate(probabilities)]
    found = [utterance for utterance in [*taken, cutter.finish()] if utterance is not None]
    for utterance in found:
        inside = numbers(utterance)
        assert inside == list(range(inside[0], inside[0] + len(inside)))
        assert utterance.start_s == pytest.approx(inside[0] * FRAME_S)
        assert utterance.end_s == pytest.approx((inside[-1] + 1) * FRAME_S)
    for before, after in pairwise(found):
        assert before.speech_end_s is not None
        assert before.speech_end_s <= after.start_s + 1e-9
    covered = {number for utterance in found for number in numbers(utterance)}
    loud = [p >= SETTINGS.begins_at for p in probabilities]
    for at in range(len(loud) - 2):
        if all(loud[at : at + 3]):
            assert {at, at + 1, at + 2} <= covered


def test_the_detector_starts_afresh_on_each_recording() -> None:
    class Detector:
        resets = 0

        def probability(self, frame: Samples) -> float:
            return float(frame[0] > 0)

        def reset(self) -> None:
            self.resets += 1

    detector = Detector()
    sound = [np.full(FRAME_SAMPLES, value, np.float32) for value in [0, 0, 1, 1, 1, 1, *[0] * 30]]
    (utterance,) = utterances(sound, detector=detector)
    assert utterance.start_s == 0.0
    assert detector.resets == 1


@pytest.mark.parametrize(
    "wrong",
    [
        {"begins_at": 0.2},
        {"goes_on_at": 0.0},
        {"longest_s": 0.0},
        {"pre_roll_s": -1.0},
        {"begins_at": 1.5},
        {"pause_s": 0.0},
    ],
)
def test_settings_that_cannot_work_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        EndpointSettings(**wrong)
