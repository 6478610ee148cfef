"""The vosk adapter over a package that is made here.

The names and shapes were compared with the package vosk 0.3.45; its habits (text at its own endpoints, empty final
results, results twice, alternatives without word confidences, unknown words dropped in silence) are those that
public issue threads of it report.
"""

import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.hearing.fake_vosk import Vosk, final
from tests.hearing.recordings import sentences
from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.vosk_recogniser import DYNAMIC_GRAPH, NEEDED, VoskRecogniser, open_vosk

GRAMMAR = sentences("two forty volts", "two fifty volts", "stop", "yes", "two forty ohms")
WORDS = frozenset(["two", "forty", "fifty", "volts", "stop", "yes"])
SOUND = Utterance(np.linspace(-1.5, 1.5, RATE_HZ, dtype=np.float32))


def ear(**habits: Any) -> tuple[Vosk, VoskRecogniser]:
    vosk = Vosk(WORDS, **habits)
    return vosk, VoskRecogniser(vosk, vosk.Model(model_path="/model"))


def test_a_sentence_comes_with_the_confidence_of_its_words() -> None:
    _, vosk = ear(last=final(("two", 1.0), ("forty", 0.9), ("volts", 0.8)))
    heard = vosk.hear(SOUND, GRAMMAR)
    assert heard.text == "two forty volts"
    assert heard.alternatives[0].probability == pytest.approx(0.72)
    assert heard.for_us == pytest.approx(0.9)
    assert heard.engine == vosk.name == "vosk"


def test_the_grammar_is_a_list_of_known_words_with_the_unknown_mark() -> None:
    package, vosk = ear(last=final(("yes", 1.0)))
    vosk.hear(SOUND, GRAMMAR)
    assert package.grammars == [["fifty", "forty", "stop", "two", "volts", "yes", "[unk]"]]
    assert package.rates_hz == [16_000.0]


def test_words_the_model_lacks_are_named() -> None:
    _, vosk = ear()
    assert vosk.unknown_words(GRAMMAR.words()) == {"ohms"}


def test_sound_is_sixteen_bit_and_never_wraps_around() -> None:
    package, vosk = ear()
    vosk.hear(SOUND, GRAMMAR)
    samples = np.frombuffer(package.pcm, dtype="<i2")
    assert len(samples) > RATE_HZ
    assert samples[0] == -32_767
    assert samples[:RATE_HZ].max() == 32_767
    assert not samples[RATE_HZ:].any()


@pytest.mark.parametrize("last", [final(), {}, {"text": "", "result": []}])
def test_nothing_heard_is_not_for_us(last: dict[str, Any]) -> None:
    _, vosk = ear(last=last)
    heard = vosk.hear(SOUND, GRAMMAR)
    assert heard.alternatives == ()
    assert heard.for_us == 0.0


def test_an_unknown_word_beside_a_number_is_no_reading() -> None:
    _, vosk = ear(last=final(("[unk]", 1.0), ("two", 1.0), ("forty", 1.0), ("volts", 1.0)))
    heard = vosk.hear(SOUND, GRAMMAR)
    assert heard.alternatives == ()
    assert heard.for_us == 0.0
    assert heard.free_text == "[unk] two forty volts"


def test_words_put_together_as_the_grammar_never_does_are_no_answer() -> None:
    _, vosk = ear(last=final(("forty", 1.0), ("two", 1.0)))
    assert vosk.hear(SOUND, GRAMMAR).alternatives == ()


def test_text_handed_out_at_endpoints_is_joined() -> None:
    _, vosk = ear(endpoints=[final(("two", 1.0)), final()], last=final(("forty", 1.0), ("volts", 1.0), start_s=1.0))
    assert vosk.hear(SOUND, GRAMMAR).text == "two forty volts"


def test_an_empty_final_result_takes_nothing_away() -> None:
    _, vosk = ear(endpoints=[final(("yes", 0.9))])
    assert vosk.hear(SOUND, GRAMMAR).text == "yes"


