"""A job worked at the real program's keyboard, every line of it looked for on record afterwards."""

import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.crash.driving import LostError, answered, typed
from tests.faults.running import Ran, Surroundings, ended
from tests.replay.jobs import session_lines
from voicetech.events import InputReceived
from voicetech.journal.errors import JournalError
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_to_read
from voicetech.replay import material_of, replay


@dataclass(slots=True)
class Worked:
    """A run: the lines that were acknowledged, the one that was on its way, and how it ended."""

    acknowledged: list[str]
    on_its_way: str | None
    ran: Ran


def worked(
    surroundings: Surroundings,
    lines: Sequence[str],
    arguments: Sequence[str] = ("chat", "--plain", "--procedure", "range"),
    before_line: Callable[[int, "subprocess.Popen[bytes]"], None] = lambda _number, _process: None,
) -> Worked:
    """Type lines, waiting for the reply to each; `before_line` is called in front of each with its number."""
    process = surroundings.begun(*arguments)
    acknowledged: list[str] = []
    on_its_way = None
    try:
        if answered(process):
            for number, line in enumerate(lines):
                before_line(number, process)
                on_its_way = line
                if not typed(process, line) or not answered(process):
                    break
                acknowledged.append(line)
                on_its_way = None
    except LostError:
        return Worked(acknowledged, on_its_way, Ran(None, *(_read(process))))
    return Worked(acknowledged, on_its_way, ended(process, longest_s=30.0))


def _read(process: "subprocess.Popen[bytes]") -> tuple[str, str]:
    ran = ended(process, longest_s=5.0)
    return ran.out, ran.err


def job_lines() -> list[str]:
    """Return the lines of a whole job."""
    return session_lines("bake-element-repaired")


def missing(home: Path, done: Worked) -> tuple[str, ...]:
    """Return what is wrong with the record of the job that was written to last.

    Every acknowledged line has to be there in its order, the one on its way whole or not at all, and nothing else.
    """
    if not done.acknowledged:
        return ()
    try:
        with open_to_read(journal_path(home)) as journal:
            job = journal.last_job() or ""
            said = [event.text for event in journal.events(job) if isinstance(event, InputReceived)]
            exact = replay(material_of(journal, job, "faults")).exact
    except JournalError as error:
        return (f"the record cannot be read: {error}",)
    allowed = [done.acknowledged, [*done.acknowledged, done.on_its_way]]
    found = [] if said in allowed else [f"answers lost: {len(said)} on record of {len(done.acknowledged)}"]
    return (*found, *(() if exact else ("the job cannot be gone through again",)))
