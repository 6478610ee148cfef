"""`voicetech chat`: killed at many points and taken up again, left by Ctrl-D and Ctrl-C, fed with rubbish."""

import os
import re
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.cli.program import ROOT, Program, run
from tests.dialogue.talker import lexicon, shipped
from tests.dialogue.test_rules import INTAKE
from voicetech.cli import app
from voicetech.cli.appliance import PROCEDURE_VARIABLE
from voicetech.cli.chat import _HELP, HISTORY
from voicetech.dialogue.reply import LineKind
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


def of_replies(printed: list[str]) -> list[str]:
    """Return the lines of replies among those that a plain screen printed."""
    return [line for line in printed if line.partition(": ")[0] in set(LineKind)]


def replies(printed: list[str]) -> list[str]:
    """Return what a plain screen printed of replies, without the words in front."""
    return [line.partition(": ")[2] for line in of_replies(printed)]


def job_in(printed: list[str]) -> str:
    (job,) = {line.split()[1].rstrip(":") for line in printed if line.startswith("job: ")}
    return job


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
    said_again = of_replies(again.stdout.splitlines())
    assert next(line for line in said_again if not line.startswith("caution:")).startswith(point.again)
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
    last = of_replies(on.stdout.splitlines())[-1]
    assert last == "prompt: Every cover back on and nobody touching the range. Then say: covers are on."
    assert tuple(typed_on_record(on_record(home))) == INTAKE


def test_a_proof_made_before_is_made_again_and_both_are_on_record(home: Path) -> None:
    assert chat(lines=TO_BAKE).exit_code == 0
    assert chat("--resume", "last", lines=SAFE).exit_code == 0
    events = on_record(home)
    assert sum(isinstance(event, DeadProved) for event in events) == 2


def test_a_stop_stands_through_two_deaths_and_every_other_word(home: Path) -> None:
    chat(lines=("smoke",))
    again = chat("--resume", "last", lines=("no", "done", "resume", "repeat", "go to the bake element"))
    clear = STOPPED.partition(": ")[2]
    assert sum(line.endswith(clear) for line in replies(again.stdout.splitlines())) == 6
    assert of_replies(chat("--resume", "last").stdout.splitlines())[-1] == STOPPED
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
    job = job_in(done.stdout.splitlines())
    assert done.stdout.splitlines()[-1] == f"note: Left at this step. Take it up with: voicetech chat --resume {job}"


def test_ctrl_c_at_the_prompt_says_how_to_go_on(home: Path) -> None:
    with Program(home, "chat", "--plain") as program:
        program.type("no")
        program.wait_for("prompt: What is cold")
        code, output, errors = program.interrupt()
    assert code == 130
    assert output.splitlines()[-1].startswith("note: Left at this step. Take it up with: voicetech chat --resume ")
    assert "Traceback" not in errors
    assert of_replies(chat("--resume", "last").stdout.splitlines())[-1].startswith("prompt: What is cold")


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


WORDS = {
    "job", "keys", "stage", "power", "where", "limits", "band", "answers", "suspected", "history", "technician",
    "voicetech", "taken up", "note", *LineKind,
}  # fmt: skip
TO_OHMS = (*TO_BAKE, "looks good", "done", "two thousand six hundred watts", "zero point three")


def test_plain_has_one_item_a_line_and_the_word_for_it_first(home: Path) -> None:
    chat(lines=("no", "bake"))
    for printed in (chat("--resume", "last", lines=(*TO_OHMS, HISTORY, "twenty two", "pause")).stdout, chat().stdout):
        for line in printed.splitlines():
            assert line.partition(": ")[0] in WORDS, line
        assert "\x1b" not in printed
        assert not any(sign in printed for sign in "├┤─═◆▶◀│")


