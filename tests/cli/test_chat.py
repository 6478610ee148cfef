"""`voicetech chat`: killed at many points and taken up again, left by Ctrl-D and Ctrl-C, fed with rubbish."""

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.cli.program import ROOT, Program, run
from tests.dialogue.talker import lexicon, shipped
from tests.dialogue.test_rules import INTAKE
from voicetech.cli import app
from voicetech.cli.chat import _HELP
from voicetech.events import (
    AnswerTaken,
    DangerStopped,
    DeadProved,
    Event,
    InputReceived,
    JobReopened,
    ReadingTaken,
    Replied,
)
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.session import fold

SAFE = ("plug is out", "one twenty", "yes", "all zero", "yes", "one twenty", "yes")
TO_BAKE = ("go to the bake element", "four wire cord", *SAFE)
TO_SUPPLY = ("go to the supply", "four wire cord", *SAFE, "done", "looks good", "looks good", "ready for live", "done")
PULL_THE_PLUG = "prompt: Pull the plug. Keep it in sight and in reach. Then say: plug is out."
STOPPED = "danger: When all is safe, say: everything is safe start again."


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("VOICETECH_HOME", str(folder))
    # Read once for all tests; the program in its own process reads its files itself.
    monkeypatch.setattr("voicetech.cli.joining.procedure_named", lambda _name: shipped())
    monkeypatch.setattr("voicetech.job.load_lexicon", lexicon)
    return folder


def chat(*arguments: str, lines: tuple[str, ...] = ()) -> Result:
    return CliRunner().invoke(app, ["chat", "--plain", *arguments], input="".join(f"{line}\n" for line in lines))


def on_record(home: Path) -> list[Event]:
    with open_journal(journal_path(home)) as journal:
        (job,) = journal.jobs()
        return list(journal.events(job.job))


def shown_on_record(events: list[Event]) -> list[str]:
    return [line for event in events if isinstance(event, Replied) for line in event.show]


def typed_on_record(events: list[Event]) -> list[str]:
    return [event.text for event in events if isinstance(event, InputReceived)]


def replies(printed: list[str]) -> list[str]:
    """Return what a plain screen printed of replies, without the words in front."""
    return [line.partition(": ")[2] for line in printed if not line.startswith("Job ")]


@dataclass(frozen=True, slots=True)
class Killed:
    """What was typed before the program died, the last line it printed by then, and how it goes on."""

    lines: tuple[str, ...]
    last: str
    again: str
    then: tuple[str, ...]
    stands: str


POINTS = {
    "in the middle of intake": Killed(
        ("no", "bake", "at once"),
        "prompt: From the plate, how many volts?",
        "prompt: From the plate, how many volts?",
        ("two forty volts",),
        "prompt: And how many kilowatts",
    ),
    "while the model is read back": Killed(
        (*INTAKE[:5], "m seven four two"),
        "question: M seven four two. Right?",
        "prompt: Model, spelled in groups.",
        ("yes", "m seven four two", "yes"),
        "prompt: Serial number",
    ),
    "while the tester is read back": Killed(
        TO_BAKE[:4],
        "question: Hot to neutral one hundred twenty volts.",
        PULL_THE_PLUG,
        SAFE,
        "prompt: The bake element by eye",
    ),
    "after some of the proof": Killed(
        TO_BAKE[:7], "prompt: Prove the tester again.", PULL_THE_PLUG, SAFE, "prompt: The bake element by eye"
    ),
    "while the proof stands": Killed(
        TO_BAKE, "prompt: The bake element by eye", PULL_THE_PLUG, SAFE, "prompt: The bake element by eye"
    ),
    "after a reading on dead wiring": Killed(
        (*TO_BAKE, "looks good", "done", "two thousand six hundred watts", "zero point three", "open"),
        "prompt: Once more, to be sure.",
        PULL_THE_PLUG,
        SAFE,
        "prompt: Once more, to be sure.",
    ),
    "with the probes on": Killed(
        (*TO_SUPPLY, "two forty one"),
        "question: Probes off?",
        PULL_THE_PLUG,
        (*SAFE, "ready for live", "done"),
        "prompt: L one to neutral.",
    ),
    "after a danger stop": Killed(
        (*TO_BAKE, "i smell smoke"),
        STOPPED,
        "danger: Stopped.",
        ("done", "it is safe now start again", "a spill burnt off", *SAFE),
        "prompt: The bake element by eye",
    ),
    "while paused": Killed(
        (*TO_BAKE, "pause"), "record: Paused.", "record: Paused.", ("resume", *SAFE), "prompt: The bake element by eye"
    ),
}


