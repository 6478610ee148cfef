"""The mutation test of procedures: `python -m tests.mutation`.

Breaks each procedure in hundreds of ways, one at a time, and tells by kind how many of them `voicetech check` finds,
how many the proof, which come to the same procedure, and each one that is missed. The same seed makes the same mutants
and the same output; progress goes to standard error. Ends with status 1 where less than 95 % are found, or one of those
that safety hangs on (marked *) is not.

Examples: python -m tests.mutation electric-dryer-no-heat --sample 500, python -m tests.mutation --safety,
python -m tests.mutation my-range.yaml --kind limit --kind unit
"""

import argparse
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context
from pathlib import Path

from tests.mutation.judging import How, Judged, Whole, judged, programs_judged, whole
from tests.mutation.making import mutants_of, sample_of
from tests.mutation.mutant import Mutant
from tests.mutation.scoring import good_enough, missed, table
from voicetech.authoring.procedure_files import shipped_names
from voicetech.authoring.shipped import shipped_folder

_EVERY_S = 15.0
_PROGRAM_PART = 100
"""Of a sample one in so many is a breakage of the program: each is a walk of every state, at half a minute."""
PROGRAM = "program"
"""The kind of what is broken in the program and not in a procedure."""


def main(arguments: Sequence[str]) -> int:
    given = _parser().parse_args(arguments)
    began_s = time.monotonic()
    found: dict[str, list[Judged]] = {}
    for name in given.procedures or shipped_names():
        path = shipped_folder("dialogs") / f"{name}.yaml" if not name.endswith(".yaml") else Path(name)
        found[path.stem] = _of_one(path, given)
    print("\n".join(table(found)))  # noqa: T201  what it is for
    every = [each for of_one in found.values() for each in of_one]
    for each in sorted(missed(every), key=lambda each: (not each.mutant.safety, each.mutant.kind, each.place)):
        print(f"MISSED {'* ' if each.mutant.safety else ''}{each.place}: {_told(each)}")  # noqa: T201  what it is for
    print(f"{len(every)} mutants, seed {given.seed}.")  # noqa: T201  what it is for
    print(f"It took {time.monotonic() - began_s:.0f} s.", file=sys.stderr)  # noqa: T201  what it is for
    return 0 if good_enough(every) else 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.mutation", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "procedures", nargs="*", metavar="PROCEDURE", help="names of those that come with the program (all), or files"
    )
    parser.add_argument(
        "--kind",
        action="append",
        default=[],
        help="only this kind, as the table names it; may be given more than once (program: breakages of the program)",
    )
    parser.add_argument("--safety", action="store_true", help="only those that safety hangs on")
    parser.add_argument(
        "--sample", type=int, help="so many of each procedure, from each kind in turn, and few breakages of the program"
    )
    parser.add_argument("--seed", type=int, default=0, help="what chance begins with (0)")
    parser.add_argument("--jobs", type=int, default=2, help="processes at once (2); the output is the same")
    return parser


def _of_one(path: Path, given: argparse.Namespace) -> list[Judged]:
    original = _whole(path)
    mutants = list(enumerate(mutants_of(original.table, given.seed)))
    if given.kind:
        mutants = [(number, each) for number, each in mutants if each.kind in given.kind]
    if given.safety:
        mutants = [(number, each) for number, each in mutants if each.safety]
    if given.sample:
        wanted = {id(each) for each in sample_of([each for _number, each in mutants], given.sample, given.seed)}
        mutants = [(number, each) for number, each in mutants if id(each) in wanted]
    found: list[Judged] = []
    told_s = time.monotonic()
    asked = [(path, given.seed, number) for number, _each in mutants]
    with ProcessPoolExecutor(given.jobs, mp_context=get_context("fork")) as pool:
        judgements = pool.map(_judged_here, asked, chunksize=8)
        for (_number, mutant), (how, by, place) in zip(mutants, judgements, strict=True):
            found.append(Judged(mutant, How(how), by, place))
            if time.monotonic() - told_s > _EVERY_S:
                told_s = time.monotonic()
                print(f"{path.stem}: {len(found)} of {len(mutants)}, {len(missed(found))} missed", file=sys.stderr)  # noqa: T201  what it is for
    if not given.kind or PROGRAM in given.kind:
        found += _of_the_program(original, given.sample)
    return found


def _of_the_program(original: Whole, most: int | None) -> list[Judged]:
    found: list[Judged] = []
    for number, (says, rule) in enumerate(programs_judged(original)):
        mutant = Mutant(PROGRAM, True, (), says, lambda _table: None)
        found.append(Judged(mutant, How.MISSED if rule is None else How.PROOF, rule or "", "the program"))
        print(f"{original.path.stem}: {says}: {rule or 'MISSED'}", file=sys.stderr)  # noqa: T201  what it is for
        if most is not None and number + 1 >= most // _PROGRAM_PART:
            break
    return found


def _told(each: Judged) -> str:
    return f"[{each.mutant.kind}] {'.'.join(map(str, each.mutant.keys))}: {each.mutant.says}"


@cache
def _whole(path: Path) -> Whole:
    return whole(path)


@cache
def _mutants(path: Path, seed: int) -> list[Mutant]:
    return list(mutants_of(_whole(path).table, seed))


def _judged_here(asked: tuple[Path, int, int]) -> tuple[str, str, str]:
    path, seed, number = asked
    found = judged(_whole(path), _mutants(path, seed)[number])
    return found.how.value, found.by, found.place


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
