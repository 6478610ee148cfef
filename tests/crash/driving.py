"""A careful technician at the real program's keyboard, cut off again and again, who takes the job up each time."""

import os
import random
import select
import subprocess
import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from tests.crash.endings import Ending, lose, traced, unflushed
from voicetech.authoring.procedure_files import load_shipped
from voicetech.events import InputReceived, ReadingTaken
from voicetech.journal.place import journal_path
from voicetech.journal.store import Journal, open_journal, open_to_read
from voicetech.last_words import TRACEBACK_VARIABLE
from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults
from voicetech.rehearsal.technician import answer
from voicetech.replay import material_of, replay
from voicetech.session import fold
from voicetech.turn import Turn

ROOT: Final = Path(__file__).parents[2]
_ANSWER_S: Final = 60.0
_QUIET_S: Final = 0.05
_MOST_LINES: Final = 12
"""Lines of one run before it is killed at the latest."""
_PLATE: Final = {"connection": "cord-4"}


class LostError(Exception):
    """Something that was acknowledged is not on record as it was, or the program did not behave."""


@dataclass(slots=True)
class Told:
    """What was done to the program, and what was found afterwards."""

    endings: Counter[str] = field(default_factory=Counter)
    acknowledged: int = 0
    readings: int = 0
    in_flight_kept: int = 0
    in_flight_gone: int = 0
    writes_lost: int = 0
    jobs: int = 0
    closed: int = 0
    last_words: Counter[str] = field(default_factory=Counter)


class Driver:
    """Works one job after the other in a home folder; each run of the program ends in one of the ways.

    `sent` are the lines of the open job that must be on record, in their order.
    """

    def __init__(self, home: Path, chance: random.Random, told: Told) -> None:
        self._home = home
        self._chance = chance
        self._told = told
        self._procedure = load_shipped("electric-range-no-heat")
        self._sent: list[str] = []
        self._job: str | None = None
        self._at_hand = self._another_range()
        self._marks = 0

    def run_once(self, ending: Ending) -> None:
        """Run the program until it ends that way, and look for what it had acknowledged. Raises LostError."""
        trace = self._home.parent / "trace"
        trace.unlink(missing_ok=True)
        resume = ["--procedure", "range"] if self._job is None else ["--resume", self._job]
        command = [sys.executable, "-m", "voicetech", "chat", "--plain", *resume]
        process = subprocess.Popen(
            traced(command, ending, self._chance, trace),
            env={**os.environ, "VOICETECH_HOME": str(self._home), "PYTHONPATH": str(ROOT), TRACEBACK_VARIABLE: "1"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        in_flight = self._work(process, ending)
        process.kill()
        errors = (process.communicate()[1] or b"").decode(errors="replace")
        self._told.endings[ending.value] += 1
        if "Traceback" in errors:
            raise LostError(f"a traceback was shown ({ending.value}):\n{errors}")
        if ending in (Ending.DISK_FULL, Ending.FLUSH_FAILED) and errors:
            self._told.last_words[errors.splitlines()[0].replace(str(self._home), "HOME")] += 1
        if ending is Ending.POWER_CUT and trace.exists():
            self._told.writes_lost += lose(unflushed(trace.read_text(errors="replace")), self._chance)
        self._look(in_flight)

    def _work(self, process: "subprocess.Popen[bytes]", ending: Ending) -> str | None:
        """Return the line that was sent and not acknowledged before the end, if any."""
        if not answered(process):
            return None
        lines = self._chance.randint(1, _MOST_LINES) if ending is Ending.KILLED else 100
        for _ in range(lines):
            line = self._next_line()
            if line is None:
                return None
            if not typed(process, line):
                return line
            if ending is Ending.KILLED and self._chance.random() < 0.3:
                # At any time: while the line is read, worked out, written down or answered.
                time.sleep(self._chance.uniform(0, 0.06))
                process.kill()
            if not answered(process):
                return line
            self._sent.append(line)
            self._told.acknowledged += 1
        return None

    def _next_line(self) -> str | None:
        if self._chance.random() < 0.25:
            self._marks += 1
            return f"note: mark {self._marks}"
        with open_to_read(journal_path(self._home)) as journal:
            job = self._job or journal.last_job()
            session = fold(journal.events(job or ""))
        if session.turn is Turn.CLOSED:
            return None
        if session.turn is Turn.HANDED_OVER:
            return "close the job"
        return answer(self._procedure, session, self._at_hand, self._chance)

    def _look(self, in_flight: str | None) -> None:
        path = journal_path(self._home)
        if not path.exists():
            if self._sent:
                raise LostError("the record is gone")
            return
        with open_journal(path) as journal:
            job = self._job or self._new_job(journal)
            if job is None:
                if self._sent:
                    raise LostError("the job is gone")
                return
            self._job = job
            events = journal.events(job)
            material = material_of(journal, job, "crash")
        on_record = [event.text for event in events if isinstance(event, InputReceived)]
        if on_record == [*self._sent, in_flight] and in_flight is not None:
            self._sent.append(in_flight)
            self._told.in_flight_kept += 1
        elif on_record == self._sent:
            self._told.in_flight_gone += in_flight is not None
        else:
            raise LostError(f"sent: {self._sent[-3:]} and {in_flight!r} in flight; on record: {on_record[-4:]}")
        if fold(events).turn is Turn.CLOSED:
            done = replay(material)
            if not done.exact:
                raise LostError(f"the job cannot be gone through again: {done}")
            self._told.closed += 1
            self._told.readings += sum(isinstance(event, ReadingTaken) for event in events)
            self._sent, self._job = [], None
            self._at_hand = self._another_range()

    def _new_job(self, journal: Journal) -> str | None:
        jobs = [line.job for line in journal.jobs()]
        if len(jobs) > self._told.jobs + 1:
            raise LostError(f"a job is there twice: {jobs}")
        if len(jobs) == self._told.jobs:
            return None
        self._told.jobs += 1
        return jobs[0]

    def _another_range(self) -> AtHand:
        circuit = self._procedure.circuit
        assert circuit is not None
        faults = possible_faults(circuit, _PLATE)
        return AtHand(self._procedure, circuit, (self._chance.choice(faults),), _PLATE)


def typed(process: "subprocess.Popen[bytes]", line: str) -> bool:
    """Type a line; return whether the program still takes one."""
    assert process.stdin is not None
    try:
        process.stdin.write(f"{line}\n".encode())
        process.stdin.flush()
    except BrokenPipeError:
        return False
    return True


def answered(process: "subprocess.Popen[bytes]") -> bool:
    """Return whether the program said something; all it says in one go is read. Raises LostError where it hangs."""
    assert process.stdout is not None
    number = process.stdout.fileno()
    until_s = time.monotonic() + _ANSWER_S
    said = b""
    while True:
        wait_s = _QUIET_S if said.endswith(b"\n") else until_s - time.monotonic()
        if wait_s <= 0:
            process.kill()
            raise LostError("the program does not answer")
        if not select.select([number], [], [], wait_s)[0]:
            if said.endswith(b"\n"):
                return b"\n" in said
            continue
        more = os.read(number, 65536)
        if not more:
            # Half a line is no acknowledgement; a whole one that came out before the end is.
            return b"\n" in said and not _only_left(said)
        said += more


def _only_left(said: bytes) -> bool:
    return said.startswith((b"note: Left at this step", b"note: Print the report"))