@pytest.mark.parametrize("point", POINTS.values(), ids=POINTS.keys())
def test_killed_and_taken_up_again(home: Path, point: Killed) -> None:
    with Program(home, "chat", "--plain") as program:
        program.type(*point.lines)
        program.wait_for(point.last)
        program.kill()
    before = on_record(home)
    assert shown_on_record(before) == replies(program.shown)
    assert typed_on_record(before) == list(point.lines)

    again = chat("--resume", "last", lines=point.then)
    assert again.exit_code == 0, again.output
    assert next(line for line in again.stdout.splitlines()[1:] if not line.startswith("caution:")).startswith(
        point.again
    )
    asked = [line for line in again.stdout.splitlines() if line.startswith(("prompt:", "danger:", "question:"))]
    assert asked[-1].startswith(point.stands)

    after = on_record(home)
    assert after[: len(before)] == before, "what was on record is neither lost nor changed"
    answer = next(at for at, event in enumerate(after) if at >= len(before) and isinstance(event, InputReceived))
    assert isinstance(after[len(before)], JobReopened)
    assert not fold(after[:answer]).safety.dead_pairs
    assert fold(after[:answer]).safety.proved_at_s is None
    readings = [event for event in before if isinstance(event, ReadingTaken)]
    assert readings == [event for event in after if isinstance(event, ReadingTaken)][: len(readings)]


@pytest.mark.parametrize("seen", [4, 11, 18])
def test_killed_between_two_lines_that_wait(home: Path, seen: int) -> None:
    with Program(home, "chat", "--plain") as program:
        program.type(*INTAKE)
        program.wait_for_lines(seen)
        program.kill()
    events = on_record(home)
    shown, printed = shown_on_record(events), replies(program.shown)
    assert shown[: len(printed)] == printed, "what was shown is on record, in its order, once"
    typed = typed_on_record(events)
    assert tuple(typed) == INTAKE[: len(typed)]
    answered = [event.field for event in events if isinstance(event, AnswerTaken)]
    assert len(set(answered)) == len(answered)
    on = chat("--resume", "last", lines=INTAKE[len(typed) :])
    assert (
        on.stdout.splitlines()[-2]
        == "prompt: Every cover back on and nobody touching the range. Then say: covers are on."
    )
    assert tuple(typed_on_record(on_record(home))) == INTAKE


def test_a_proof_made_before_is_made_again_and_both_are_on_record(home: Path) -> None:
    assert chat(lines=TO_BAKE).exit_code == 0
    assert chat("--resume", "last", lines=SAFE).exit_code == 0
    events = on_record(home)
    assert sum(isinstance(event, DeadProved) for event in events) == 2


def test_a_stop_stands_through_two_deaths_and_every_other_word(home: Path) -> None:
    chat(lines=("smoke",))
    again = chat("--resume", "last", lines=("no", "done", "resume", "repeat", "go to the bake element"))
    assert again.stdout.count("When all is safe, say: everything is safe start again.") == 6
    assert chat("--resume", "last").stdout.splitlines()[-2] == STOPPED
    assert sum(isinstance(event, DangerStopped) for event in on_record(home)) == 1


def test_a_hand_over_and_a_closed_job_say_so_when_taken_up(home: Path) -> None:
    handed = (*TO_SUPPLY[:10], "it's burnt")
    assert "Stop work." in chat(lines=handed).stdout
    again = chat("--resume", "last", lines=("close the job",))
    assert "danger: Stop work." in again.stdout
    assert "Job closed: handed over" in again.stdout
    assert "Print the report with: voicetech report" in again.stdout
    closed = chat("--resume", "last", lines=("no",))
    assert closed.exit_code == 0
    assert "This job is closed. Print its report with: voicetech report" in closed.stdout


def test_the_end_of_the_input_says_how_to_go_on(home: Path) -> None:
    done = run(home, "chat", "--plain", given=b"no\n")
    assert done.returncode == 0
    assert done.stderr == ""
    (job,) = {line.split()[1].rstrip(".") for line in done.stdout.splitlines() if line.startswith("Job ")}
    assert done.stdout.splitlines()[-1] == f"Left at this step. Take it up with: voicetech chat --resume {job}"


