"""`voicetech rehearse --voice`: the practice by voice shows what is found, keeps nothing and scores as by keyboard."""

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner, Result

from tests.cli.voices import DEMO, END, Ears, Playing, clips, plug_in
from voicetech.cli import app
from voicetech.cli.by_voice import Keys
from voicetech.hearing.errors import MicrophoneError, MicrophoneLostError
from voicetech.hearing.frames import RATE_HZ
from voicetech.practice import ASIDES
from voicetech.speaking.speaker import SpeakingError

INTAKE = ("no", "bake is cold", "all at once", "two forty volts", "twelve kilowatts", "type later", "type later")


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "200")
    return folder


def practise(*arguments: str, given: str | None = None) -> Result:
    return CliRunner().invoke(app, ["rehearse", "--fault", "bake-open", "--plain", *arguments], input=given)


def by_voice(*arguments: str) -> Result:
    return practise("--voice", "--silent", *arguments)


def spoken(folder: Path, ears: Ears, *answers: str) -> Result:
    ears(*answers)
    return by_voice("--audio", str(clips(folder / "answers", *(f"{n:02}.wav" for n in range(len(answers))))))


def score(result: Result) -> list[str]:
    lines = result.output.splitlines()
    return lines[next(at for at, line in enumerate(lines) if line.startswith("it was:")) :]


def test_what_is_found_stands_on_the_screen_before_each_answer(tmp_path: Path, ears: Ears) -> None:
    lines = spoken(tmp_path, ears, *INTAKE).output.splitlines()
    at = lines.index("technician: bake is cold")
    assert lines[at - 2] == "you find: bake"
    assert "you find: at once" in lines[at:]


def test_the_score_is_the_one_by_keyboard(tmp_path: Path, ears: Ears) -> None:
    result = spoken(tmp_path, ears, *INTAKE, "give up")
    assert result.exit_code == 0, result.output
    by_keyboard = practise(given="\n".join([*INTAKE, "give up", ""]))
    assert score(result) == score(by_keyboard)
    assert score(result)[0] == "it was: the bake element is open"
    assert "safety: kept" in score(result)


def test_nothing_is_recorded_and_no_sound_is_kept(tmp_path: Path, ears: Ears, home: Path) -> None:
    spoken(tmp_path, ears, *INTAKE, "give up")
    assert not home.exists()


def test_it_is_shown_again_when_that_is_said(tmp_path: Path, ears: Ears) -> None:
    lines = spoken(tmp_path, ears, "no", "show me", "bake is cold").output.splitlines()
    at = lines.index("technician: show me")
    assert lines[at + 1] == "you find: bake"
    assert lines.index("technician: bake is cold") > at, "the question stood open"


def test_what_ends_a_hold_is_not_given_away(tmp_path: Path, ears: Ears) -> None:
    lines = spoken(tmp_path, ears, "no", "go to the bake element", "four wire cord", "show me").output.splitlines()
    hold = next(n for n, line in enumerate(lines) if "Then say: plug is out" in line)
    assert "you find" not in lines[hold + 1]
    assert any(line.startswith("you find: plug is out") for line in lines[hold:]), "who asks for it is told"


def test_stop_ends_the_practice_with_its_score(tmp_path: Path, ears: Ears) -> None:
    result = spoken(tmp_path, ears, "no", "stop", "bake is cold")
    assert result.exit_code == 0
    assert "danger: Stopped." in result.output
    assert "technician: bake is cold" not in result.output
    assert score(result)[0].startswith("it was:")


def test_people_nearby_are_neither_answered_nor_shown_anything(tmp_path: Path, ears: Ears) -> None:
    lines = spoken(tmp_path, ears, "no", "what are we having for lunch").output.splitlines()
    assert lines[lines.index("overheard: what are we having for lunch") + 1].startswith("it was:")


def test_the_recordings_of_the_demo_are_heard(tmp_path: Path) -> None:
    folder = tmp_path / "answers"
    folder.mkdir()
    for number, name in enumerate(("no", "it-won-t-bake", "all-at-once")):
        shutil.copy(DEMO / f"{name}.flac", folder / f"{number}-{name}.flac")
    result = by_voice("--audio", str(folder))
    assert result.exit_code == 0, result.output
    assert "technician: it won't bake" in result.output
    assert "technician: all at once" in result.output
    assert "how many volts" in result.output


def test_it_goes_on_with_a_microphone_and_is_scored_when_that_fails(
    ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("no", "bake is cold")
    plug_in(monkeypatch, Playing(MicrophoneLostError("pulled out"), "no"), Playing(END, "it-won-t-bake"))
    result = by_voice()
    assert result.exit_code == 1
    said = [
        result.output.index(words)
        for words in ("technician: no", "the microphone is gone", "go on in text with: voicetech rehearse",
                      "technician: bake is cold", "it was:")
    ]  # fmt: skip
    assert said == sorted(said)
    assert "voicetech chat" not in result.output


def test_without_a_microphone_it_says_how_to_practise_by_keyboard(ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears()

    def refuse(_device: object) -> None:
        raise MicrophoneError("No microphone. Plug one in, or go on by keyboard: voicetech chat")

    monkeypatch.setattr("voicetech.hearing.microphone.open_microphone", refuse)
    result = by_voice()
    assert result.exit_code == 1
    assert "No microphone. Plug one in, or go on by keyboard: voicetech rehearse" in result.output
    assert "it was:" not in result.output, "the fault stays hidden"


def test_a_failing_voice_says_how_to_go_on(tmp_path: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_self: object, _text: str) -> None:
        raise SpeakingError("The voice is gone.")

    monkeypatch.setattr("voicetech.speaking.silent_speaker.SilentSpeaker.say", fail)
    result = spoken(tmp_path, ears, "no")
    assert result.exit_code == 1
    assert "The voice is gone." in result.output
    assert "--silent, or by keyboard: voicetech rehearse" in result.output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--headset"], "add --voice"),
        (["--audio", "answers"], "add --voice"),
        (["--voice", "--json"], "leave --json, all and pairs out"),
        (["--voice", "--fault", "all"], "leave --json, all and pairs out"),
        (["--voice", "--fault", "pairs"], "leave --json, all and pairs out"),
        (["--voice", "--mic", "1", "--audio", "ok.wav"], "not both"),
        (["--voice", "--push-to-talk"], "needs a terminal"),
        (["--voice", "--address-word", "open", "--audio", "ok.wav"], "is also an answer"),
        (["--voice", "--audio", "nothing-there.wav"], "no such file"),
        (["--voice", "--ear", "left", "--audio", "ok.wav"], "constrained, vosk"),
    ],
)
def test_mistakes_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], says: str) -> None:
    monkeypatch.chdir(tmp_path)
    soundfile.write(tmp_path / "ok.wav", np.zeros(RATE_HZ), RATE_HZ)
    result = practise(*arguments)
    assert result.exit_code in (1, 2)
    assert says in result.output
    assert isinstance(result.exception, SystemExit)


def test_show_and_give_up_may_be_typed_and_every_other_line_stops() -> None:
    typed: list[str] = []

    class Conversation:
        def type_line(self, line: str) -> None:
            typed.append(line)

        def press_stop(self) -> None:
            typed.append("(stop)")

    keys = Keys(Conversation(), False, True, ASIDES)  # type: ignore[arg-type]
    for line in ("show", "Give up", "help!", ""):
        keys._pressed(line)
    assert typed == ["show", "Give up", "(stop)", "(stop)"]
    assert "Type give up" in keys.help
