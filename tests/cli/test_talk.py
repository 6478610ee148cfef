"""`voicetech talk` from recordings: what it shows, keeps and says when something is missing."""

import os
import pty
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
import typer
from typer.testing import CliRunner, Result

from tests.cli.voices import END, Ears, Playing, clips, plug_in
from voicetech.cli.by_voice import Keys
from voicetech.cli.talk import talk
from voicetech.events import InputReceived, JobOpened, Replied
from voicetech.hearing.errors import HearingError, MicrophoneLostError
from voicetech.hearing.frames import RATE_HZ
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.speaking.speaker import SpeakingError

app = typer.Typer()
app.command()(talk)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "120")
    return folder


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["--silent", "--plain", *arguments])


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
    assert f"goes to {home / 'sounds'}" in result.output.replace("\n", " ")
    assert "--no-sound" in result.output
    assert "The sound of what is said is kept." in result.output
    (job,) = jobs(home)
    with open_journal(journal_path(home)) as journal:
        (received,) = [event for event in journal.events(job) if isinstance(event, InputReceived)]
    assert [path.stem for path in (home / "sounds").iterdir()] == [received.sound_sha256]


def test_no_sound_is_kept_where_that_is_wanted(home: Path, tmp_path: Path, ears: Ears) -> None:
    ears("no")
    result = run("--no-sound", "--audio", str(clips(tmp_path / "a", "1.wav")))
    assert result.exit_code == 0
    assert not (home / "sounds").exists()
    both = run("--no-sound", "--keep-sound", "--audio", str(tmp_path / "a"))
    assert both.exit_code == 2


def test_with_a_microphone_the_sound_is_asked_about_first(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("yes", "no")
    plug_in(monkeypatch, Playing(END, "no", "no"))
    result = run()
    assert result.output.index("May the sound of what is said be kept") < result.output.index("Is it sparking")
    assert "The sound of what is said is kept." in result.output
    assert len(list((home / "sounds").iterdir())) == 1, "the answer to that question itself is not kept"


def test_without_a_yes_no_sound_is_kept(home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears("no", "no")
    plug_in(monkeypatch, Playing(END, "no", "no"))
    assert "No sound is kept." in run().output
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


def test_answers_into_a_microphone_are_taken(home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears("no")
    plug_in(monkeypatch, Playing(END, "no"))
    result = run("--no-sound", "--headset")
    assert result.exit_code == 1
    assert "technician: no" in result.output
    assert "The recording ends." in result.output


def test_a_microphone_that_is_lost_is_told_and_taken_up_again(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch
) -> None:
    ears("no", "bake is cold")
    plug_in(monkeypatch, Playing(MicrophoneLostError("pulled out"), "no"), Playing(END, "it-won-t-bake"))
    result = run("--no-sound")
    said = [
        result.output.index(words)
        for words in ("technician: no", "the microphone is gone", "The microphone is back", "technician: bake is cold")
    ]
    assert said == sorted(said)
    with open_journal(journal_path(home)) as journal:
        spoken = " ".join(event.speak for event in journal.events(jobs(home)[0]) if isinstance(event, Replied))
    assert "I cannot hear you" in spoken, "nothing is spoken that is not on record"


def test_the_wish_for_an_address_word_goes_through(home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch) -> None:
    ears("no", "what is for lunch", "wrench no")
    plug_in(monkeypatch, Playing(END, "no", "no"))
    result = run("--no-sound", "--address-word", "wrench")
    assert result.output.index("overheard: ") < result.output.index("technician: no")


@pytest.mark.parametrize("word", ["yes", "two words"])
def test_an_address_word_that_cannot_be_one_is_refused(
    home: Path, ears: Ears, monkeypatch: pytest.MonkeyPatch, word: str
) -> None:
    ears()
    plug_in(monkeypatch, Playing(END, "no"))
    result = run("--address-word", word)
    assert result.exit_code == 2
    assert "word" in result.output


def test_push_to_talk_without_a_keyboard_is_refused(home: Path, ears: Ears) -> None:
    ears()
    result = run("--push-to-talk")
    assert result.exit_code == 2
    assert "needs a terminal" in result.output
    assert not home.exists()


class Pressed:
    """Takes what the keys do; over after so many of them."""

    def __init__(self, enough: int) -> None:
        self.done: list[str] = []
        self.enough = enough
        self.job = self

    @property
    def closed(self) -> bool:
        return len(self.done) >= self.enough

    def press_stop(self) -> None:
        self.done.append("stop")

    def open_for_one(self) -> None:
        self.done.append("open")

    def type_line(self, line: str) -> None:
        self.done.append(f"typed {line}")

    def remark(self, words: str) -> None:
        self.done.append(words.split(":")[0])


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], object]]:
    hand, end = pty.openpty()
    with os.fdopen(end, encoding="utf-8") as stdin, os.fdopen(hand, "wb", buffering=0) as typing:
        monkeypatch.setattr(sys, "stdin", stdin)
        yield lambda text: typing.write(text.encode())


Keyboard = Callable[[str], object]


@pytest.mark.parametrize(
    ("push_to_talk", "typed", "done"),
    [
        (False, "\n", ["stop"]),
        (False, "help!\n", ["stop"]),
        (True, "\n", ["open"]),
        (True, "s\n", ["stop"]),
        (True, "S\n\n", ["stop", "open"]),
        (True, "yes\n", ["open"]),
    ],
)
def test_the_keys(keyboard: Keyboard, push_to_talk: bool, typed: str, done: list[str]) -> None:
    conversation = Pressed(len(done))
    keyboard(typed)
    Keys(conversation, push_to_talk, there=True).watch()  # type: ignore[arg-type]
    assert conversation.done == done


@pytest.mark.parametrize("push_to_talk", [False, True])
def test_while_the_microphone_is_gone_typed_lines_are_answers(keyboard: Keyboard, push_to_talk: bool) -> None:
    conversation = Pressed(4)
    keys = Keys(conversation, push_to_talk, there=True)  # type: ignore[arg-type]
    keys.microphone_gone()
    keyboard("two forty volts\nyes\n" + ("s\n" if push_to_talk else "\n"))
    keys.watch()
    assert conversation.done == ["I cannot hear you", "typed two forty volts", "typed yes", "stop"]
    keys.microphone_back()
    conversation.enough = 6
    keyboard("yes\n")
    keys.watch()
    assert conversation.done[4:] == ["The microphone is back. I can hear you.", "open" if push_to_talk else "stop"]