def test_ctrl_c_at_the_prompt_says_how_to_go_on(home: Path) -> None:
    with Program(home, "chat", "--plain") as program:
        program.type("no")
        program.wait_for("prompt: What is cold")
        code, output, errors = program.interrupt()
    assert code == 130
    assert output.strip().startswith("Left at this step. Take it up with: voicetech chat --resume ")
    assert "Traceback" not in errors
    assert chat("--resume", "last").stdout.splitlines()[-2].startswith("prompt: What is cold")


def test_rubbish_is_asked_about_and_never_ends_the_job(home: Path) -> None:
    rubbish = bytes(range(256)) * 8 + b"\n\xff\xfe\n\x00\n" + "\ud800".encode("utf-8", "surrogatepass") + b"\nno\n"
    done = run(home, "chat", "--plain", given=rubbish)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert "prompt: What is cold" in done.stdout


def test_a_record_that_fails_ends_the_chat_with_how_to_go_on(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from voicetech.journal.errors import JournalError
    from voicetech.journal.store import Journal

    append = Journal.append

    def full(self: Journal, job: str, at: int, events: list[Event]) -> int:
        if at:
            raise JournalError("The disk is full.")
        return append(self, job, at, events)

    monkeypatch.setattr(Journal, "append", full)
    result = chat(lines=("no", "bake"))
    assert result.exit_code == 1
    assert "The disk is full." in result.stderr
    assert "Take it up with: voicetech chat --resume " in result.stderr
    assert "What is cold" not in result.stdout, "nothing is answered that is not on record"


def test_of_two_programs_on_one_job_each_goes_on_from_the_other(home: Path) -> None:
    with Program(home, "chat", "--plain") as first:
        first.wait_for("prompt: First.")
        first.type("no")
        first.wait_for("prompt: What is cold")
        with Program(home, "chat", "--plain", "--resume", "last") as second:
            second.wait_for("prompt: What is cold")
            second.type("bake")
            second.wait_for("prompt: Did it stop")
            first.type("all coils")
            first.wait_for("gone on elsewhere")
            first.wait_for("prompt: Did it stop")
            first.type("at once")
            first.wait_for("prompt: From the plate")
            second.type("two forty volts")
            second.wait_for("prompt: From the plate")
    assert not any("all coils" in line.lower() for line in first.shown if line.startswith("said back"))
    assert run(home, "replay", "last").returncode == 0


def test_two_jobs_of_one_minute_get_two_names(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    chances = [b"aa", b"aa", b"aa", b"bb"]
    monkeypatch.setattr("secrets.token_bytes", lambda _count: chances.pop(0))
    monkeypatch.setattr("time.time", lambda: 1_000_000.0)
    assert chat().exit_code == 0
    assert chat().exit_code == 0
    with open_journal(journal_path(home)) as journal:
        assert len(journal.jobs()) == 2


@pytest.mark.parametrize(
    "words",
    [
        "repeat",
        "how",
        "where",
        "why",
        "what's the limit",
        "status",
        "undo",
        "pause",
        "skip because it is behind the wall",
        "go to the bake element",
        "note: the cord is chafed",
        "note the cord is chafed",
    ],
)
def test_what_the_program_says_may_be_said_is_understood(home: Path, words: str) -> None:
    assert words.split(" because")[0].split(":")[0].split(" the ")[0] in _HELP
    result = chat(lines=("no", words))
    assert "question: Say again?" not in result.stdout
    assert not [line for line in result.stdout.splitlines() if line.startswith("not now:")]


def test_a_reason_given_with_the_skip_is_not_asked_for_again(home: Path) -> None:
    result = chat(lines=("no", "skip because it is behind the wall"))
    assert "said back: Skipped: it is behind the wall. It goes into the report as not tested." in result.stdout
    assert "Why skip it?" not in result.stdout


def test_a_terminal_that_cannot_show_a_sign_does_not_end_the_job(home: Path) -> None:
    told = "from voicetech.cli import main; import sys; sys.argv = ['voicetech', 'chat', '--plain']; main()"
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "VOICETECH_HOME": str(home)}
    lines = "note: twenty Ω\nno\n".encode()
    done = subprocess.run([sys.executable, "-c", told], env=environment, cwd=ROOT, input=lines, capture_output=True)
    assert b"Traceback" not in done.stderr
    assert b"What is cold" in done.stdout
