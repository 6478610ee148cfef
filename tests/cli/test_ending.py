"""How commands end that are broken off or whose words cannot be written: with one line and no traceback."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.program import ROOT, Program
from tests.replay.jobs import session_lines, typed_job
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

FULL = Path("/dev/full")


@pytest.fixture
def home(job_home: Path) -> Path:
    with open_journal(journal_path(job_home)) as journal:
        for number in range(4):
            typed_job(journal, f"job-{number}", session_lines("lost-leg-handed-over")[:12])
    return job_home


def _begun(home: Path, *arguments: str, out: int) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [sys.executable, "-m", "voicetech", *arguments],
        env={**os.environ, "VOICETECH_HOME": str(home), "PYTHONPATH": str(ROOT)},
        stdout=out,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


def _wait_until_ours(begun: "subprocess.Popen[bytes]") -> None:
    """Wait until Python itself has begun: it takes Ctrl-C, and the program's first line gives that up again."""
    seen = False
    while begun.poll() is None:
        takes = _takes_ctrl_c(begun.pid)
        if seen and not takes:
            return
        seen |= takes
        time.sleep(0.001)


def _takes_ctrl_c(pid: int) -> bool:
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except OSError:
        return False
    mask = status.partition("SigCgt:")[2].split()
    return bool(mask) and bool(int(mask[0], 16) >> (signal.SIGINT - 1) & 1)


@pytest.mark.skipif(not FULL.exists(), reason="needs a device that is always full")
@pytest.mark.parametrize(
    "arguments",
    [
        ["jobs"],
        ["jobs", "--json"],
        ["jobs", "--figures"],
        ["--help"],
        ["jobs", "--help"],
        ["report", "last"],
        ["report", "--schema"],
        ["replay", "last"],
        ["understand", "open"],
        ["judge", "element", "--watts", "2600", "--reading", "21.8"],
        ["upkeep"],
    ],
)
def test_an_output_that_takes_nothing_more_is_told_in_one_line(home: Path, arguments: list[str]) -> None:
    with FULL.open("wb") as full:
        done = _begun(home, *arguments, out=full.fileno())
        _, errors = done.communicate(timeout=120)
    assert done.returncode == 1
    assert errors.decode().count("\n") == 1
    assert "The output cannot be written (No space left on device)" in errors.decode()


def test_a_reader_that_has_seen_enough_is_no_error(home: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    done = _begun(home, "jobs", "--json", out=write)
    os.close(write)
    _, errors = done.communicate(timeout=120)
    assert (done.returncode, errors) == (1, b"")


@pytest.mark.parametrize("later_s", [0.1, 0.2, 0.4, 0.8, 1.6, 2.4, 3.2])
def test_ctrl_c_while_all_cores_work_is_one_line(home: Path, later_s: float) -> None:
    done = _begun(home, *["replay", *["all"] * 3], out=subprocess.DEVNULL)
    _wait_until_ours(done)
    time.sleep(later_s)
    # A terminal sends it to all processes of the command.
    os.killpg(done.pid, signal.SIGINT)
    _, errors = done.communicate(timeout=60)
    line = "Ended with Ctrl-C.\n"
    # Nothing is said where it struck while the program was loading, or when the work was done on a fast computer. Where
    # it struck while the command itself loaded more, Python says the line and ends by the signal; a shell shows 130.
    told = {130: (line,), -signal.SIGINT: ("", line), 0: ("",)}
    assert errors.decode() in told[done.returncode]


def test_ctrl_c_before_and_after_the_work_says_nothing(home: Path) -> None:
    """Struck often, from the first moment to the last, it never shows a traceback."""
    done = _begun(home, "jobs", out=subprocess.DEVNULL)
    _wait_until_ours(done)
    while done.poll() is None:
        os.killpg(done.pid, signal.SIGINT)
        time.sleep(0.005)
    _, errors = done.communicate(timeout=60)
    assert done.returncode in (0, 130, -signal.SIGINT)
    assert errors.decode() in ("", "Ended with Ctrl-C.\n")


def test_a_job_that_is_left_by_ctrl_c_says_how_to_go_on_and_nothing_more(home: Path) -> None:
    with Program(home, "chat", "--plain") as program:
        program.wait_for("answers:")
        status, output, errors = program.interrupt()
    assert status == 130
    assert "Take it up with" in output
    assert errors == ""


@pytest.mark.parametrize("address", ["nonsense", "tcp://127.0.0.1:9", "foo://office:8786"])
def test_a_cluster_that_is_not_there_is_one_line(home: Path, address: str) -> None:
    pytest.importorskip("distributed")
    done = _begun(home, "replay", "last", "--cluster", address, out=subprocess.DEVNULL)
    _, errors = done.communicate(timeout=120)
    assert done.returncode == 1
    assert errors.decode().startswith(f"There is no cluster at {address} (")
    assert errors.decode().count("\n") == 1
