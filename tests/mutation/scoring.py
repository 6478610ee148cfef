"""What became of mutants, counted: by kind and by procedure, with every one that was missed."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from tests.mutation.judging import How, Judged

LEAST_PART: Final = 0.95
"""Of all mutants at least so many are found out; of those that safety hangs on, every one."""


@dataclass(frozen=True, slots=True)
class Score:
    """Counts of one kind, or of all."""

    check: int
    proof: int
    equivalent: int
    missed: int

    @property
    def found(self) -> int:
        return self.check + self.proof

    @property
    def of(self) -> int:
        """Return how many there are to be found: those that come to the same procedure are not."""
        return self.found + self.missed

    @property
    def part(self) -> float:
        return self.found / self.of if self.of else 1.0


def score(judged: Iterable[Judged]) -> Score:
    """Return the counts of these mutants."""
    how = Counter(each.how for each in judged)
    return Score(how[How.CHECK], how[How.PROOF], how[How.EQUIVALENT], how[How.MISSED])


def by_kind(judged: Sequence[Judged]) -> Mapping[tuple[str, bool], Score]:
    """Return the counts of each kind; what safety hangs on is counted by itself."""
    kinds = dict.fromkeys((each.mutant.kind, each.mutant.safety) for each in judged)
    return {
        kind: score(each for each in judged if (each.mutant.kind, each.mutant.safety) == kind)
        for kind in sorted(kinds, key=lambda kind: (not kind[1], kind[0]))
    }


def missed(judged: Iterable[Judged]) -> list[Judged]:
    return [each for each in judged if each.how is How.MISSED]


def good_enough(judged: Sequence[Judged]) -> bool:
    """Return whether every mutant that safety hangs on was found out, and nearly all of the others."""
    return score(judged).part >= LEAST_PART and not any(each.mutant.safety for each in missed(judged))


def table(judged: Mapping[str, Sequence[Judged]]) -> Iterator[str]:
    """Yield the lines of a table: each kind with its counts, and how many each procedure missed."""
    names = list(judged)
    every = [each for of_one in judged.values() for each in of_one]
    wide = max([len(kind) for kind, _safety in by_kind(every)] + [len("all that safety hangs on")]) + 2
    heads = "".join(f"{_short(name):>{_wide(name)}}" for name in names)
    yield f"{'kind':<{wide}}{'mutants':>8}{'check':>7}{'proof':>7}{'same':>6}{'missed':>8}{'found':>8}{heads}"
    for (kind, safety), counts in by_kind(every).items():
        of_each = [
            score(each for each in judged[name] if (each.mutant.kind, each.mutant.safety) == (kind, safety))
            for name in names
        ]
        yield _line(f"{'* ' if safety else '  '}{kind}", wide, counts, names, of_each)
    safety_of = [score(each for each in judged[name] if each.mutant.safety) for name in names]
    yield _line("* all that safety hangs on", wide, score(e for e in every if e.mutant.safety), names, safety_of)
    yield _line("  all", wide, score(every), names, [score(judged[name]) for name in names])


def _short(name: str) -> str:
    return name.removeprefix("electric-").removesuffix("-no-heat")


def _wide(name: str) -> int:
    return max(len(_short(name)), 8) + 2


def _line(kind: str, wide: int, counts: Score, names: Sequence[str], of_each: Sequence[Score]) -> str:
    each = "".join(
        f"{f'{of.found}/{of.of}' if of.of else '':>{_wide(name)}}" for name, of in zip(names, of_each, strict=True)
    )
    part = f"{counts.part:.1%}" if counts.of else ""
    return (
        f"{kind:<{wide}}{counts.of + counts.equivalent:>8}{counts.check:>7}{counts.proof:>7}{counts.equivalent:>6}"
        f"{counts.missed:>8}{part:>8}{each}"
    )
