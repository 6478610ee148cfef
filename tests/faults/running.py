"""The program run as somebody runs it, under a fault, and what is seen of it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
LONGEST_S: Final = 120.0
_TRACES: Final = (
    "a mistake of its own",
    "Traceback (most",
    "Exception ignored in",
    "Fatal Python error",
    "Exception in thread",
    "core dumped",
)
"""What a person must never be shown."""
_TOLD: Final = 160
"""Letters of what was said that the list shows."""


@dataclass(frozen=True, slots=True)
class Ran:
    """What became of a run: the exit status (negative for a signal, None where it hung), and what it printed."""

    status: int | None
    out: str
    err: str

    @property
    def trace(self) -> bool:
        """Return whether anything of a traceback was shown."""
        return any(each in self.out or each in self.err for each in _TRACES)

    @property
    def first(self) -> str:
        """Return the first line that tells what is wrong, or else what was printed."""
        lines = [line for line in (*self.err.splitlines(), *self.out.splitlines()) if line.strip(" │╭╮╰╯─")]
        usage = [line for line in lines if not line.startswith(("Usage:", "Try '", "╭─ Error"))]
        return (usage or [""])[0].strip(" │")


@dataclass(frozen=True, slots=True)
class Tried:
    """One fault tried with one command: what happened in words, and what of it must not happen."""

    fault: str
    command: str
    happened: str
    wrong: tuple[str, ...] = ()


@dataclass(slots=True)
class Surroundings:
    """What the program finds around it; `before` are the words in front of its command, such as strace's."""

    home: Path | None
    variables: Mapping[str, str | None] = field(default_factory=dict)
    before: Sequence[str] = ()
    program: Path = ROOT
    """The folder with the program that is run."""

    def environment(self) -> dict[str, str]:
        """Return the variables of the program's process."""
        kept = {name: text for name, text in os.environ.items() if not name.startswith(("VOICETECH_", "COV_"))}
        ours: dict[str, str | None] = {
            "VOICETECH_HOME": None if self.home is None else str(self.home),
            "VOICETECH_PROCEDURE": "electric-range-no-heat",
            "PYTHONPATH": str(self.program),
            "PYTHONDONTWRITEBYTECODE": "1",
            "COLUMNS": "120",
            **self.variables,
        }
        return {name: text for name, text in {**kept, **ours}.items() if text is not None}

    def begun(self, *arguments: str, **streams: int) -> "subprocess.Popen[bytes]":
        """Return the program at work."""
        return subprocess.Popen(
            [*self.before, sys.executable, "-m", "voicetech", *arguments],
            env=self.environment(),
            # Not the folder with the program: Python would load it from there, whatever is asked for.
            cwd="/" if os.name == "posix" else None,
            stdin=streams.get("stdin", subprocess.PIPE),
            stdout=streams.get("stdout", subprocess.PIPE),
            stderr=streams.get("stderr", subprocess.PIPE),
            start_new_session=True,
            # A test run in the background may have been told to ignore Ctrl-C.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )

    def run(self, *arguments: str, given: str = "", longest_s: float = LONGEST_S) -> Ran:
        """Return what became of a command that was run to its end."""
        return ended(self.begun(*arguments), given, longest_s)


def ended(process: "subprocess.Popen[bytes]", given: str = "", longest_s: float = LONGEST_S) -> Ran:
    """Return what became of a process, waiting for its end; one that hangs is ended with all that it began."""
    try:
        out, err = process.communicate(given.encode(), timeout=longest_s)
        status: int | None = process.returncode
    except subprocess.TimeoutExpired:
        end_all(process)
        out, err = process.communicate()
        status = None
    return Ran(status, (out or b"").decode(errors="replace"), (err or b"").decode(errors="replace"))


def end_all(process: "subprocess.Popen[bytes]") -> None:
    """Kill a process and whatever it began."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        process.kill()


def wrong_with(ran: Ran, dies_of: signal.Signals | None = None) -> tuple[str, ...]:
    """Return what of a run nobody should see; `dies_of` is the signal that may have ended it."""
    found = []
    if ran.trace:
        found.append("traceback")
    if ran.status is None:
        found.append("hangs")
    elif ran.status < 0 and (dies_of is None or ran.status != -dies_of):
        found.append(f"died of {signal.Signals(-ran.status).name}")
    elif ran.status > 0 and not ran.first:
        found.append("ends with an error and no word")
    return tuple(found)


def happened(ran: Ran, hide: Mapping[str, str]) -> str:
    """Return in one line how a run ended; `hide` are paths and the names to show for them."""
    said = ran.first
    for path, name in hide.items():
        said = said.replace(path, name)
    how = "hung" if ran.status is None else f"{ran.status}"
    return f"{how}: {said if len(said) <= _TOLD else said[: _TOLD - 1] + '…'}"


def until(holds: Callable[[], object], longest_s: float = 30.0) -> bool:
    """Return whether this came to hold in time."""
    end_s = time.monotonic() + longest_s
    while time.monotonic() < end_s:
        if holds():
            return True
        time.sleep(0.02)
    return False
