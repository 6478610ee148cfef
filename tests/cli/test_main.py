"""The command line as a whole: help that helps, and bad input told in a sentence at every command."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.cli.program import run as run_process
from tests.journal.examples import opened
from voicetech.cli import COMMANDS as ALL_COMMANDS
from voicetech.cli import app
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

COMMANDS = ("demo", "talk", "chat", "hear", "understand", "judge", "jobs", "report")
JUDGED = ("element", "supply", "sensor", "continuity")
CLIP = Path(__file__).parents[1] / "sounds" / "flite_slt_001.flac"
RUBBISH = bytes(range(255, -1, -1)) * 16


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    monkeypatch.setenv("COLUMNS", "200")
    for name in ("VOICETECH_MODEL", "VOICETECH_VOSK_MODEL"):
        monkeypatch.delenv(name, raising=False)
    return folder


@pytest.fixture
def there(home: Path, tmp_path: Path) -> Path:
    """Return a folder with everything that can be wrong with a file, and a record with one job."""
    home.mkdir()
    with open_journal(journal_path(home)) as journal:
        journal.append("one", 0, [opened("one")])
    (tmp_path / "folder").mkdir()
    (tmp_path / "empty.wav").write_bytes(b"")
    (tmp_path / "rubbish.wav").write_bytes(RUBBISH)
    (tmp_path / "text.flac").write_text("no sound", encoding="utf-8")
    (tmp_path / "half.flac").write_bytes(CLIP.read_bytes()[:900])
    (tmp_path / "rubbish.yaml").write_bytes(RUBBISH)
    (tmp_path / "empty.yaml").write_text("", encoding="utf-8")
    (tmp_path / "broken.yaml").write_text("sections: [", encoding="utf-8")
    (tmp_path / "short.yaml").write_text("procedure: other\ntitle: Short\n", encoding="utf-8")
    (tmp_path / "file").write_text("a file", encoding="utf-8")
    return tmp_path


def run(*arguments: str, given: bytes | str = b"") -> Result:
    return CliRunner().invoke(app, list(arguments), input=given)


def refused(result: Result, says: str) -> None:
    assert result.exit_code in (1, 2), result.output
    assert isinstance(result.exception, SystemExit)
    told = " ".join(result.stderr.replace("│", " ").split())
    assert says in told
    assert "Traceback" not in result.output


class TestHelp:
    def test_nothing_at_all_shows_the_help(self) -> None:
        result = run()
        assert result.exit_code == 2
        assert "Usage:" in result.output
        assert all(command in result.output for command in COMMANDS)

    def test_the_help_says_where_to_start_and_what_it_is_not(self, home: Path) -> None:
        told = " ".join(run("--help").stdout.split())
        assert "voicetech demo" in told
        assert "never declares a circuit safe" in told

    @pytest.mark.parametrize("command", COMMANDS)
    def test_every_command_has_help_that_reads_as_text(self, home: Path, command: str) -> None:
        result = run(command, "--help")
        assert result.exit_code == 0
        assert "Usage:" in result.stdout
        if command not in ("jobs", "judge"):
            told = result.stdout.split("Usage:")[1]
            assert f"voicetech {command}" in told.split("\n", 1)[1], "there is an example"
        assert not home.exists(), "looking at the help leaves nothing behind"

    def test_it_runs_as_a_module(self, tmp_path: Path) -> None:
        done = run_process(tmp_path / "home", "--help")
        assert done.returncode == 0
        assert "Talks an appliance technician through a job" in done.stdout


@pytest.mark.parametrize("command", [*((c,) for c in COMMANDS), *(("judge", c) for c in JUDGED)], ids=" ".join)
def test_an_unknown_option(home: Path, command: tuple[str, ...]) -> None:
    refused(run(*command, "--sing"), "No such option: --sing")
    assert not home.exists()


def test_an_unknown_command(home: Path) -> None:
    refused(run("sing"), "No such command 'sing'.")
    refused(run("judge", "sing"), "No such command 'sing'.")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ("report", "Missing argument 'JOB'"),
        ("report nobody", "There is no job nobody. See the list with: voicetech jobs"),
        ("report one --procedure nothing", "There is no procedure called 'nothing'. These come with"),
        ("report one --out {0}/folder", "is a folder. Name a file in it"),
        ("report one --out {0}/no/where/x.html", "There is no folder"),
        ("report one --out {0}/file/x.html", "Choose another place with --out FILE"),
        ("chat --resume nobody", "There is no job nobody. See the list with: voicetech jobs"),
        ("chat --resume one", "There is no procedure called 'range-no-heat'."),
        ("chat --procedure nothing", "A procedure of yours is named by its file"),
        ("chat --procedure .", "There is no procedure called '.'"),
        ("chat --procedure {0}/folder", "There is no procedure called"),
        ("chat --procedure {0}/missing.yaml", "missing.yaml:1:1: file: cannot be read"),
        ("chat --procedure {0}/rubbish.yaml", "is not UTF-8 text; save it as UTF-8"),
        ("chat --procedure {0}/empty.yaml", "is empty; begin with"),
        ("chat --procedure {0}/broken.yaml", "broken.yaml:1:"),
        ("chat --procedure {0}/short.yaml", "short.yaml:1:1: procedure: 'other' is not the file's name 'short'"),
        ("talk --procedure nothing --audio {clip}", "There is no procedure called 'nothing'"),
        ("talk --resume nobody --audio {clip}", "There is no job nobody."),
        ("talk --audio {0}/missing.wav", "missing.wav: no such file; check the path"),
        ("talk --audio {0}/folder", "holds no sound files; put one WAV or FLAC file for each answer in it"),
        ("talk --audio {0}/empty.wav", "cannot be read as sound"),
        ("talk --audio {0}/rubbish.wav", "cannot be read as sound"),
        ("talk --ear trumpet --audio {clip}", "There is no ear called 'trumpet'; use one of: constrained, vosk"),
        ("talk --model {0}/folder --audio {clip}", "encoder_model.ort"),
        ("talk --model {0}/missing --audio {clip}", "does not exist"),
        ("talk --ear vosk --audio {clip}", "vosk"),
        ("talk --mic 1 --audio {clip}", "give --mic or --audio, not both"),
        ("hear", "name at least one sound file, or give --json and lines on standard input"),
        ("hear {0}/missing.wav", "missing.wav: no such file; check the path"),
        ("hear {0}/folder", "is a folder; name a sound file in it"),
        ("hear {0}/empty.wav", "cannot be read as sound"),
        ("hear {0}/rubbish.wav", "cannot be read as sound"),
        ("hear {0}/text.flac", "cannot be read as sound"),
        ("hear {0}/half.flac", "half.flac"),
        ("hear --asking weather {clip}", "unknown asking 'weather'; use one of voltage, resistance"),
        ("hear --ear trumpet {clip}", "There is no ear called 'trumpet'; use one of: constrained, vosk"),
        ("hear --model {0}/missing {clip}", "does not exist"),
        ("understand --asking weather two", "unknown asking 'weather'; use one of voltage, resistance"),
        ("understand two forty", "unexpected extra argument"),
        ("jobs one", "unexpected extra argument"),
        ("judge element --watts plenty", "'plenty' is not a reading; write a plain number such as 240"),
        ("judge element", "Missing option '--watts'"),
        ("judge supply", "Missing option '--l1-l2'"),
        ("judge supply --l1-l2 many", "'many' is not a reading"),
        ("judge sensor --ohms 1086", "Missing option '--temperature'"),
        ("judge continuity", "give either --reading or --state"),
    ],
)  # fmt: skip
def test_bad_input_is_told(there: Path, arguments: str, says: str) -> None:
    refused(run(*arguments.format(there, clip=CLIP).split()), says)
    assert jobs_of(there) == ["one"], "no job was begun"


def test_no_microphone_is_told_and_what_to_do_instead(there: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(_name: str | None) -> None:
        from voicetech.hearing.errors import HearingError

        raise HearingError("The microphone needs the PortAudio library. Go on by keyboard: voicetech chat")

    monkeypatch.setattr("voicetech.hearing.microphone.open_microphone", missing)
    refused(run("talk", "--silent"), "Go on by keyboard: voicetech chat")


def test_without_portaudio_it_says_how_to_get_it(there: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`sounddevice` raises OSError at its import where the library is missing."""

    class NoLibrary:
        def find_spec(self, name: str, _path: object = None, _target: object = None) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoLibrary(), *sys.meta_path])
    refused(run("talk", "--silent"), "PortAudio library")
    assert jobs_of(there) == ["one"]


