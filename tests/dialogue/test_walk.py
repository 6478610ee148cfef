"""The walk of whole records and the proof agree: on the small range, on each way to break the program, on mutants.

The proof (`voicetech.proof`) walks small jobs in every order of steps; the walk of whole records follows real jobs and
takes hours on a whole appliance: `python -m tests.dialogue.prove`.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from tests.dialogue import breakages
from tests.dialogue.breakages import Break
from tests.dialogue.full_walk import Walked, walk
from tests.dialogue.small_range import changed, small_range, smallest_range, without_a_pair, without_isolation
from tests.dialogue.talker import lexicon
from voicetech.language.meaning import Meaning, Question
from voicetech.language.understand import understand
from voicetech.procedure import Hold, Procedure, SafetyRole, Step
from voicetech.proof.walk import walk as walk_small_jobs


@cache
def understood(text: str, question: Question) -> Meaning:
    return understand(text, question, lexicon())


def walked(procedure: Procedure | None = None) -> Walked:
    return walk(procedure or smallest_range(), understood)


def test_both_find_nothing_where_only_words_are_changed(capsys: pytest.CaptureFixture[str]) -> None:
    procedure = changed(smallest_range(), covers_hold_with_other_words)
    found = walked(procedure)
    with capsys.disabled():
        print(f"\n  small range: {found.states} states, {found.moves} moves")  # noqa: T201  the count is the proof's size
    assert found.broken is None, "\n".join((str(found.broken), *found.path))
    assert found.states > 1000
    every_step = {(section.id, step.id) for section in procedure.sections for step in section.steps}
    assert found.steps_asked == every_step
    small = walk_small_jobs(procedure)
    assert small.broken is None, small.way
    assert small.steps_asked == every_step


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        (breakages.the_gate_is_open, "without"),
        (breakages.numbers_need_no_yes, "without a yes"),
        (breakages.outlives_a_pause, "without"),
        (breakages.outlives_its_time, "without a proof of dead"),
        (breakages.a_live_pair_counts_as_dead, "without a proof of dead"),
        (breakages.outlives_everything, "without"),
        (breakages.outlives_power, "without"),
        (breakages.danger_is_only_noted, "did not stop"),
        (breakages.a_yes_ends_a_stop, "without its own words"),
        (breakages.holds_can_be_skipped, "was skipped"),
        (breakages.the_tester_need_not_be_proved_again, "without a proof of dead"),
        (breakages.a_volt_too_many_is_dead, "without a proof of dead"),
    ],
)
def test_a_broken_program_is_found_out_by_both_with_the_way_in_words(
    broken: Break, told: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken(monkeypatch)
    found = walked()
    assert found.broken is not None
    assert told in found.broken
    assert found.path[0].startswith("the job is opened")
    assert " -> " in found.path[-1]
    small = walk_small_jobs(smallest_range())
    assert small.broken is not None
    assert told in small.broken


def test_the_walk_gives_up_rather_than_run_for_ever() -> None:
    with pytest.raises(RuntimeError, match="more than 50 states"):
        walk(small_range(), understood, most_states=50)


def isolation_without_its_role(step: Step) -> Step:
    return replace(step, role=None) if step.role is SafetyRole.ISOLATE_PLUG else step


def covers_hold_with_other_words(step: Step) -> Step:
    if isinstance(step, Hold) and step.role is SafetyRole.COVERS_ON:
        return replace(step, until=("done", *step.until))
    return step


@pytest.mark.parametrize("change", [without_a_pair, without_isolation, isolation_without_its_role])
def test_both_find_a_broken_procedure(change: Callable[[Step], Step | None]) -> None:
    procedure = changed(small_range(), change)
    assert walk_small_jobs(procedure).broken is not None
    assert walked(procedure).broken is not None