def test_before_a_measurement_it_says_where_and_what_it_should_read_and_after_it_where_it_lies(home: Path) -> None:
    lines = chat(lines=(*INTAKE, "go to the bake element", *TO_OHMS[2:], "twenty two")).stdout.splitlines()
    asked = lines.index("prompt: One wire off. Terminal to terminal, lowest range. Ohms?")
    assert lines[asked + 1 : asked + 6] == [
        "where: bake 1: Left end of the bake element, at its wire.",
        "where: bake 2: Right end of the bake element, at its wire.",
        "limits: It should read 19.9 to 24.4 ohms, for a 2600 watt element at 240 volts.",
        "band: |------[========]------|  19.9 Ω to 24.4 Ω",
        "answers: a figure in Ω / open",
    ]
    assert lines[asked + 6] == "said back: bake 1-bake 2: 22 Ω"
    assert lines[asked + 7].startswith("verdict: Within limits: ")
    assert lines[asked + 8] == "band: |------[===*====]------|  19.9 Ω to 24.4 Ω", "the leads taken off, as judged"


def test_what_is_suspected_is_told_when_a_result_has_changed_it(home: Path) -> None:
    lines = chat(lines=("no", "bake", *TO_OHMS, "open", "what's the limit")).stdout.splitlines()
    told = [number for number, line in enumerate(lines) if line.startswith("suspected: ")]
    assert told
    assert lines[told[-1]].startswith("suspected: the bake element is open (")
    assert lines.index("said back: bake 1-bake 2: OL") < told[-1]
    assert not any(
        line.startswith("suspected: ") for line in lines[: lines.index("said back: Bake element: nothing wrong.")]
    )


def test_stage_and_power_are_told_where_they_change_and_nowhere_else(home: Path) -> None:
    lines = chat(lines=(*TO_BAKE, "repeat", "looks good")).stdout.splitlines()
    powers = [line for line in lines if line.startswith("power: ")]
    assert [power.split(".")[0] for power in powers] == [
        "power: Nothing proved",
        "power: Isolated, not proved dead",
        "power: Every pair read 1 V or less, tester proved before and after",
    ]
    stages = [line for line in lines if line.startswith("stage: ")]
    assert all(one != two for one, two in pairwise(stages))
    assert stages[0] == "stage: Call (1 of 9): intake."
    assert "safe" not in " ".join(powers).lower().replace("not safe", "")


def test_history_shows_the_conversation_and_is_no_answer(home: Path) -> None:
    printed = chat(lines=("no", HISTORY, "History ", "bake")).stdout.splitlines()
    first = printed.index("history: the conversation so far")
    end = printed.index("history: its end")
    assert printed[first + 1].startswith("voicetech: First. Is it sparking")
    assert printed[first + 2 : first + 4] == ["technician: no", "voicetech: No."]
    assert printed[end + 1].startswith("prompt: What is cold"), "what stands open is said again"
    assert printed.count("history: the conversation so far") == 2
    assert typed_on_record(on_record(home)) == ["no", "bake"]


def test_history_is_no_word_of_any_question() -> None:
    from voicetech.language.meaning import Asking, Question, Unclear
    from voicetech.language.understand import understand
    from voicetech.procedure import Ask

    asks = [step for section in shipped().sections for step in section.steps if isinstance(step, Ask)]
    questions = [Question(step.asking, choices=step.choices, chat=True) for step in asks]
    for question in (*questions, *(Question(asking, chat=True) for asking in Asking)):
        if question.asking is not Asking.NOTE:
            assert isinstance(understand(HISTORY, question, lexicon()), Unclear), question


def test_where_words_are_free_history_is_one_of_them(home: Path) -> None:
    chat(lines=("no", "skip", HISTORY))
    assert HISTORY in typed_on_record(on_record(home))


