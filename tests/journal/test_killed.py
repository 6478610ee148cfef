"""The program is killed at every point of a write; what it acknowledged is there, and nothing twice."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.journal.examples import note, opened
from voicetech.journal.store import open_journal

_ROOT = Path(__file__).parents[2]

_WRITE_AND_ACKNOWLEDGE = """
import sys
from pathlib import Path
from tests.journal.examples import note, opened
from voicetech.journal.store import open_journal
journal = open_journal(Path(sys.argv[1]))
seq = journal.append("a", 0, [opened("a")])
print(seq, flush=True)
while True:
    seq = journal.append("a", seq, [note(f"{seq + 1}"), note(f"{seq + 2}"), note(f"{seq + 3}")])
    print(seq, flush=True)
"""

_DIE_BEFORE = """
import os, signal, sqlite3, sys
from pathlib import Path
from tests.journal.examples import note
from voicetech.journal.store import Journal
path, last_words = Path(sys.argv[1]), sys.argv[2]
connection = sqlite3.connect(path, isolation_level=None)
connection.execute("PRAGMA synchronous = FULL")
def look(statement):
    if last_words in statement:
        os.kill(os.getpid(), signal.SIGKILL)
connection.set_trace_callback(look)
Journal(connection, path).append("a", 1, [note("2"), note("3"), note("4")])
print("acknowledged", flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def _run(script: str, *arguments: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", script, *arguments],
        cwd=_ROOT,
        env={**os.environ, "PYTHONPATH": str(_ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )


@pytest.mark.parametrize("turns", [1, 2, 5, 9])
def test_killed_while_writing_keeps_what_was_acknowledged(tmp_path: Path, turns: int) -> None:
    path = tmp_path / "jobs.db"
    child = _run(_WRITE_AND_ACKNOWLEDGE, str(path))
    assert child.stdout is not None
    for _ in range(turns):
        child.stdout.readline()
    child.kill()
    # What it printed between the last look and its death counts as acknowledged too.
    rest = child.stdout.read().splitlines(keepends=True)
    child.wait()
    child.stdout.close()
    acknowledged = max([1 + 3 * (turns - 1), *(int(line) for line in rest if line.endswith("\n"))])
    with open_journal(path) as journal:
        events = journal.events("a")
        assert len(events) >= acknowledged
        assert events == (opened("a"), *(note(str(seq)) for seq in range(2, len(events) + 1)))
        assert len(events) % 3 == 1, "a turn is on record whole or not at all"
        assert journal.append("a", len(events), [note("after")]) == len(events) + 1


@pytest.mark.parametrize(
    ("before", "kept"),
    [("BEGIN", 1), ('"text":"2"', 1), ('"text":"3"', 1), ('"text":"4"', 1), ("COMMIT", 1), ("nothing", 4)],
)
def test_killed_inside_a_transaction_leaves_all_of_it_or_nothing(tmp_path: Path, before: str, kept: int) -> None:
    path = tmp_path / "jobs.db"
    with open_journal(path) as journal:
        journal.append("a", 0, [opened("a")])
    child = _run(_DIE_BEFORE, str(path), before)
    output, _ = child.communicate()
    assert child.returncode == -signal.SIGKILL
    assert bool(output) is (kept == 4)
    with open_journal(path) as journal:
        assert len(journal.events("a")) == kept
        assert journal.append("a", kept, [note("after")]) == kept + 1
