"""The README's commands on an empty Debian machine, and then the program on it without a network.

    python -m tests.fresh_machine [--machine FOLDER] [--again] [--without-tests]

It needs root, `debootstrap` and `strace` (`apt install debootstrap strace`), and about 2 GB in the temporary folder.
"""

import argparse
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tests.fresh_machine.machine import CHECKOUT, COPY, HOME, PIP_LOG, Done, Machine, NoMachineError, size_mb
from tests.fresh_machine.reached import outside, within
from tests.fresh_machine.trials import answers, trials

_LARGEST: Final = 15
_OUT: Final = f"{HOME}/out"
_RECORDS: Final = f"{HOME}/.local/share/voicetech"
_UNITS: Final = {"kB": 1e-3, "MB": 1.0, "GB": 1e3, "bytes": 1e-6}
_LAST_LINES: Final = 15
_SH_BLOCK: Final = re.compile(r"^```sh\n(.*?)\n```", re.MULTILINE | re.DOTALL)


def main() -> int:
    """Return 0 where everything works and nothing was reached but the machine itself."""
    parser = argparse.ArgumentParser(prog="python -m tests.fresh_machine", description=__doc__.split("\n")[0])
    parser.add_argument("--machine", type=Path, help="a folder for the machine, which stays there")
    parser.add_argument("--again", action="store_true", help="the machine is there and has the first command behind it")
    parser.add_argument("--without-tests", action="store_true", help="leave the README's second command out")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        try:
            machine = Machine(arguments.machine or Path(folder) / "machine")
            failed = _tried(machine, Path(folder), arguments.again, arguments.without_tests)
        except NoMachineError as error:
            sys.stderr.write(f"{error}\n")
            return 2
    _tell(f"{failed} failed." if failed else "All of it works, and nothing was reached but the machine itself.")
    return 1 if failed else 0


def _tried(machine: Machine, scratch: Path, again: bool, without_tests: bool) -> int:
    demo, tests = commands()
    failed = 0
    if not again:
        _tell(f"{'an empty machine':44}")
        machine.make()
        _tell(f"{machine.size_mb:8.0f} MB on its disk, nothing on it but Python")
        machine.take_checkout()
        failed += _command(machine, demo)
    failed += _offline(machine, scratch)
    if not without_tests:
        failed += _command(machine, tests)
    return failed


def commands() -> list[str]:
    """Return the lines that the README has its readers type."""
    return [line.strip() for line in _SH_BLOCK.findall((CHECKOUT / "README.md").read_text(encoding="utf-8"))]


def _command(machine: Machine, line: str) -> int:
    """Run a line of the README, each part of it timed; return how many parts failed."""
    _tell(f"\n$ {line}")
    log = machine.inside(PIP_LOG)
    log.unlink(missing_ok=True)
    for part in line.split(" && "):
        done = machine.run(part, network=True)
        _tell(f"{_seconds(done)}  {part}")
        if done.status != 0:
            _tell(_last_lines(done))
            return 1
        if " pip install " in part.replace("/", " "):
            environment = machine.inside(f"{COPY}/{part.split('/bin/')[0]}")
            _tell(f"          fetched: {fetched_mb(log.read_text(encoding='utf-8')):.0f} MB")
            _tell(f"          on disk: {size_mb(environment):.0f} MB in {part.split('/bin/')[0]}; the largest of it:")
            for name, taken in _largest(environment):
                _tell(f"          {taken:6.1f} MB  {name}")
        elif "pytest" in part:
            _tell(_last_lines(done, 3))
    return 0


def _largest(environment: Path) -> Iterator[tuple[str, float]]:
    """Give the folders of packages that take most, with the bytecode that the installation makes."""
    packages = next(environment.glob("lib/python3*/site-packages"))
    sizes = {each.name: size_mb(each) for each in packages.iterdir() if each.is_dir()}
    yield from sorted(sizes.items(), key=lambda item: -item[1])[:_LARGEST]


def fetched_mb(log: str) -> float:
    """Return the size of the files that pip got, from wherever its index is, as its log tells."""
    told = dict(re.findall(r"Downloading (\S+) \((\d[\d.]* \w+)\)", log))
    got = sum(float(size.split()[0]) * _UNITS[size.split()[1]] for size in told.values())
    on_disk = {Path(path) for path in re.findall(r"Processing (/\S+\.(?:whl|tar\.gz))", log)}
    return got + sum(path.stat().st_size / 1e6 for path in on_disk if path.exists())


def _offline(machine: Machine, scratch: Path) -> int:
    """Run every trial with no network, and look whom the program tried to reach; return how many failed."""
    _tell("\nWithout a network, time and processor time in seconds:")
    out = machine.inside(_OUT)
    for folder in (out, machine.inside(_RECORDS)):
        shutil.rmtree(folder, ignore_errors=True)
    answers(out / "answers")
    machine.gives(out)
    failed = calls = 0
    there = machine.kept()
    for number, trial in enumerate(trials(".venv/bin/voicetech", ".venv/bin/python", _OUT)):
        trace = scratch / f"{number}.trace"
        done = machine.run(trial.line, typed=trial.typed, traced=trace)
        written = trace.read_text(encoding="utf-8", errors="replace")
        wrong = [f"does not say {words!r}" for words in trial.says if words not in " ".join(done.said.split())]
        if done.status != trial.status:
            wrong.append(f"ended with status {done.status}")
        if "Traceback" in done.said:
            wrong.append("shows a traceback")
        wrong += sorted({f"tried to reach {address}" for address in outside(written)})
        calls += within(written)
        _tell(f"{_seconds(done)}  {trial.line}")
        if wrong:
            failed += 1
            _tell("".join(f"          FAILED: it {each}\n" for each in wrong) + _last_lines(done))
    left = sorted(file for file in machine.kept() - there if not file.startswith((_OUT, _RECORDS)))
    for file in left:
        _tell(f"          FAILED: {file} was left behind")
    _tell(f"Calls to the machine itself: {calls}; to anywhere else: {'see above' if failed else 'none'}.")
    return failed + len(left)


def _seconds(done: Done) -> str:
    return f"{done.took_s:6.1f} {done.worked_s:6.1f}"


def _last_lines(done: Done, lines: int = _LAST_LINES) -> str:
    return "\n".join(f"          | {line}" for line in done.said.splitlines()[-lines:])


def _tell(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
