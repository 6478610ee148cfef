"""A sample of the mutants of the procedures that come with the program: safety's are all found out, the others nearly.

`python -m tests.mutation` makes them all.
"""

from functools import cache

import pytest

from tests.mutation.judging import How, Judged, Whole, judged, whole
from tests.mutation.making import mutants_of, sample_of
from tests.mutation.mutant import Mutant, setting
from tests.mutation.scoring import good_enough, missed, score, table
from voicetech.authoring.shipped import shipped_folder

_PROCEDURE = "electric-water-heater-no-heat"
_COUNT = 110


@cache
def original() -> Whole:
    return whole(shipped_folder("dialogs") / f"{_PROCEDURE}.yaml")


@cache
def mutants() -> list[Mutant]:
    return list(mutants_of(original().table))


@cache
def sampled() -> list[Judged]:
    return [judged(original(), mutant) for mutant in sample_of(mutants(), _COUNT, seed=3)]


def test_every_kind_has_its_share_in_the_sample() -> None:
    assert {(each.mutant.kind, each.mutant.safety) for each in sampled()} == {
        (each.kind, each.safety) for each in mutants()
    }


def test_whatever_safety_hangs_on_is_found_out() -> None:
    of_safety = [each for each in sampled() if each.mutant.safety]
    assert len(of_safety) > 20
    assert [f"{each.place}: {each.mutant.says}" for each in missed(of_safety)] == []


def test_nearly_everything_else_is_found_out() -> None:
    assert score(sampled()).part >= 0.9, [f"{each.place}: {each.mutant.says}" for each in missed(sampled())]


def test_the_same_seed_makes_the_same_mutants() -> None:
    def told(seed: int) -> list[tuple[object, ...]]:
        return [(each.kind, each.keys, each.says) for each in mutants_of(original().table, seed)]

    assert told(1) == told(1)
    assert told(1) != told(2)


def test_a_change_that_nobody_can_meet_is_the_same_procedure() -> None:
    listed = Mutant("none", False, ("stop_work",), "the list is dropped", lambda table: table.pop("stop_work"))
    assert judged(original(), listed).how is How.EQUIVALENT


def test_a_changed_word_is_met() -> None:
    keys = ("sections", "supply", "steps", "block-look", "why")
    reworded = Mutant("none", False, keys, "other words", setting(keys, "A terminal that gets hot burns its wire."))
    assert judged(original(), reworded).how is How.MISSED


@pytest.mark.parametrize(
    ("safety", "how", "good"), [(True, How.MISSED, False), (False, How.MISSED, True), (True, How.PROOF, True)]
)
def test_one_missed_of_safety_is_too_many(safety: bool, how: How, good: bool) -> None:
    found = [Judged(Mutant("stop", True, (), "", lambda _table: None), How.CHECK, "", "")] * 99
    last = Judged(Mutant("stop", safety, (), "", lambda _table: None), how, "", "")
    assert good_enough([*found, last]) is good


def test_the_table_counts_each_kind_and_procedure() -> None:
    lines = list(table({_PROCEDURE: sampled()}))
    assert lines[0].split()[:6] == ["kind", "mutants", "check", "proof", "same", "missed"]
    assert len(lines) == 3 + len({(each.mutant.kind, each.mutant.safety) for each in sampled()})
    assert lines[-1].split()[1] == str(_COUNT)
