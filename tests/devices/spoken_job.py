"""A job at `voicetech talk`, answered by recordings that are played into its microphone."""

import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import pytest
import soundfile

from tests.cli.program import Program
from tests.demo_job import accepted, said
from tests.devices.sound_server import MICROPHONE, SoundServer
from voicetech.events import Event, InputReceived, JobClosed
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

PATIENCE_S: Final = 30.0
_ANSWERED_WITHIN_S: Final = 8.0
_CALM_S: Final = 0.5
"""A prompt is over when nothing follows it for this long; what is said within its echo counts as said into it."""
_TRIES: Final = 3
_LOOK_EVERY_S: Final = 0.05
_LONGEST_S: Final = 1800.0


class SpokenJob:
    """The running program, what it has on record, and a mouth before its microphone."""

    def __init__(
        self,
        home: Path,
        server: SoundServer,
        monkeypatch: pytest.MonkeyPatch,
        *more: str,
        terminal: bool = False,
        longest_s: float = _LONGEST_S,
    ) -> None:
        """Start the program; `more` are further options, and with `terminal` it can be typed to as at one."""
        for name, value in server.environment.items():
            monkeypatch.setenv(name, value)
        monkeypatch.setenv("PYTHONUNBUFFERED", "1")
        self._home = home
        self._server = server
        self.answered_after_s = 0.0
        """From the end of the last answer's sound to its being on record."""
        arguments = ("talk", "--mic", MICROPHONE, "--plain", *more)
        self.program = Program(home, *arguments, longest_s=longest_s, terminal=terminal)

    def __enter__(self) -> Self:
        self.program.wait_for("prompt:")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.program.__exit__(kind, error, trace)

    @property
    def events(self) -> tuple[Event, ...]:
        """Return what is on record of the job."""
        if not journal_path(self._home).exists():
            return ()
        with open_journal(journal_path(self._home)) as journal:
            job = journal.last_job()
            return () if job is None else journal.events(job)

    @property
    def said(self) -> list[InputReceived]:
        """Return what was taken for something said to the program."""
        return said(self.events)

    @property
    def accepted(self) -> list[InputReceived]:
        """Return the answers that were taken."""
        return accepted(self.events)

    @property
    def closed(self) -> bool:
        """Return whether the job has come to its end."""
        return any(isinstance(event, JobClosed) for event in self.events)

    def answer(self, clip: Path, tries: int = _TRIES) -> int:
        """Say an answer as a person does, who says it again when asked to; return how often that was."""
        before = len(self.accepted)
        for again in range(tries):
            heard = len(self.said)
            self.wait_for_quiet()
            ends_s = time.monotonic() + soundfile.info(str(clip)).duration
            playing = self._server.stream(clip)
            while len(self.said) == heard and time.monotonic() < ends_s + _ANSWERED_WITHIN_S:
                time.sleep(_LOOK_EVERY_S)
            self.answered_after_s = time.monotonic() - ends_s
            playing.wait()
            if len(self.accepted) > before:
                return again
        raise AssertionError(f"{clip.stem} was said {tries} times and not taken: {self.events[-4:]}")

    def wait_for_quiet(self) -> None:
        """Wait until the program has said its prompt."""
        quiet_since_s = time.monotonic()
        until_s = quiet_since_s + PATIENCE_S
        while time.monotonic() - quiet_since_s < _CALM_S:
            if self._server.speaking():
                quiet_since_s = time.monotonic()
            assert time.monotonic() < until_s, "the program speaks without end"
            time.sleep(_LOOK_EVERY_S)

    def until(self, comes: Callable[[], bool], what: str, within_s: float = PATIENCE_S) -> None:
        """Wait until something is so."""
        until_s = time.monotonic() + within_s
        while not comes():
            assert time.monotonic() < until_s, f"{what} did not come within {within_s:g} s"
            assert self.program.runs, f"the program ended: {self.program.end()}"
            time.sleep(_LOOK_EVERY_S)
