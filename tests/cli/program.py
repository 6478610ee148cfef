"""The real program in a process of its own, fed through a pipe and killed at will."""

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType
from typing import Self

from voicetech.last_words import TRACEBACK_VARIABLE

_LONGEST_S = 30.0
ROOT = Path(__file__).parents[2]


RANGE = "electric-range-no-heat"


def _environment(home: Path, procedure: str | None) -> dict[str, str]:
    """Return what the program finds around it; `procedure` is what it works where a command names none."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("VOICETECH_")}
    return {
        **kept,
        "VOICETECH_HOME": str(home),
        "PYTHONPATH": str(ROOT),
        "COLUMNS": "120",
        "PYTHONIOENCODING": "utf-8:strict",
        TRACEBACK_VARIABLE: "1",
        **({} if procedure is None else {"VOICETECH_PROCEDURE": procedure}),
    }


def run(
    home: Path, *arguments: str, given: bytes = b"", procedure: str | None = RANGE
) -> "subprocess.CompletedProcess[str]":
    """Run a command to its end, `given` being its standard input."""
    done = subprocess.run(
        [sys.executable, "-m", "voicetech", *arguments],
        env=_environment(home, procedure),
        input=given,
        capture_output=True,
        timeout=120,
        check=False,
    )
    return subprocess.CompletedProcess(done.args, done.returncode, done.stdout.decode(), done.stderr.decode())


class Program:
    """A running command; `shown` are the whole lines it has printed so far."""

    def __init__(
        self,
        home: Path,
        *arguments: str,
        longest_s: float = _LONGEST_S,
        terminal: bool = False,
        procedure: str | None = RANGE,
    ) -> None:
        self.shown: list[str] = []
        self._keyboard: int | None = None
        typed_into = subprocess.PIPE
        if terminal:
            self._keyboard, typed_into = os.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "voicetech", *arguments],
            env=_environment(home, procedure),
            stdin=typed_into,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            # A test run in the background may have been told to ignore Ctrl-C.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )
        if terminal:
            os.close(typed_into)
        # A program that waits for ever fails its test instead of holding it up.
        self._end = threading.Timer(longest_s, self._process.kill)
        self._end.daemon = True
        self._end.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()
        self._end.cancel()
        if self._keyboard is not None:
            os.close(self._keyboard)

    @property
    def runs(self) -> bool:
        """Return whether it has not ended yet."""
        return self._process.poll() is None

    @property
    def memory_mb(self) -> float:
        """Return the memory it holds."""
        status = Path(f"/proc/{self._process.pid}/status").read_text(encoding="ascii")
        return int(status.partition("VmRSS:")[2].split()[0]) / 1024

    def type(self, *lines: str) -> None:
        """Type lines without waiting for what they bring."""
        typed = "".join(f"{line}\n" for line in lines).encode()
        if self._keyboard is not None:
            os.write(self._keyboard, typed)
            return
        assert self._process.stdin is not None
        self._process.stdin.write(typed)
        self._process.stdin.flush()

    def wait_for(self, words: str, times: int = 1) -> None:
        """Read what is printed up to the line that holds these words; fail where the program ends before it."""
        assert self._process.stdout is not None
        for _ in range(times):
            while True:
                line = self._process.stdout.readline().decode()
                assert line, f"the program ended before it said {words!r}; it said: {self.shown[-3:]} {self._errors()}"
                self.shown.append(line.rstrip("\n"))
                if words in line:
                    break

    def wait_for_lines(self, count: int) -> None:
        """Read this many more lines."""
        self.wait_for("", times=count)

    def end(self) -> tuple[int, str]:
        """Wait for the program to end by itself; return the exit code and the errors."""
        output, errors = self._process.communicate(timeout=60)
        self.shown += output.decode().splitlines()
        return self._process.returncode, errors.decode()

    def interrupt(self) -> tuple[int, str, str]:
        """Press Ctrl-C; return the exit code, the rest of what was printed, and the errors."""
        self._process.send_signal(signal.SIGINT)
        output, errors = self._process.communicate(timeout=60)
        return self._process.returncode, output.decode(), errors.decode()

    def kill(self) -> None:
        """End the program without a chance to tidy up; what it printed before its death is read."""
        if self._process.poll() is None:
            self._process.kill()
        if self._process.stdout is not None and not self._process.stdout.closed:
            output, _ = self._process.communicate()
            whole = output.decode().rpartition("\n")[0]
            self.shown += whole.split("\n") if whole else []

    def _errors(self) -> str:
        assert self._process.stderr is not None
        return self._process.stderr.read().decode()
