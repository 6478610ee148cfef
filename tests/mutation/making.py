"""Every mutant of a procedure: what the sorts of mutants yield, and a sample in which each kind has its share."""

import random
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, zip_longest
from typing import Final

from tests.mutation import of_names, of_outcomes, of_readings, of_safety, of_ways
from tests.mutation.mutant import Maker, Mutant, Table

MAKERS: Final[tuple[Maker, ...]] = (
    *of_safety.MAKERS,
    *of_outcomes.MAKERS,
    *of_readings.MAKERS,
    *of_ways.MAKERS,
    *of_names.MAKERS,
)


def mutants_of(table: Table, seed: int = 0) -> Iterator[Mutant]:
    """Yield every mutant of a procedure as it is written, by kind."""
    for make in MAKERS:
        yield from make(table, seed)


def sample_of(mutants: Sequence[Mutant], count: int, seed: int) -> list[Mutant]:
    """Return so many mutants, taken from each kind in turn; those that safety hangs on make kinds of their own."""
    by_kind: dict[tuple[bool, str], list[Mutant]] = {}
    for mutant in mutants:
        by_kind.setdefault((not mutant.safety, mutant.kind), []).append(mutant)
    for (_other, kind), each in by_kind.items():
        random.Random(f"{seed}/{kind}").shuffle(each)
    in_turn: Iterable[Mutant | None] = chain.from_iterable(zip_longest(*(by_kind[key] for key in sorted(by_kind))))
    return [mutant for mutant in in_turn if mutant is not None][:count]
