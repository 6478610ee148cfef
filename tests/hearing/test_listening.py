"""What is told while sound comes in."""

import numpy as np
import pytest

from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, Samples, Utterance
from voicetech.hearing.listening import (
    LOOK_BACK_S,
    LOOK_S,
    DecodingBudget,
    Paused,
    Quiet,
    Sound,
    Unfinished,
    listen,
)


class Loudness:
    """A detector that takes every sample above 0 for speech."""

    def probability(self, frame: Samples) -> float:
        return float(frame[0] > 0)

    def reset(self) -> None:
        pass


def frames(pattern: str) -> list[Samples]:
    return [np.full(FRAME_SAMPLES, mark == "S", np.float32) for mark in pattern]


def heard(pattern: str) -> list[Sound]:
    return list(listen(frames(pattern), UtteranceCutter(), Loudness()))


def test_time_is_told_while_nobody_speaks() -> None:
    sounds = heard("." * 100)
    assert all(isinstance(sound, Quiet) for sound in sounds)
    times = [sound.at_s for sound in sounds if isinstance(sound, Quiet)]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(3.2, abs=0.3)


def test_an_utterance_comes_when_it_ends_and_looks_come_before() -> None:
    sounds = heard("." * 20 + "S" * 200 + "." * 40)
    kinds = [type(sound) for sound in sounds if not isinstance(sound, Quiet)]
    assert kinds[:-2] == [Unfinished] * (len(kinds) - 2)
    assert kinds[-2:] == [Paused, Utterance]
    looks = [sound for sound in sounds if isinstance(sound, Unfinished)]
    assert len(looks) >= 200 * 0.032 / LOOK_S - 2
    assert max(look.utterance.length_s for look in looks) == pytest.approx(LOOK_BACK_S, abs=0.05)
    assert looks[-1].open_s > 6.0


def test_a_pause_is_told_once_with_all_that_was_said() -> None:
    sounds = heard("." * 20 + "S" * 30 + "." * 10 + "S" * 30 + "." * 10)
    pauses = [sound.utterance for sound in sounds if isinstance(sound, Paused)]
    assert [pause.speech_end_s for pause in pauses] == pytest.approx([50 * FRAME_S, 90 * FRAME_S])
    assert [pause.speech_start_s for pause in pauses] == pytest.approx([20 * FRAME_S] * 2)
    assert all(pause.whole for pause in pauses)


def test_an_utterance_that_is_ended_at_its_pause_loses_nothing_of_what_follows() -> None:
    cutter = UtteranceCutter()
    pattern = "." * 20 + "S" * 30 + "." * 7 + "S" * 30 + "." * 40
    ended: list[Utterance] = []
    for sound in listen(frames(pattern), cutter, Loudness()):
        if isinstance(sound, Utterance):
            ended.append(sound)
        if isinstance(sound, Paused) and not ended:
            first = cutter.end_here()
            assert first is not None
            ended.append(first)
    assert [utterance.speech_start_s for utterance in ended] == pytest.approx([20 * FRAME_S, 57 * FRAME_S])
    assert [utterance.speech_end_s for utterance in ended] == pytest.approx([50 * FRAME_S, 87 * FRAME_S])
    assert all(utterance.whole for utterance in ended)


def test_a_budget_never_lets_looks_take_more_than_their_share() -> None:
    budget = DecodingBudget(share=0.25)
    spent_s = 0.0
    for at in range(1, 1000):
        at_s = at / 10
        if budget.allows(at_s):
            assert spent_s <= 0.25 * at_s
            budget.spend(0.3)
            spent_s += 0.3
    assert spent_s == pytest.approx(0.25 * 100.0, abs=1.0)


def test_a_budget_saves_nothing_up() -> None:
    budget = DecodingBudget(share=0.25)
    assert budget.allows(100.0)
    budget.spend(1.0)
    assert not budget.allows(103.9)
    assert budget.allows(104.1)


def test_speech_at_the_end_of_the_recording_is_told() -> None:
    assert isinstance(heard("...." + "S" * 10)[-1], Utterance)


def test_lost_sound_is_told_with_the_utterance() -> None:
    answers = iter([False] * 15 + [True] + [False] * 100)
    sounds = listen(frames("." * 10 + "S" * 20 + "." * 40), UtteranceCutter(), Loudness(), lambda: next(answers))
    (utterance,) = [sound for sound in sounds if isinstance(sound, Utterance)]
    assert not utterance.whole
