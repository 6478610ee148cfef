"""The ways a program's run is brought to an end, and what a power cut leaves of files that were not flushed."""

import random
import re
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final


class Ending(StrEnum):
    """How a run ends."""

    KILLED = "killed at any time"
    IN_A_CALL = "killed inside a call to the system"
    POWER_CUT = "cut off, with what was not flushed lost"
    DISK_FULL = "disk full"
    FLUSH_FAILED = "disk that fails to flush"


CALLS: Final = {"pwrite64": 500, "fdatasync": 40, "write": 150, "ftruncate": 1}
"""Calls to the system that a run is ended in, each with the most of them that are let through before."""
TRACED: Final = "pwrite64,fdatasync,fsync,ftruncate,write"
_AT: Final = re.compile(r"(\w+)\(\d+<([^>]*)>(?:, .*?, (\d+), (\d+))?\)\s+= (-?\d+)")


def endings() -> tuple[Ending, ...]:
    """Return the endings that can be brought about here: without strace only the first."""
    return tuple(Ending) if shutil.which("strace") else (Ending.KILLED,)


def traced(command: Sequence[str], ending: Ending, chance: random.Random, trace: Path) -> list[str]:
    """Return the command so that it ends that way; KILLED is brought about from outside."""
    match ending:
        case Ending.KILLED:
            return list(command)
        case Ending.IN_A_CALL:
            call = chance.choice(list(CALLS))
            inject = f"{call}:signal=KILL:when={chance.randint(1, CALLS[call])}"
        case Ending.POWER_CUT:
            call = chance.choice(("pwrite64", "fdatasync"))
            inject = f"{call}:signal=KILL:when={chance.randint(1, CALLS[call])}"
        case Ending.DISK_FULL:
            inject = f"pwrite64:error=ENOSPC:when={chance.randint(1, CALLS['pwrite64'])}+"
        case Ending.FLUSH_FAILED:
            inject = f"fdatasync:error=EIO:when={chance.randint(1, CALLS['fdatasync'])}+"
    options = ["-f", "-y", "-s", "0", "-o", str(trace), "-e", f"trace={TRACED}", "-e", f"inject={inject}"]
    return ["strace", *options, *command]


@dataclass(frozen=True, slots=True)
class Written:
    """Bytes written to a file."""

    path: Path
    offset: int
    length: int


def unflushed(trace: str) -> tuple[Written, ...]:
    """Return what was written since each file was last flushed, as strace tells it."""
    waiting: dict[str, list[Written]] = {}
    for line in trace.splitlines():
        found = _AT.search(line)
        if found is None or int(found[5]) < 0:
            continue
        call, path = found[1], found[2]
        if call in ("fdatasync", "fsync"):
            waiting.pop(path, None)
        elif call == "pwrite64" and found[4] is not None:
            waiting.setdefault(path, []).append(Written(Path(path), int(found[4]), int(found[3])))
    return tuple(written for of_path in waiting.values() for written in of_path)


def lose(written: Sequence[Written], chance: random.Random) -> int:
    """Return how many of these writes were made undone, each with an even chance, as a power cut would."""
    lost = 0
    for each in written:
        if chance.random() < 0.5 or not each.path.exists():
            continue
        with each.path.open("r+b") as file:
            file.seek(each.offset)
            file.write(bytes(each.length))
        lost += 1
    return lost
