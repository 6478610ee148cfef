"""`python -m tests.faults`: put the real program under one fault after the other, and list what happened.

`python -m tests.faults fuzz` feeds it what nobody would, for longer than with every change.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Final

from tests.faults.bench import Bench, made_bench
from tests.faults.bounds import TIMES_VARIABLE
from tests.faults.company import company
from tests.faults.disks import disks
from tests.faults.ends import ends
from tests.faults.files import files, own
from tests.faults.homes import homes, rights
from tests.faults.packages import packages
from tests.faults.running import Tried
from tests.faults.surroundings import surroundings

PARTS: Final[Mapping[str, Callable[[Bench], Iterator[Tried]]]] = {
    "rights": rights,
    "homes": homes,
    "packages": packages,
    "disks": disks,
    "files": files,
    "program": own,
    "ends": ends,
    "surroundings": surroundings,
    "company": company,
}


def main() -> int:
    """Run the parts; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument(
        "parts", nargs="*", metavar="PART", help=f"of {', '.join(PARTS)}, fuzz; without it all but that"
    )
    parser.add_argument("--times", type=int, default=20, help="how many times longer than with a change is fuzzed")
    parser.add_argument("--list", type=Path, help="write the list to this file too, as a table of Markdown")
    arguments = parser.parse_args()
    if arguments.parts == ["fuzz"]:
        return fuzz(arguments.times)
    unknown = [part for part in arguments.parts if part not in PARTS]
    if unknown:
        parser.error(f"there is no part {unknown[0]!r}")
    folder = Path(tempfile.mkdtemp(prefix="faults-"))
    began_s = time.monotonic()
    lines: list[Tried] = []
    bench = made_bench(folder)
    for part in arguments.parts or PARTS:
        sys.stdout.write(f"\n{part}\n")
        for line in PARTS[part](bench):
            lines.append(line)
            sys.stdout.write(in_words(line) + "\n")
            sys.stdout.flush()
    shutil.rmtree(folder, ignore_errors=True)
    if arguments.list is not None:
        arguments.list.write_text(as_table(lines), encoding="utf-8")
    wrong = [line for line in lines if line.wrong]
    kinds = Counter(word.partition(":")[0] for line in wrong for word in line.wrong)
    found = ", ".join(f"{count} x {word}" for word, count in kinds.most_common())
    sys.stdout.write(
        f"\n{len({line.fault for line in lines})} faults, {len(lines)} runs, {len(wrong)} of them wrong"
        f"{f' ({found})' if found else ''}; {time.monotonic() - began_s:.0f} s\n"
    )
    return 1 if wrong else 0


def fuzz(times: int) -> int:
    """Run what fuzzes so many times longer, by chance; return the exit status."""
    tests = sorted(str(file) for file in Path(__file__).parent.glob("test_fuzz_*.py"))
    environment = {**os.environ, TIMES_VARIABLE: str(times)}
    return subprocess.run(
        [sys.executable, "-m", "pytest", "--durations=5", *tests], env=environment, check=False
    ).returncode


def in_words(line: Tried) -> str:
    """Return a line of the list."""
    mark = f"WRONG ({'; '.join(line.wrong)})  " if line.wrong else ""
    return f"{mark}{line.fault} | {line.command} | {line.happened}"


def as_table(lines: list[Tried]) -> str:
    """Return the list as a table of Markdown."""
    rows = [
        f"| {line.fault} | {line.command} | {_cell(line.happened)} | {_cell('; '.join(line.wrong)) or 'as it should'} |"
        for line in lines
    ]
    return "\n".join(["| fault | command | what happened | judged |", "|---|---|---|---|", *rows, ""])


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


if __name__ == "__main__":
    sys.exit(main())