def test_the_same_result_twice_was_said_once_and_the_same_word_twice_is_kept() -> None:
    _, vosk = ear(endpoints=[final(("stop", 1.0))], last=final(("stop", 1.0)))
    assert vosk.hear(SOUND, sentences("stop", "stop stop")).text == "stop"
    _, vosk = ear(endpoints=[final(("stop", 1.0))], last=final(("stop", 1.0), start_s=1.0))
    assert vosk.hear(SOUND, sentences("stop", "stop stop")).text == "stop stop"


def test_rivals_share_what_is_left() -> None:
    _, vosk = ear(
        last=final(("two", 1.0), ("forty", 0.6), ("volts", 1.0)),
        alternatives={"two forty volts": 301.0, "two fifty volts": 300.0, "stop": 299.0, "two two": 298.0},
    )
    heard = vosk.hear(SOUND, GRAMMAR)
    assert [a.text for a in heard.alternatives] == ["two forty volts", "two fifty volts", "stop"]
    probabilities = [a.probability for a in heard.alternatives]
    assert probabilities[0] == pytest.approx(0.6)
    assert probabilities[1] / probabilities[2] == pytest.approx(math.e)
    assert sum(probabilities) == pytest.approx(1.0)


def test_a_rival_never_beats_the_sentence_that_won() -> None:
    _, vosk = ear(last=final(("yes", 0.2)), alternatives={"yes": 10.0, "stop": 9.0})
    first, second = vosk.hear(SOUND, GRAMMAR).alternatives
    assert first.text == "yes"
    assert second.probability <= first.probability


def test_free_speech_is_written_down_without_a_grammar() -> None:
    package, vosk = ear(free=final(("it", 0.9), ("[unk]", 0.5), ("bakes", 0.4)))
    heard = vosk.write_down(SOUND)
    assert package.grammars == [None]
    assert heard.text == heard.free_text == "it bakes"
    assert heard.for_us == 1.0
    assert ear()[1].write_down(SOUND).alternatives == ()


def test_the_same_sound_gives_the_same_answer() -> None:
    _, vosk = ear(last=final(("yes", 0.9)))
    first, second = vosk.hear(SOUND, GRAMMAR), vosk.hear(SOUND, GRAMMAR)
    assert (first.alternatives, first.for_us, first.free_text) == (second.alternatives, second.for_us, second.free_text)


def model_folder(folder: Path, without: str = "") -> Path:
    for name in (*NEEDED, *DYNAMIC_GRAPH):
        if name != without:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).touch()
    return folder


@pytest.fixture
def package(monkeypatch: pytest.MonkeyPatch) -> Vosk:
    vosk = Vosk(WORDS)
    monkeypatch.setitem(sys.modules, "vosk", vosk)
    return vosk


def test_the_model_is_opened_by_its_whole_path_and_in_silence(
    package: Vosk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    model_folder(tmp_path / "a model")
    monkeypatch.chdir(tmp_path)
    open_vosk(Path("a model"), {})
    assert package.folder == str(tmp_path / "a model")
    assert package.log_level == -1
    open_vosk(None, {"VOICETECH_VOSK_MODEL": str(tmp_path / "a model")}).warm_up()


def test_without_a_folder_nothing_is_fetched(package: Vosk) -> None:
    with pytest.raises(RecogniserError, match="VOICETECH_VOSK_MODEL"):
        open_vosk(None, {})
    assert package.folder == ""


@pytest.mark.parametrize("without", [*NEEDED, *DYNAMIC_GRAPH])
def test_a_folder_that_lacks_a_file_says_which(package: Vosk, tmp_path: Path, without: str) -> None:
    with pytest.raises(RecogniserError, match=without):
        open_vosk(model_folder(tmp_path, without), {})
    assert package.folder == ""


def test_a_missing_folder_and_a_broken_model_say_so(package: Vosk, tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="does not exist"):
        open_vosk(tmp_path / "none", {})
    package.fails = True
    with pytest.raises(RecogniserError, match="cannot load the model"):
        open_vosk(model_folder(tmp_path), {})


def test_without_the_package_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(RecogniserError, match=r"pip install 'voicetech\[vosk\]'"):
        open_vosk(model_folder(tmp_path), {})
