"""What others do to the record while a job is at work: other programs, other commands, and hands in the folder."""

import random
import shutil
import sqlite3
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

from tests.crash.driving import LostError, answered, typed
from tests.faults.bench import DONE, Bench
from tests.faults.running import Surroundings, Tried, ended, happened, wrong_with
from tests.faults.working import job_lines, missing, worked
from voicetech.events import InputReceived
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_to_read
from voicetech.replay import material_of, replay

_TURNS: Final = 24
_LINES: Final = 10
_AT: Final = 5


def company(bench: Bench) -> Iterator[Tried]:
    """Try what others do meanwhile."""
    yield two_programs(bench.folder / "two")
    yield from _meanwhile(bench)
    yield from _hands(bench)


def two_programs(home: Path, turns: int = _TURNS) -> Tried:
    """Work one job in two programs by turns of chance; each line is on record once, and both know where it stands."""
    chance = random.Random(7)
    begun = worked(Surroundings(home), job_lines()[:4])
    job = _last(home)
    both = [Surroundings(home).begun("chat", "--plain", "--resume", job) for _ in range(2)]
    sent = Counter(begun.acknowledged)
    wrong: list[str] = list(wrong_with(begun.ran))
    try:
        for process in both:
            answered(process)
        for number in range(turns):
            process = chance.choice(both)
            line = chance.choice(("status", "no", "yes", "repeat", f"note: number {number}", "undo", "two forty volts"))
            if typed(process, line) and answered(process):
                sent[line] += 1
            else:
                wrong.append(f"no answer to {line!r}")
    except LostError as error:
        wrong.append(f"hangs: {error}")
    for process in both:
        wrong += wrong_with(ended(process, longest_s=30.0))
    with open_to_read(journal_path(home)) as journal:
        said = Counter(event.text for event in journal.events(job) if isinstance(event, InputReceived))
        exact = replay(material_of(journal, job, "faults")).exact
    if said != sent:
        wrong.append(f"answers lost or doubled: {(sent - said) or (said - sent)}")
    if not exact:
        wrong.append("the job cannot be gone through again")
    return Tried("two programs on one job", "chat, chat", f"{sent.total()} lines on record once each", tuple(wrong))


def _last(home: Path) -> str:
    with open_to_read(journal_path(home)) as journal:
        return journal.last_job() or ""


def _meanwhile(bench: Bench) -> Iterator[Tried]:
    """Run each command while a job is at work: none of them harms it."""
    for command in ("jobs", "report", "push", "upkeep", "upkeep --mend", "replay", "forget", "review --out", "demo"):
        home = bench.home()
        found: list[str] = []
        told: list[str] = []

        done = worked(Surroundings(home), job_lines()[:_LINES], before_line=_running(bench, home, command, found, told))
        if len(done.acknowledged) != _LINES:
            found.append(f"the job does not go on: {done.ran.first}")
        lost = bench.lost(home, (DONE,) if command == "forget" else ())
        kept = () if command == "demo" else missing(home, done)
        yield Tried("while a job is at work", command, told[0], (*found, *wrong_with(done.ran), *kept, *lost))


def _running(
    bench: Bench, home: Path, command: str, found: list[str], told: list[str]
) -> Callable[[int, object], None]:
    """Return what runs a command in front of the line in the midst, and notes what came of it."""

    def run(number: int, _process: object) -> None:
        if number == _AT:
            bench.out()
            ran = Surroundings(home).run(*bench.words(command))
            found.extend(wrong_with(ran))
            told.append(happened(ran, {str(bench.folder): "…"}))

    return run


def _hold(home: Path) -> None:
    """Hold the record for writing, as a program that hangs."""
    code = (
        "import sqlite3, sys, time\n"
        "c = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "c.execute('BEGIN EXCLUSIVE'); print('held', flush=True); time.sleep(30)\n"
    )
    holder = subprocess.Popen(
        ["timeout", "40", sys.executable, "-c", code, str(journal_path(home))], stdout=subprocess.PIPE
    )
    assert holder.stdout is not None
    holder.stdout.readline()
    _HOLDERS.append(holder)


_HOLDERS: list["subprocess.Popen[bytes]"] = []


def _overwrite(home: Path) -> None:
    with journal_path(home).open("r+b") as file:
        file.seek(4096)
        file.write(bytes(8192))


def _moved_away(home: Path) -> None:
    home.rename(home.with_name("elsewhere"))


def _emptied(home: Path) -> None:
    journal_path(home).write_bytes(b"")


def _without_sounds(home: Path) -> None:
    for name in ("sounds", "reports"):
        shutil.rmtree(home / name)


def _other_program(home: Path) -> None:
    connection = sqlite3.connect(journal_path(home))
    connection.execute("PRAGMA user_version = 99")
    connection.commit()
    connection.close()


HANDS: Final[Sequence[tuple[str, Callable[[Path], None], bool]]] = (
    ("record held by a program that hangs", _hold, True),
    ("home moved away", _moved_away, False),
    ("home deleted", shutil.rmtree, False),
    ("record deleted", lambda home: journal_path(home).unlink(), False),
    ("record replaced by an empty file", _emptied, False),
    ("log of the record deleted", lambda home: (home / "jobs.db-wal").unlink(missing_ok=True), False),
    ("record overwritten in part", _overwrite, False),
    ("record brought to a newer layout", _other_program, False),
    ("list of jobs deleted", lambda home: (home / "archive.db").unlink(), True),
    (
        "sounds and reports deleted",
        _without_sounds,
        True,
    ),
)
"""What hands do in the folder in the midst of a job, and whether the record has to be there afterwards as it was."""


def _hands(bench: Bench) -> Iterator[Tried]:
    for fault, change, whole in HANDS:
        shutil.rmtree(bench.folder / "elsewhere", ignore_errors=True)
        home = bench.home()

        def hands(number: int, _process: object, change: Callable[[Path], None] = change, home: Path = home) -> None:
            if number == _AT:
                change(home)

        done = worked(Surroundings(home), job_lines()[:_LINES], before_line=hands)
        while _HOLDERS:
            holder = _HOLDERS.pop()
            holder.kill()
            holder.wait()
        wrong = list(wrong_with(done.ran))
        if whole:
            wrong += [*bench.lost(home), *missing(home, done)]
        told = f"after {len(done.acknowledged)} answers {happened(done.ran, {str(bench.folder): '…'})}"
        yield Tried(fault, "chat", told, tuple(wrong))