def test_a_job_taken_up_says_where_it_stands_after_the_last_of_the_conversation(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    began = time.time()
    chat(lines=TO_BAKE)
    monkeypatch.setattr("time.time", lambda: began + 2 * 3600 + 120)
    lines = chat("--resume", "last").stdout.splitlines()
    heading = lines.index("history: the end of the conversation so far")
    assert [line for line in lines if line.startswith("technician: ")] == [
        "technician: yes",
        "technician: one twenty",
        "technician: yes",
    ]
    taken_up = lines.index(
        "taken up: It was left 2 hours ago. It stands at: bake element. Before that the proof of dead is made again."
    )
    assert heading < taken_up < lines.index(PULL_THE_PLUG)


def test_a_closed_output_ends_it_with_one_line_and_everything_on_record(home: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "voicetech", "chat", "--plain"],
        env={**os.environ, "VOICETECH_HOME": str(home), "PYTHONPATH": str(ROOT)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    while b"prompt: " not in process.stdout.readline():
        pass
    process.stdout.close()
    process.stdout = None
    _, errors = process.communicate(b"no\nbake\n", timeout=60)
    assert process.returncode == 1
    (said,) = errors.decode().splitlines()
    assert said.startswith(
        "Nothing more can be shown: the output is closed. All answers are on record. Take it up with: "
    )
    assert typed_on_record(on_record(home)) == ["no"]


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
@pytest.mark.parametrize("columns", [40, 80])
def test_on_a_terminal_it_is_wrapped_and_a_typed_line_comes_back_with_the_arrow(home: Path, columns: int) -> None:
    keys = (b"kettle\r", b"range\r", b"note: tall\r", b"\x1b[A\r", b"note: cord\x07\r", b"\x04")
    shown = on_terminal(home, columns, *keys)
    assert typed_on_record(on_record(home)) == ["note: tall", "note: tall", "note: cord"]
    rows = re.sub(r"\x1b[^a-zA-Z]*[a-zA-Z]", "", shown).replace("\r", "").splitlines()
    own = [row for row in rows if not row.startswith("> ")]
    assert all(len(row) <= columns for row in own)
    assert any("Take it up with" in row for row in own[-3:])
    assert rows[0].startswith("Which appliance?")
    assert "That is none of these." in " ".join(own)
    assert "Electric range does not heat" in shown
    assert "Traceback" not in shown
    assert not list(home.glob("*history*"))


def on_terminal(home: Path, columns: int, *keys: bytes) -> str:
    """Run the chat on a pseudo-terminal, press keys at each prompt, and return all that came."""
    import fcntl
    import pty
    import struct
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    kept = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", PROCEDURE_VARIABLE)}
    process = subprocess.Popen(
        [sys.executable, "-m", "voicetech", "chat"],
        env={**kept, "VOICETECH_HOME": str(home), "PYTHONPATH": str(ROOT), "TERM": "xterm", "LC_ALL": "C.UTF-8"},
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
    )
    os.close(theirs)
    end = threading.Timer(60, process.kill)
    end.start()
    shown, waiting = b"", list(keys)
    answered = 0
    try:
        while True:
            try:
                more = os.read(ours, 65536)
            except OSError:
                break
            if not more:
                break
            shown += more
            if waiting and shown.endswith(b"> ") and len(shown) > answered:
                answered = len(shown)
                os.write(ours, waiting.pop(0))
    finally:
        process.wait(timeout=60)
        end.cancel()
        os.close(ours)
    return shown.decode(errors="replace")


@pytest.mark.parametrize("word", ["quit", "Exit"])
def test_who_types_quit_has_left_and_nothing_of_it_is_on_record(home: Path, word: str) -> None:
    result = chat(lines=("no", word, "bake"))
    assert result.exit_code == 0
    assert "Take it up with: voicetech chat --resume" in result.output
    assert typed_on_record(on_record(home)) == ["no"]


def test_quit_is_kept_where_ones_own_words_are_asked_for(home: Path) -> None:
    chat(lines=("no", "note", "quit", "quit"))
    assert typed_on_record(on_record(home))[-1] == "quit"