def jobs_of(there: Path) -> list[str]:
    with open_journal(there / "home" / "jobs.db") as journal:
        return [line.job for line in journal.jobs()]


WITHOUT_A_JOB = (
    ("chat",),
    ("demo", "--text"),
    ("talk", "--silent", "--audio", str(CLIP)),
    ("jobs",),
    ("jobs", "--json"),
    ("report", "last"),
)


def file_in_the_way(home: Path, patch: pytest.MonkeyPatch) -> str:
    home.write_text("a file", encoding="utf-8")
    return "is a file, and a folder is needed there. Move it aside"


def drive_not_plugged_in(home: Path, patch: pytest.MonkeyPatch) -> str:
    patch.setenv("VOICETECH_HOME", str(home / "voicetech"))
    return "does not exist"


def damaged_record(home: Path, patch: pytest.MonkeyPatch) -> str:
    home.mkdir()
    journal_path(home).write_bytes(b"This is not a record. " * 400)
    return "is not a record of jobs, or it is damaged. Nothing in it was changed. See what can be saved of it with"


def record_is_a_folder(home: Path, patch: pytest.MonkeyPatch) -> str:
    journal_path(home).mkdir(parents=True)
    return "is a folder, and the record of jobs is a file of that name"


def record_of_another_program(home: Path, patch: pytest.MonkeyPatch) -> str:
    import sqlite3

    home.mkdir()
    other = sqlite3.connect(journal_path(home))
    other.execute("CREATE TABLE recipes (name TEXT)")
    other.commit()
    other.close()
    return "belongs to another program. Nothing in it was changed."


