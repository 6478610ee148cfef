"""A disk that is full, one that fails, and one that is slow: before a job, in its midst, and after it."""

import shutil
import subprocess
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from tests.faults.bench import DELETED, GIVEN, Bench
from tests.faults.homes import small_disk, try_command
from tests.faults.running import Surroundings, Tried, happened, wrong_with
from tests.faults.working import Worked, job_lines, missing, worked

_LINES: Final = 14
_FULL_AT: Final = 6
"""The line of the job in front of which the disk runs full."""
_SLOW_S: Final = 1.5
_WRITING: Final = (
    "chat",
    "chat --resume",
    "talk",
    "demo",
    "jobs",
    "report",
    "report --pdf",
    "review --out",
    "replay --rehear",
    "recordings",
    "push",
    "forget",
    "upkeep",
    "upkeep --mend",
    "serve",
    "draw",
    "checklist",
)


def fill(disk: Path) -> None:
    """Leave no byte free on a disk."""
    with (disk / "filler").open("wb", buffering=0) as file:
        for size in (65536, 4096, 1):
            try:
                while True:
                    file.write(bytes(size))
            except OSError:
                continue


def disks(bench: Bench) -> Iterator[Tried]:
    """Try disks; without the right to mount one the full disks are left out."""
    with small_disk(bench.folder, 4096) as disk:
        if disk is not None:
            yield from _full(bench, disk)
            yield from _full_in_the_midst(bench, disk)
    if shutil.which("strace") is not None:
        yield from _slow(bench)
        yield from _failing(bench)


def _full(bench: Bench, disk: Path) -> Iterator[Tried]:
    for command in _WRITING:
        for each in list(disk.iterdir()):
            shutil.rmtree(each) if each.is_dir() else each.unlink()
        home = disk / "home"
        shutil.copytree(bench.made, home)
        # What is written beside the record goes to the full disk too.
        out = bench.out()
        out.rmdir()
        (disk / "out").mkdir()
        out.symlink_to(disk / "out")
        fill(disk)
        try:
            line = try_command(bench, "disk full", command, Surroundings(home), GIVEN.get(command, ""))
        finally:
            out.unlink()
            (disk / "filler").unlink()
        lost = bench.lost(home, DELETED.get(command, ()))
        yield Tried(line.fault, line.command, line.happened, (*line.wrong, *lost, *bench.resumed(home)))
        bench.out()


def _full_in_the_midst(bench: Bench, disk: Path) -> Iterator[Tried]:
    for each in list(disk.iterdir()):
        shutil.rmtree(each) if each.is_dir() else each.unlink()
    home = disk / "home"

    def full(number: int, _process: "subprocess.Popen[bytes]") -> None:
        if number == _FULL_AT:
            fill(disk)

    done = worked(Surroundings(home), job_lines()[:_LINES], before_line=full)
    wrong = [*wrong_with(done.ran), *missing(home, done)]
    if done.ran.status == 0:
        wrong.append("a full disk was not told")
    told = happened(done.ran, {str(disk): "DISK"})
    yield Tried("disk that runs full", "chat", f"after {len(done.acknowledged)} answers {told}", tuple(wrong))
    (disk / "filler").unlink()
    yield _gone_on(home, done, "disk that was full and is not any more")


def _gone_on(home: Path, before: Worked, fault: str) -> Tried:
    resumed = worked(
        Surroundings(home), job_lines()[len(before.acknowledged) : _LINES], ("chat", "--plain", "--resume", "last")
    )
    both = Worked([*before.acknowledged, *resumed.acknowledged], resumed.on_its_way, resumed.ran)
    wrong = (*wrong_with(resumed.ran), *missing(home, both))
    return Tried(fault, "chat --resume", f"{len(both.acknowledged)} of {_LINES} answers on record", wrong)


def _slow(bench: Bench) -> Iterator[Tried]:
    delay = f"fsync,fdatasync:delay_enter={int(_SLOW_S * 1_000_000)}"
    slow = ("strace", "-f", "-o", str(bench.folder / "trace"), "-e", "trace=fsync,fdatasync", "-e", f"inject={delay}")
    home = bench.home()
    began_s = time.monotonic()
    done = worked(Surroundings(home, before=slow), job_lines()[:_FULL_AT])
    each_s = (time.monotonic() - began_s) / (len(done.acknowledged) or 1)
    wrong = (*wrong_with(done.ran), *missing(home, done), *bench.lost(home))
    if len(done.acknowledged) != _FULL_AT:
        wrong = (*wrong, "answers were not taken")
    told = f"{len(done.acknowledged)} answers, each {each_s:.1f} s"
    yield Tried(f"disk that takes {_SLOW_S} s to flush", "chat", told, wrong)
    for command in ("talk", "serve", "forget", "report"):
        bench.out()
        home = bench.home()
        line = try_command(bench, f"disk that takes {_SLOW_S} s to flush", command, Surroundings(home, before=slow))
        lost = bench.lost(home, DELETED.get(command, ()))
        yield Tried(line.fault, line.command, line.happened, (*line.wrong, *lost))


def _failing(bench: Bench) -> Iterator[Tried]:
    for fault, injected in (
        ("disk that fails to read", "pread64:error=EIO:when=40+"),
        ("disk that fails to flush", "fsync,fdatasync:error=EIO"),
        ("disk that fails to rename", "rename,renameat,renameat2:error=EIO"),
        ("quota used up", "pwrite64,write:error=EDQUOT:when=60+"),
    ):
        yield from _with_calls_failing(bench, fault, injected)


def _with_calls_failing(bench: Bench, fault: str, injected: str) -> Iterator[Tried]:
    calls = injected.partition(":")[0]
    before: Sequence[str] = (
        "strace",
        "-f",
        "-o",
        str(bench.folder / "trace"),
        "-e",
        f"trace={calls}",
        "-e",
        f"inject={injected}",
    )
    for command in ("chat --resume", "talk", "jobs", "report", "upkeep", "push", "forget", "serve"):
        bench.out()
        home = bench.home()
        line = try_command(bench, fault, command, Surroundings(home, before=before), GIVEN.get(command, ""))
        lost = bench.lost(home, DELETED.get(command, ()))
        yield Tried(line.fault, line.command, line.happened, (*line.wrong, *lost))
