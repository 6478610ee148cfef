"""What may be wrong with the folder that the record is in, and with the disk below it."""

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from tests.faults.bench import DELETED, SERVING, Bench, unlocked
from tests.faults.running import Surroundings, Tried
from tests.faults.serving import served

READS: Final = ("jobs", "report", "review --out", "replay", "recordings", "upkeep", "push", "review")
WRITES: Final = ("chat", "chat --resume", "talk", "demo", "forget", "serve", "upkeep --mend")
SMALL_DISK_KB: Final = 64
_BOUND: Final = (
    ("setpriv", "--inh-caps=-all", "--bounding-set=-all") if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
)
"""What the program is run under where permissions would not bind it, as they do not bind root."""


def whom_rights_bind() -> tuple[str, ...] | None:
    """Return the words in front of a command that is bound by permissions, None where there is no way."""
    return None if _BOUND and shutil.which("setpriv") is None else _BOUND


def try_command(bench: Bench, fault: str, command: str, surroundings: Surroundings, given: str = "") -> Tried:
    """Return a line for a command that is run as it is, its pages asked for where it serves them."""
    words = bench.words(command)
    if command not in SERVING:
        return bench.tried(fault, command, surroundings.run(*words, given=given))
    ran, found = served(surroundings, words)
    line = bench.tried(fault, command, ran)
    return Tried(fault, command, f"{line.happened} ({found})" if found else line.happened, line.wrong)


def _file_in_the_way(home: Path) -> None:
    shutil.rmtree(home)
    home.write_text("a file", encoding="utf-8")


def _locked(home: Path, rights: int, rights_of_files: int) -> None:
    for each in sorted(home.rglob("*"), reverse=True):
        each.chmod(rights if each.is_dir() else rights_of_files)
    home.chmod(rights)


def _replaced(name: str, content: bytes | None) -> Callable[[Path], None]:
    def change(home: Path) -> None:
        place = home / name
        shutil.rmtree(place) if place.is_dir() else place.unlink(missing_ok=True)
        for beside in home.glob(f"{name}-*"):
            beside.unlink()
        place.mkdir() if content is None else place.write_bytes(content)

    return change


def _ends_nowhere(home: Path) -> None:
    shutil.rmtree(home)
    home.symlink_to("nowhere/at/all")


def _in_a_circle(home: Path) -> None:
    shutil.rmtree(home)
    home.symlink_to(home.name)


def _cut(home: Path) -> None:
    record = home / "jobs.db"
    os.truncate(record, record.stat().st_size // 2)


RIGHTS: Final[Sequence[tuple[str, Callable[[Path], None]]]] = (
    ("home that may only be read", lambda home: _locked(home, 0o500, 0o400)),
    ("home that may not be read", lambda home: _locked(home, 0o000, 0o000)),
    ("record that may not be read", lambda home: (home / "jobs.db").chmod(0o000)),
    ("record that may only be read", lambda home: (home / "jobs.db").chmod(0o400)),
    ("list of jobs that may not be read", lambda home: (home / "archive.db").chmod(0o000)),
    ("sounds that may not be read", lambda home: _locked(home / "sounds", 0o000, 0o000)),
    ("reports that may not be written", lambda home: _locked(home / "reports", 0o500, 0o400)),
)
"""Faults that a person has whom permissions bind."""
OTHERS: Final[Sequence[tuple[str, Callable[[Path], None]]]] = (
    ("home that is a file", _file_in_the_way),
    ("home that is a link to nowhere", _ends_nowhere),
    ("home that is a link to itself", _in_a_circle),
    ("record that is a folder", _replaced("jobs.db", None)),
    ("record that is text", _replaced("jobs.db", b"no record\n" * 500)),
    ("record that is cut in half", _cut),
    ("record that is gone", lambda home: (home / "jobs.db").unlink()),
    ("list of jobs that is text", _replaced("archive.db", b"no list\n" * 500)),
    ("list of jobs that is a folder", _replaced("archive.db", None)),
    ("sounds that are a file", _replaced("sounds", b"")),
    ("reports that are a file", _replaced("reports", b"")),
)
"""Faults that anybody has."""


def rights(bench: Bench) -> Iterator[Tried]:
    """Try what may not be read or written in the home folder; whatever was on record is there afterwards."""
    bound = whom_rights_bind()
    for fault, change in () if bound is None else RIGHTS:
        yield from _each(bench, fault, change, bound or ())


def homes(bench: Bench) -> Iterator[Tried]:
    """Try what may be wrong with the home folder; whatever was on record is there afterwards."""
    for fault, change in OTHERS:
        yield from _each(bench, fault, change, ())
    yield from _without_home(bench)


def _each(bench: Bench, fault: str, change: Callable[[Path], None], before: Sequence[str]) -> Iterator[Tried]:
    for command in (*READS, *WRITES):
        bench.out()
        home = bench.home()
        change(home)
        line = try_command(bench, fault, command, Surroundings(home, before=before))
        if home.is_dir() and not home.is_symlink():
            unlocked(home)
        # What the fault itself took is no loss by the program, and what it was asked to delete is none.
        record = fault.startswith("record") and "may" not in fault
        kept = home.is_dir() and not record
        lost = bench.lost(home, DELETED.get(command, ())) if kept else ()
        yield Tried(line.fault, line.command, line.happened, (*line.wrong, *lost))


def _without_home(bench: Bench) -> Iterator[Tried]:
    nowhere = {"VOICETECH_HOME": None, "XDG_DATA_HOME": None}
    for fault, variables in (
        ("HOME not set", {**nowhere, "HOME": None}),
        ("HOME that is not there", {**nowhere, "HOME": str(bench.folder / "nobody" / "at-all")}),
        ("HOME that is empty", {**nowhere, "HOME": ""}),
        ("HOME that is a file", {**nowhere, "HOME": str(bench.folder / "made" / "jobs.db")}),
        ("VOICETECH_HOME on a drive that is not there", {"VOICETECH_HOME": "/media/no-such-drive/voicetech"}),
        ("VOICETECH_HOME with a ~ of nobody", {"VOICETECH_HOME": "~nobody-of-this-name/voicetech"}),
        ("VOICETECH_HOME that is too long", {"VOICETECH_HOME": f"/tmp/{'x' * 300}"}),
        ("VOICETECH_HOME with a line break", {"VOICETECH_HOME": str(bench.folder / "two\nlines")}),
    ):
        for command in ("jobs", "chat", "report", "serve", "upkeep"):
            if fault.startswith("HOME not") and command in ("chat", "serve"):
                # It would begin a job where this computer's user keeps theirs.
                continue
            yield try_command(bench, fault, command, Surroundings(bench.home(), variables))


@contextmanager
def small_disk(folder: Path, size_kb: int) -> Iterator[Path | None]:
    """Give an empty disk of this size, None where none can be made here."""
    place = folder / "disk"
    place.mkdir(exist_ok=True)
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size_kb}k", "tmpfs", str(place)]
    try:
        made = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except OSError:
        made = False
    try:
        yield place if made else None
    finally:
        if made:
            subprocess.run(["umount", "-l", str(place)], check=False)
        with suppress(OSError):
            place.rmdir()
