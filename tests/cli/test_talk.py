"""`voicetech talk` from recordings: what it shows, keeps and says when something is missing."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner, Result

from tests.talking.stage import ListedEar
from voicetech.cli.talk import talk
from voicetech.events import InputReceived, JobOpened
from voicetech.heard import Heard
from voicetech.hearing.errors import HearingError
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.language.phrases import WordAutomaton
from voicetech.speaking.speaker import SpeakingError

app = typer.Typer()
app.command()(talk)


class TurnEar(ListedEar):
    """Hears the next text of its list in each sound."""

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        return super().hear(self.sound(self.turns.pop(0)), automaton)

    def __init__(self, *turns: str) -> None:
        super().__init__()
        self.turns = list(turns)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "120")
    return folder


Ears = Callable[..., TurnEar]


@pytest.fixture
def ears(monkeypatch: pytest.MonkeyPatch) -> Ears:
    def use(*turns: str) -> TurnEar:
        ear = TurnEar(*turns)
        monkeypatch.setattr("voicetech.hearing.ears.open_ear", lambda _name, _model: ear)
        return ear

    return use


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["--silent", "--plain", *arguments])


def clips(folder: Path, *names: str) -> Path:
    folder.mkdir()
    for at, name in enumerate(names):
        noise = np.random.default_rng(at).normal(0, 0.1, RATE_HZ // 2)
        soundfile.write(folder / name, noise, RATE_HZ)
    return folder


def jobs(home: Path) -> list[str]:
    with open_journal(journal_path(home)) as journal:
        last = journal.last_job()
    return [last] if last else []


def test_a_folder_answers_one_prompt_with_each_recording(home: Path, tmp_path: Path, ears: Ears) -> None:
    ears("no", "quiet", "stop")
    folder = clips(tmp_path / "a", "2.wav", "1.flac", "3.WAV")
    (folder / "notes.txt").write_text("not sound", encoding="utf-8")
    result = run("--audio", str(folder))
    assert result.exit_code == 0, result.output
    assert result.output.index("1.flac") < result.output.index("2.wav") < result.output.index("3.WAV")
    assert "technician: no" in result.output
    assert "danger: Stopped." in result.output
    (job,) = jobs(home)
    assert f"voicetech talk --resume {job}" in result.output
    assert f"voicetech chat --resume {job}" in result.output


def test_sounds_are_kept_and_that_is_said(home: Path, tmp_path: Path, ears: Ears) -> None:
    ears("no")
    result = run("--audio", str(clips(tmp_path / "a", "1.wav")))
    assert f"kept on this computer, in {home / 'sounds'}" in result.output.replace("\n", " ")
    assert "--no-sound" in result.output
    (job,) = jobs(home)
    with open_journal(journal_path(home)) as journal:
        (received,) = [event for event in journal.events(job) if isinstance(event, InputReceived)]
    assert [path.stem for path in (home / "sounds").iterdir()] == [received.sound_sha256]


def test_no_sound_is_kept_where_that_is_wanted(home: Path, tmp_path: Path, ears: Ears) -> None:
    ears("no")
    result = run("--no-sound", "--audio", str(clips(tmp_path / "a", "1.wav")))
    assert result.exit_code == 0
    assert not (home / "sounds").exists()


def test_a_job_is_taken_up_again(home: Path, tmp_path: Path, ears: Ears) -> None:
    folder = clips(tmp_path / "a", "1.wav")
    ears("no")
    run("--audio", str(folder))
    (job,) = jobs(home)
    ears("repeat")
    result = run("--resume", "last", "--audio", str(folder))
    assert f"Job {job}" in result.output
    assert jobs(home) == [job]
    with open_journal(journal_path(home)) as journal:
        assert sum(isinstance(event, JobOpened) for event in journal.events(job)) == 1


def test_silence_in_a_file_leaves_the_job_where_it_is(home: Path, tmp_path: Path, ears: Ears) -> None:
    ears()
    soundfile.write(tmp_path / "quiet.wav", np.zeros(2 * RATE_HZ), RATE_HZ)
    result = run("--audio", str(tmp_path / "quiet.wav"))
    assert result.exit_code == 0, result.output
    assert "Left at this step" in result.output


def test_words_the_ear_cannot_hear_are_told(
    home: Path, tmp_path: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ear = ears("no")
    monkeypatch.setattr(ear, "unknown_words", lambda words: frozenset({"yes"}) & frozenset(words))
    assert "cannot hear these words" in run("--audio", str(clips(tmp_path / "a", "1.wav"))).output


def test_a_failing_voice_ends_with_how_to_go_on(
    home: Path, tmp_path: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("no")

    def fail(_self: object, _text: str) -> None:
        raise SpeakingError("The voice is gone.")

    monkeypatch.setattr("voicetech.speaking.silent_speaker.SilentSpeaker.say", fail)
    result = run("--audio", str(clips(tmp_path / "a", "1.wav")))
    assert result.exit_code == 1
    assert "The voice is gone." in result.output
    assert f"voicetech chat --resume {jobs(home)[0]}" in result.output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--audio", "nothing-there.wav"], "no such file"),
        (["--audio", "."], "holds no sound files"),
        (["--audio", "text.wav"], "cannot be read as sound"),
        (["--resume", "last", "--audio", "ok.wav"], "no job to take up"),
        (["--resume", "20260101-0000-k7", "--audio", "ok.wav"], "There is no job"),
        (["--procedure", "no-such-procedure", "--audio", "ok.wav"], "no-such-procedure"),
        (["--mic", "1", "--audio", "ok.wav"], "not both"),
    ],
)
def test_mistakes_are_told_and_no_job_is_begun(
    home: Path, tmp_path: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch, arguments: list[str], says: str
) -> None:
    ears()
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    if arguments[1] != ".":
        (work / "text.wav").write_text("not sound", encoding="utf-8")
        soundfile.write(work / "ok.wav", np.zeros(RATE_HZ), RATE_HZ)
    result = run(*arguments)
    assert result.exit_code in (1, 2)
    assert says in result.output
    assert "Traceback" not in result.output
    assert isinstance(result.exception, SystemExit)
    assert not home.exists() or jobs(home) == []


def test_an_unknown_ear_is_told_with_the_names(home: Path) -> None:
    result = run("--ear", "left")
    assert result.exit_code == 1
    assert "constrained, vosk" in result.output


def test_a_microphone_that_cannot_be_opened_begins_no_job(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears()

    def refuse(_device: object) -> None:
        raise HearingError("No microphone. Go on by keyboard: voicetech chat")

    monkeypatch.setattr("voicetech.hearing.microphone.open_microphone", refuse)
    result = run()
    assert result.exit_code == 1
    assert "voicetech chat" in result.output
    assert jobs(home) == []


def test_a_closed_job_points_to_its_report(
    home: Path, tmp_path: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = clips(tmp_path / "a", "1.wav")
    ears("no")
    run("--audio", str(folder))
    monkeypatch.setattr("voicetech.job.Job.closed", property(lambda _job: True))
    ears()
    result = run("--resume", "last", "--audio", str(folder))
    assert result.exit_code == 0
    assert f"voicetech report {jobs(home)[0]}" in result.output
