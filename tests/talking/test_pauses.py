"""Where an answer ends: at a pause after which nothing could follow, else after more silence; nothing decoded twice."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pytest

from tests.talking.stage import CLEAR, Stage, Stages
from voicetech.events import AnswerTaken
from voicetech.heard import Heard
from voicetech.hearing.endpoint import GOES_ON_S, LINGERS_S, SETTLED_S
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, Samples, Utterance
from voicetech.hearing.listening import listen
from voicetech.language.meaning import Asking
from voicetech.language.phrases import WordAutomaton
from voicetech.turn import Turn


@dataclass
class Script:
    """Sound written out: words take a second, numbers are seconds of silence.

    The samples count the words said so far, so that an ear can tell from an utterance which words are in it. The
    detector finds speech `LINGERS_S` beyond its end, as the real one does.
    """

    one: Stage
    parts: tuple[str | float, ...]

    def __post_init__(self) -> None:
        self.lingers = 0
        self.words: list[str] = []
        self.ends_s: list[float] = []
        self.decided: list[tuple[str, float]] = []
        self.decoded: list[str] = []
        self.one.ear.hear = self.hear  # type: ignore[method-assign]
        self.one.ear.write_down = self.write_down  # type: ignore[method-assign]

    def frames(self) -> Iterator[Samples]:
        at_s = 0.0
        for part in self.parts:
            word = isinstance(part, str)
            if isinstance(part, str):
                self.words.append(part)
            for _ in range(round((1.0 if isinstance(part, str) else part) / FRAME_S)):
                at_s += FRAME_S
                yield np.full(FRAME_SAMPLES, len(self.words) if word else 0.0, np.float32)
            if word:
                self.ends_s.append(at_s)

    def probability(self, frame: Samples) -> float:
        self.lingers = round(LINGERS_S / FRAME_S) if frame[0] else max(0, self.lingers - 1)
        return float(bool(frame[0]) or self.lingers > 0)

    def reset(self) -> None:
        self.lingers = 0

    def text(self, utterance: Utterance) -> str:
        numbers = sorted({round(float(value)) for value in utterance.samples[::FRAME_SAMPLES]} - {0})
        return " ".join(self.words[number - 1] for number in numbers)

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        text = self.text(utterance)
        self.decoded.append(text)
        return type(self.one.ear).hear(self.one.ear, self.one.ear.sound(text), automaton)

    def write_down(self, utterance: Utterance) -> Heard:
        return type(self.one.ear).write_down(self.one.ear, self.one.ear.sound(self.text(utterance)))

    def run(self) -> list[tuple[str, float]]:
        """Return what was given to the job, with the silence before that was decided, in seconds."""
        given = len(self.one.heard)
        for sound in listen(self.frames(), self.one.cutter, self):
            self.one.talk.run([sound])
            for text, taken in self.one.heard[given:]:
                silence_s = self.one.cutter.at_s - self.ends_s[-1]
                self.decided.append((text if taken else f"({text})", silence_s))
            given = len(self.one.heard)
        return self.decided


def at_a_voltage(one: Stage) -> None:
    """Answer until the plate's volts are asked for."""
    one.say("no", "bake is cold", "all at once")
    assert one.job.question.asking is Asking.VOLTAGE
    one.heard.clear()
    one.ear.decoded.clear()


@pytest.fixture
def listening(stage: Stages) -> Stage:
    one: Stage = stage()
    one.talk.close()
    one.talk = one.make(None, listens=True)
    at_a_voltage(one)
    return one


@pytest.mark.parametrize("said", ["two forty volts", "repeat", "stop", "type later"])
def test_what_nothing_could_follow_is_decided_within_its_silence(listening: Stage, said: str) -> None:
    ((text, silence_s),) = Script(listening, (0.5, said, 3.0)).run()
    assert text == said
    assert silence_s <= SETTLED_S + FRAME_S


@pytest.mark.parametrize("said", ["two forty", "two hundred", "how"])
def test_what_could_go_on_is_waited_for(listening: Stage, said: str) -> None:
    ((text, silence_s),) = Script(listening, (0.5, said, 3.0)).run()
    assert text == said
    assert SETTLED_S + FRAME_S < silence_s <= GOES_ON_S + FRAME_S


@pytest.mark.parametrize("pause_s", [0.2, 0.3, 0.5, 0.7])
def test_an_answer_that_goes_on_is_one_answer(listening: Stage, pause_s: float) -> None:
    ((text, silence_s),) = Script(listening, (0.5, "two", pause_s, "forty volts", 3.0)).run()
    assert text == "two forty volts"
    assert silence_s <= SETTLED_S + FRAME_S


def test_no_sound_is_decoded_twice(listening: Stage) -> None:
    script = Script(listening, (0.5, "two", 0.5, "forty", 2.0))
    script.run()
    assert script.decoded == ["two", "two forty"]


def test_words_that_come_right_after_the_decision_are_not_lost(listening: Stage) -> None:
    decided = Script(listening, (0.5, "two forty volts", 0.35, "stop", 2.0)).run()
    assert [text for text, _ in decided] == ["two forty volts", "stop"]
    assert listening.job.session.turn is Turn.STOPPED


def test_a_correction_at_once_is_taken_and_an_answer_at_once_is_not(listening: Stage) -> None:
    """What was begun before the next question cannot be its answer, but may take back the one before."""
    script = Script(listening, (0.5, "two forty volts", 0.36, "two thousand watts", 2.0))
    assert [text for text, _ in script.run()] == ["two forty volts", "(two thousand watts)"]
    assert [event.value for event in listening.of(AnswerTaken) if isinstance(event, AnswerTaken)][-1] == "240"


def test_an_answer_after_a_breath_is_taken(listening: Stage) -> None:
    script = Script(listening, (0.5, "two forty volts", 0.7, "twelve kilowatts", 2.0))
    assert [text for text, _ in script.run()] == ["two forty volts", "twelve kilowatts"]


def test_what_is_not_understood_is_waited_for(listening: Stage) -> None:
    ((text, silence_s),) = Script(listening, (0.5, "we had lunch at the corner", 3.0)).run()
    assert text == "(we had lunch at the corner)"
    assert SETTLED_S < silence_s <= GOES_ON_S + FRAME_S


def test_a_doubtful_answer_is_waited_for(listening: Stage) -> None:
    listening.ear.sure = 0.6
    ((_, silence_s),) = Script(listening, (0.5, "two forty volts", 3.0)).run()
    assert silence_s > SETTLED_S + FRAME_S


def test_free_words_are_waited_for_and_written_down_once(listening: Stage) -> None:
    listening.say("stop", CLEAR)
    listening.heard.clear()
    script = Script(listening, (0.5, "the cord", 0.5, "was pinched", 3.0))
    ((text, silence_s),) = script.run()
    assert text == "the cord was pinched"
    assert silence_s <= GOES_ON_S + FRAME_S
    assert listening.ear.written_down == ["the cord was pinched"]