@pytest.mark.parametrize(
    "wrong",
    [file_in_the_way, drive_not_plugged_in, damaged_record, record_is_a_folder, record_of_another_program],
)
@pytest.mark.parametrize("command", WITHOUT_A_JOB, ids=lambda command: "-".join(command[:2]))
def test_a_home_that_cannot_be_used(
    home: Path, monkeypatch: pytest.MonkeyPatch, command: tuple[str, ...], wrong: Callable[..., str]
) -> None:
    says = wrong(home, monkeypatch)
    refused(run(*command), says)


@pytest.mark.parametrize("command", [("chat", "--resume", "last"), ("report", "last")], ids=" ".join)
def test_no_job_yet(home: Path, command: tuple[str, ...]) -> None:
    refused(run(*command), "Start one with: voicetech chat")


class TestLinesOnStandardInput:
    BROKEN = ('{"text": "two forty"', "[]", "17", "null", '{"text": 7}', "\\", '{"asking": "voltage"}')

    def test_broken_lines_are_answered_one_by_one(self, home: Path) -> None:
        result = run("understand", "--json", given="\n".join([*self.BROKEN, '{"id": 1, "text": "yes"}']))
        assert result.exit_code == 1
        *bad, good = (json.loads(line) for line in result.stdout.splitlines())
        assert len(bad) == len(self.BROKEN)
        assert all("write" in answer["error"] for answer in bad)
        assert (good["id"], good["kind"]) == (1, "yes")

    def test_an_unknown_asking_in_a_line(self, home: Path) -> None:
        result = run("understand", "--json", given='{"text": "yes", "asking": "weather"}')
        assert result.exit_code == 1
        assert "unknown asking 'weather'" in json.loads(result.stdout)["error"]

    @pytest.mark.parametrize("command", [("understand", "--json"), ("hear", "--json")], ids=" ".join)
    def test_rubbish(self, home: Path, command: tuple[str, ...]) -> None:
        done = run_process(home, *command, given=RUBBISH)
        assert done.returncode == 1
        assert "Traceback" not in done.stderr
        assert all("error" in json.loads(line) for line in done.stdout.splitlines())

    def test_rubbish_without_json_is_not_understood(self, home: Path) -> None:
        done = run_process(home, "understand", given=b"\xff\xfe\x00\n\xc3\x28\nyes\n")
        assert done.returncode == 0
        assert done.stderr == ""
        assert done.stdout.splitlines()[-1] == "yes"


def test_a_pipe_that_closes_early_is_no_error_of_ours(home: Path) -> None:
    import subprocess

    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "VOICETECH_HOME": str(home)}
    process = subprocess.Popen(
        [sys.executable, "-m", "voicetech", "demo", "--text", "--silent", "--plain"],
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    process.stdout.readline()
    process.stdout.close()
    assert process.stderr is not None
    errors = process.stderr.read().decode()
    process.wait(timeout=60)
    process.stderr.close()
    assert "Traceback" not in errors


def loaded_by(home: Path, argument: str) -> set[str]:
    """Return the modules that are loaded when the command has ended."""
    code = (
        f"import sys; sys.argv = ['voicetech', {argument!r}]\nfrom voicetech.cli import main\n"
        "try: main()\nexcept SystemExit: print(*sys.modules, sep='\\n')"
    )
    told = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "VOICETECH_HOME": str(home), "PYTHONPATH": str(Path(__file__).parents[2])},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return set(told.split())


def test_a_list_of_jobs_does_not_wait_for_what_hears_and_decides(tmp_path: Path) -> None:
    with open_journal(journal_path(tmp_path)) as journal:
        journal.append("one", 0, [opened("one")])
    assert run_process(tmp_path, "jobs").returncode == 0
    loaded = loaded_by(tmp_path, "jobs")
    assert "voicetech.cli.jobs" in loaded
    heavy = {"voicetech.hearing", "voicetech.diagnosis", "voicetech.authoring", "numpy", "matplotlib", "sqlalchemy.orm"}
    assert not loaded & heavy


def test_the_list_of_commands_says_what_the_help_of_each_begins_with(home: Path) -> None:
    for name, told in ALL_COMMANDS.items():
        assert told in " ".join(run(name, "--help").stdout.split()), name


def test_the_list_of_commands_loads_none_of_them(tmp_path: Path) -> None:
    assert not {f"voicetech.cli.{name}" for name in ALL_COMMANDS} & loaded_by(tmp_path, "--help")
