"""The program in a terminal of its own, typed into as somebody does, with Ctrl-C and with the window closed."""

import contextlib
import fcntl
import os
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from types import TracebackType
from typing import Final, Self

from tests.faults.running import Ran, Surroundings, end_all

CTRL_C: Final = b"\x03"
CTRL_D: Final = b"\x04"
_LONGEST_S: Final = 60.0
_QUIET_S: Final = 0.05


class Terminal:
    """A command at work in a terminal; `seen` is all that it has printed."""

    def __init__(self, surroundings: Surroundings, arguments: Sequence[str], columns: int = 80, rows: int = 40) -> None:
        self.seen = b""
        self._ours, theirs = os.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        environment = surroundings.environment()
        environment.pop("COLUMNS", None)

        def becomes_its_terminal() -> None:
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)
            for number in (signal.SIGINT, signal.SIGHUP):
                signal.signal(number, signal.SIG_DFL)

        self._process = subprocess.Popen(
            [*surroundings.before, sys.executable, "-m", "voicetech", *arguments],
            env=environment,
            cwd="/",
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            preexec_fn=becomes_its_terminal,
        )
        os.close(theirs)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._process.poll() is None:
            end_all(self._process)
            self._process.wait()
        self.close()

    def type(self, keys: bytes) -> None:
        """Type these keys."""
        with contextlib.suppress(OSError):
            os.write(self._ours, keys)

    def waits(self, prompt: bytes = b"> ", longest_s: float = _LONGEST_S) -> bool:
        """Return whether the program came to wait for a line; what it prints until then is kept in `seen`."""
        end_s = time.monotonic() + longest_s
        new = b""
        while time.monotonic() < end_s:
            there = select.select([self._ours], [], [], _QUIET_S)[0]
            if there:
                more = self._read()
                if not more:
                    return False
                new += more
            elif new.replace(b"\x1b[?2004h", b"").endswith(prompt):
                return True
            elif self._process.poll() is not None:
                return False
        return False

    def ended(self, longest_s: float = _LONGEST_S) -> Ran:
        """Return what became of the program, waiting for its end; all it printed is in `out`."""
        end_s = time.monotonic() + longest_s
        while self._process.poll() is None and time.monotonic() < end_s:
            if self._ours < 0:
                time.sleep(0.02)
            elif select.select([self._ours], [], [], _QUIET_S)[0]:
                self._read()
        while self._ours >= 0 and select.select([self._ours], [], [], _QUIET_S)[0] and self._read():
            pass
        status = self._process.poll()
        if status is None:
            end_all(self._process)
            self._process.wait()
        return Ran(status, self.seen.decode(errors="replace").replace("\r\n", "\n"), "")

    def close(self) -> None:
        """Close the terminal's window."""
        if self._ours >= 0:
            os.close(self._ours)
            self._ours = -1

    def _read(self) -> bytes:
        try:
            more = os.read(self._ours, 65536)
        except OSError:
            # Nobody has the other end any more.
            more = b""
        self.seen += more
        return more
