"""The vosk adapter over a package that is made here.

The names, shapes and habits (scores that are no probabilities, alternatives without word confidences, unknown words
dropped in silence, endpoints of its own) were compared with the package vosk 0.3.45; test_vosk_model holds the adapter
to that package and a real model.
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
from voicetech.hearing.vosk_recogniser import DYNAMIC_GRAPH, NEEDED, SILENCE_S, VoskRecogniser, open_vosk
from voicetech.hearing.vosk_trial import fault_in

GRAMMAR = sentences("two forty volts", "two fifty volts", "stop", "yes", "two forty ohms")
WORDS = frozenset(["two", "forty", "fifty", "volts", "stop", "yes", "[unk]"])
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
    assert package.grammars == [["fifty", "forty", "stop", "two", "volts", "yes", "[unk]"]] * 2
    assert package.rates_hz == [16_000.0] * 2


@pytest.mark.parametrize(("known", "given"), [(["yes", "<UNK>"], ["yes", "<UNK>"]), (["yes"], ["yes"])])
def test_the_unknown_mark_is_the_model_s_own(known: list[str], given: list[str]) -> None:
    package = Vosk(frozenset(known), last=final(("yes", 1.0)), free=final(("it", 1.0), ("<UNK>", 1.0)))
    vosk = VoskRecogniser(package, package.Model(model_path="/model"))
    assert vosk.hear(SOUND, sentences("yes")).text == "yes"
    assert package.grammars == [given] * 2
    assert vosk.write_down(SOUND).text == "it"


def test_words_the_model_lacks_are_named() -> None:
    _, vosk = ear()
    assert vosk.unknown_words(GRAMMAR.words()) == {"ohms"}


def test_a_grammar_without_a_word_the_model_knows_is_not_given_to_it() -> None:
    package, vosk = ear(last=final(("yes", 1.0)))
    stream = vosk.stream(sentences("ohms"))
    stream.take(SOUND.samples)
    assert stream.so_far == ""
    assert stream.finish().alternatives == vosk.hear(SOUND, sentences("ohms")).alternatives == ()
    assert package.grammars == []


def test_sound_is_sixteen_bit_with_silence_around_and_never_wraps_around() -> None:
    package, vosk = ear()
    vosk.hear(SOUND, GRAMMAR)
    samples = np.frombuffer(b"".join(package.blocks), dtype="<i2")
    margin = round(SILENCE_S * RATE_HZ)
    assert len(samples) == RATE_HZ + 2 * margin
    assert not samples[:margin].any()
    assert samples[margin] == -32_767
    assert samples[margin : margin + RATE_HZ].max() == 32_767
    assert not samples[margin + RATE_HZ :].any()


def test_sound_that_is_no_number_is_silence() -> None:
    package, vosk = ear()
    vosk.hear(Utterance(np.full(100, np.nan, np.float32)), GRAMMAR)
    assert not np.frombuffer(b"".join(package.blocks), dtype="<i2").any()


def test_frames_of_any_length_reach_vosk_as_the_whole_does() -> None:
    package, vosk = ear(last=final(("two", 1.0), ("forty", 0.9), ("volts", 0.8)))
    whole = vosk.hear(SOUND, GRAMMAR)
    blocks = package.blocks
    stream = vosk.stream(GRAMMAR)
    so_far = [stream.so_far]
    for at in range(0, len(SOUND.samples), 512):
        stream.take(SOUND.samples[at : at + 512])
        so_far.append(stream.so_far)
    streamed = stream.finish()
    assert package.blocks == blocks
    assert streamed.alternatives == whole.alternatives
    assert list(dict.fromkeys(so_far)) == ["", "two", "two forty", "two forty volts"]


@pytest.mark.parametrize("last", [final(), {"text": "", "result": []}])
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


def test_a_sentence_behind_a_winner_that_is_none_has_its_share_and_no_more() -> None:
    _, vosk = ear(
        last=final(("stop", 0.7), ("[unk]", 0.7)),
        alternatives={"stop [unk]": 300.0 + math.log(2), "stop": 300.0},
    )
    heard = vosk.hear(SOUND, GRAMMAR)
    assert [a.text for a in heard.alternatives] == ["stop"]
    assert heard.alternatives[0].probability == heard.for_us == pytest.approx(1 / 3)


def test_scores_become_shares_of_all_that_was_heard() -> None:
    _, vosk = ear(
        last=final(("two", 1.0), ("forty", 1.0), ("volts", 1.0)),
        alternatives={"two forty volts": 301.0, "two fifty volts": 300.0, "stop": 299.0, "two two": 299.0},
    )
    heard = vosk.hear(SOUND, GRAMMAR)
    assert [a.text for a in heard.alternatives] == ["two forty volts", "two fifty volts", "stop"]
    whole = 1 + math.exp(-1) + 2 * math.exp(-2)
    assert [a.probability for a in heard.alternatives] == pytest.approx(
        [1 / whole, math.exp(-1) / whole, math.exp(-2) / whole]
    )
    assert heard.for_us == 1.0


def test_unsure_words_lower_every_share() -> None:
    _, vosk = ear(last=final(("yes", 0.2)), alternatives={"yes": 10.0 + math.log(3), "stop": 10.0})
    first, second = vosk.hear(SOUND, GRAMMAR).alternatives
    assert (first.text, second.text) == ("yes", "stop")
    assert first.probability == pytest.approx(0.2)
    assert second.probability == pytest.approx(0.2 / 3)


def test_the_same_words_twice_among_the_alternatives_are_one() -> None:
    _, vosk = ear(last=final(("yes", 1.0)), alternatives={"yes": 10.0, " yes": 9.0, "stop": 10.0})
    assert [a.probability for a in vosk.hear(SOUND, GRAMMAR).alternatives] == pytest.approx([0.5, 0.5])


def test_free_speech_is_written_down_without_a_grammar() -> None:
    package, vosk = ear(free=final(("it", 0.9), ("[unk]", 0.5), ("bakes", 0.4)))
    heard = vosk.write_down(SOUND)
    assert package.grammars == [None]
    assert heard.text == heard.free_text == "it bakes"
    assert heard.for_us == 1.0
    assert ear()[1].write_down(SOUND).alternatives == ()


def test_a_model_that_makes_no_decoder_says_so() -> None:
    _, vosk = ear(no_decoder=True)
    with pytest.raises(RecogniserError, match="made no decoder"):
        vosk.hear(SOUND, GRAMMAR)


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


def no_fault(_folder: Path) -> None:
    return None


def test_the_model_is_opened_by_its_whole_path_and_in_silence(
    package: Vosk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    model_folder(tmp_path / "a model")
    monkeypatch.chdir(tmp_path)
    open_vosk(Path("a model"), {}, no_fault)
    assert package.folder == str(tmp_path / "a model")
    assert package.log_level == -1
    open_vosk(None, {"VOICETECH_VOSK_MODEL": str(tmp_path / "a model")}, no_fault).warm_up()


def test_the_folder_given_goes_before_the_variable(package: Vosk, tmp_path: Path) -> None:
    given, named = model_folder(tmp_path / "given"), model_folder(tmp_path / "named")
    open_vosk(given, {"VOICETECH_VOSK_MODEL": str(named)}, no_fault)
    assert package.folder == str(given)


def test_without_a_folder_nothing_is_fetched(package: Vosk) -> None:
    with pytest.raises(RecogniserError, match="VOICETECH_VOSK_MODEL"):
        open_vosk(None, {}, no_fault)
    assert package.folder == ""


@pytest.mark.parametrize("without", [*NEEDED, *DYNAMIC_GRAPH])
def test_a_folder_that_lacks_a_file_says_which(package: Vosk, tmp_path: Path, without: str) -> None:
    with pytest.raises(RecogniserError, match=without):
        open_vosk(model_folder(tmp_path, without), {}, no_fault)
    assert package.folder == ""


def test_a_missing_folder_and_a_broken_model_say_so(package: Vosk, tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="does not exist"):
        open_vosk(tmp_path / "none", {}, no_fault)
    package.fails = True
    with pytest.raises(RecogniserError, match="cannot load the model"):
        open_vosk(model_folder(tmp_path), {}, no_fault)


def test_a_model_that_failed_its_trial_is_not_loaded_here(package: Vosk, tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match=r"unpack it again.*Failed to read"):
        open_vosk(model_folder(tmp_path), {}, lambda _folder: "Failed to read 93 bytes")
    assert package.folder == ""


@pytest.mark.parametrize(
    ("does", "fault"),
    [
        ("", None),
        (
            "sys.stderr.write('WARNING (V:F():f.cc:1) odd\\nERROR (V:F():f.cc:2) Cannot read it\\n'); sys.exit(1)",
            "Cannot read it",
        ),
        ("os.abort()", "it ended the process that loaded it (-6)"),
    ],
)
def test_a_trial_survives_what_the_model_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, does: str, fault: str | None
) -> None:
    calls = "SetLogLevel = Model = lambda *_, **__: None\nclass KaldiRecognizer:\n    def __init__(self, *_): pass\n"
    calls += "    def AcceptWaveform(self, _): pass\n    def FinalResult(self): pass\n"
    (tmp_path / "vosk.py").write_text(f"import os, sys\n{calls}{does}\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert fault_in(tmp_path) == fault


def test_without_the_package_it_says_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(RecogniserError, match=r"pip install 'voicetech\[vosk\]'"):
        open_vosk(model_folder(tmp_path), {}, no_fault)
