"""What every recogniser promises, tried on each adapter."""

import numpy as np
import pytest

from tests.hearing.fake_vosk import Vosk, final
from tests.hearing.recordings import EAR, SOUNDS, sentences
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.recogniser import Recogniser
from voicetech.hearing.sound_file import whole_utterance
from voicetech.hearing.vosk_recogniser import VoskRecogniser

SAID = "two thirty three volts"
GRAMMAR = sentences(SAID, "two thirty volts", "stop")


def vosk(said: str) -> Recogniser:
    words = [(word, 0.9) for word in said.split()]
    package = Vosk(GRAMMAR.words(), last=final(*words), free=final(*words))
    return VoskRecogniser(package, package.Model(model_path="/model"))


ADAPTERS = {"constrained": lambda _said: EAR, "vosk": vosk}


@pytest.fixture(params=list(ADAPTERS))
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def utterance() -> Utterance:
    return whole_utterance(SOUNDS / "flite_slt_001.flac")


def test_the_name_is_the_one_it_is_recorded_under(name: str) -> None:
    ear: Recogniser = ADAPTERS[name](SAID)
    assert ear.name == name == ear.hear(utterance(), GRAMMAR).engine == ear.write_down(utterance()).engine


def test_an_answer_is_a_sentence_of_the_grammar_with_its_probability(name: str) -> None:
    heard = ADAPTERS[name](SAID).hear(utterance(), GRAMMAR)
    assert heard.text == SAID
    assert all(GRAMMAR.accepts(alternative.text.split()) for alternative in heard.alternatives)
    probabilities = [alternative.probability for alternative in heard.alternatives]
    assert probabilities == sorted(probabilities, reverse=True)
    assert sum(probabilities) <= 1.0 + 1e-9
    assert heard.for_us > 0.5


def test_the_same_sound_gives_the_same_answer(name: str) -> None:
    ear: Recogniser = ADAPTERS[name](SAID)
    first, second = ear.hear(utterance(), GRAMMAR), ear.hear(utterance(), GRAMMAR)
    assert (first.alternatives, first.for_us, first.free_text) == (second.alternatives, second.for_us, second.free_text)


def test_silence_says_nothing(name: str) -> None:
    ear: Recogniser = ADAPTERS[name]("")
    silence = Utterance(np.zeros(RATE_HZ, np.float32), 0.0, 1.0)
    for heard in (ear.hear(silence, GRAMMAR), ear.write_down(silence)):
        assert heard.alternatives == ()
        assert heard.text == ""
        assert heard.for_us == 0.0


def test_free_speech_is_one_alternative_and_the_free_text(name: str) -> None:
    heard = ADAPTERS[name](SAID).write_down(utterance())
    assert len(heard.alternatives) == 1
    assert heard.free_text == heard.text != ""


def test_every_word_of_the_grammar_can_be_heard(name: str) -> None:
    assert ADAPTERS[name](SAID).unknown_words(GRAMMAR.words()) == frozenset()


def test_getting_ready_twice_changes_nothing(name: str) -> None:
    ear: Recogniser = ADAPTERS[name](SAID)
    ear.warm_up()
    ear.warm_up()
    assert ear.hear(utterance(), GRAMMAR).text == SAID
