"""The cutter, fed by made-up speech probabilities."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.hearing.endpoint import EndpointSettings, UtteranceCutter, utterances
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, Samples, Utterance


class Scripted:
    """Gives the probabilities it was made with."""

    def __init__(self, probabilities: list[float]) -> None:
        self.probabilities = iter(probabilities)

    def probability(self, frame: Samples) -> float:
        return next(self.probabilities)

    def reset(self) -> None:
        pass


def cut(probabilities: list[float], settings: EndpointSettings | None = None) -> list[Utterance]:
    frames = [np.full(FRAME_SAMPLES, i, np.float32) for i in range(len(probabilities))]
    return list(utterances(frames, settings, Scripted(probabilities)))


def test_one_answer_with_its_pre_roll_and_times() -> None:
    (found,) = cut([0.0] * 50 + [0.9] * 30 + [0.0] * 50)
    assert found.start_s == pytest.approx(50 * FRAME_S - 0.4, abs=FRAME_S)
    assert found.end_s == pytest.approx(80 * FRAME_S + 0.6, abs=FRAME_S)
    assert found.samples[0] == pytest.approx(round(found.start_s / FRAME_S))
    assert found.length_s == pytest.approx(found.end_s - found.start_s)


def test_a_pause_shorter_than_the_end_silence_stays_inside() -> None:
    assert len(cut([0.9] * 10 + [0.1] * 15 + [0.9] * 10 + [0.0] * 30)) == 1


def test_a_longer_pause_makes_two() -> None:
    first, second = cut([0.9] * 10 + [0.0] * 40 + [0.9] * 10 + [0.0] * 30)
    assert first.end_s <= second.start_s


def test_a_click_is_no_utterance() -> None:
    assert cut([0.0] * 20 + [0.9] + [0.0] * 40) == []


def test_a_weak_syllable_does_not_end_it() -> None:
    assert len(cut([0.9] * 10 + [0.35] * 30 + [0.9] * 5 + [0.0] * 40)) == 1


def test_sound_without_end_is_cut_and_goes_on() -> None:
    found = cut([0.9] * 100, EndpointSettings(longest_s=1.0))
    assert len(found) >= 3
    assert all(u.length_s <= 1.0 + FRAME_S for u in found)
    assert sum(len(u.samples) for u in found) >= 95 * FRAME_SAMPLES


def test_speech_up_to_the_end_of_the_file_is_kept() -> None:
    assert len(cut([0.0] * 10 + [0.9] * 20)) == 1


def test_silence_says_nothing() -> None:
    assert cut([0.0] * 200) == []


@given(st.lists(st.floats(0.0, 1.0), max_size=300))
def test_utterances_never_overlap_and_stay_in_the_sound(probabilities: list[float]) -> None:
    found = cut(probabilities)
    ends = [0.0]
    for utterance in found:
        assert utterance.start_s >= ends[-1] - 1e-9
        ends.append(utterance.end_s)
        assert utterance.length_s == pytest.approx(utterance.end_s - utterance.start_s)
    assert ends[-1] <= len(probabilities) * FRAME_S + 1e-9


@pytest.mark.parametrize("wrong", [{"goes_on_at": 0.9}, {"end_silence_s": 0.0}, {"begins_at": 1.5}])
def test_settings_that_make_no_sense(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="must"):
        EndpointSettings(**wrong)


def test_the_cutter_says_when_somebody_speaks() -> None:
    cutter = UtteranceCutter()
    frame = np.zeros(FRAME_SAMPLES, np.float32)
    assert not cutter.speaking
    for _ in range(5):
        cutter.take(frame, 0.9)
    assert cutter.speaking
