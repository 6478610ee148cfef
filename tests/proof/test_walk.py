"""The proof of safety: nothing reachable breaks a rule, and a broken program or procedure is found out.

The small range is walked here; `voicetech prove` walks the shipped procedures whole.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.dialogue.breakages import BREAKAGES, Break, one_pair_is_enough
from tests.dialogue.small_range import changed, small_range, smallest_range, without_a_pair, without_isolation
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Outcome, Procedure, Step
from voicetech.proof import walk as walking
from voicetech.proof.proving import prove
from voicetech.proof.walk import TOLD_EACH, walk


def test_nothing_reachable_breaks_a_rule_where_a_proof_stands_as_long_as_a_shop_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    procedure = replace(small_range(), settings={**small_range().settings, "proof_minutes": "5"})
    told: list[tuple[int, int, int]] = []
    found = walk(procedure, progress=lambda *numbers: told.append(numbers))
    with capsys.disabled():
        print(f"\n  small range: {found.states} states, {found.moves} moves, {found.views} ways to stand")  # noqa: T201  the count is the proof's size
    assert found.broken is None, found.way
    assert found.states > 1000
    assert len(told) == found.states // TOLD_EACH
    assert all(states >= left for states, left, _moves in told)
    every_step = {(section.id, step.id) for section in procedure.sections for step in section.steps}
    assert found.steps_asked == every_step


@pytest.mark.parametrize("broken", BREAKAGES, ids=[each.__name__ for each in BREAKAGES])
def test_a_broken_program_is_found_out_with_the_way_to_it(broken: Break, monkeypatch: pytest.MonkeyPatch) -> None:
    broken(monkeypatch)
    # Only one of them shows where there are several pairs and nowhere else.
    found = walk(small_range() if broken is one_pair_is_enough else smallest_range())
    assert found.broken is not None
    assert found.way[0].words == "the job is opened"
    assert all(leg.to is not None for leg in found.way[1:])


def a_result_that_stops_the_work_and_leads_on() -> Procedure:
    """Return the small range with a question whose yes is listed as stopping the work, and only goes on."""
    section, question = next(
        (section, step)
        for section in small_range().sections
        for step in section.steps
        if isinstance(step, Ask) and section.role is None and step.asking is Asking.YES_NO
    )

    def goes_on(step: Step) -> Step:
        return replace(question, outcomes={**question.outcomes, "yes": Outcome()}) if step is question else step

    reason = next(iter(small_range().hand_overs))
    return replace(changed(small_range(), goes_on), stop_work={f"{section.id}.{question.id}": {"yes": reason}})


def a_proof_that_stands_too_long() -> Procedure:
    return replace(small_range(), settings={**small_range().settings, "proof_minutes": "31"})


@pytest.mark.parametrize(
    ("procedure", "rule", "said"),
    [
        (lambda: changed(small_range(), without_a_pair), "without a proof of dead that stands", "yes"),
        (lambda: changed(small_range(), without_isolation), "without a proof of dead that stands", "yes"),
        (a_proof_that_stands_too_long, "without a proof of dead that stands", "after"),
        (a_result_that_stops_the_work_and_leads_on, "which stops the work", "yes"),
    ],
    ids=["a-pair-too-few", "not-isolated", "a-proof-too-old", "on-after-a-stop"],
)
def test_a_broken_procedure_is_found_out_with_the_way_in_words(
    procedure: Callable[[], Procedure], rule: str, said: str
) -> None:
    broken = [each for each in prove(procedure()).broken if rule in each.rule and each.way]
    assert broken
    for each in broken:
        assert each.at is not None
        assert any(said in (leg.words or "") for leg in each.way), each.way


def test_no_state_is_lost_where_what_is_read_back_is_not_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    quick = walk(smallest_range())
    monkeypatch.setattr(walking, "but_for_pending", lambda _key: None)
    whole = walk(smallest_range())
    assert quick.moves < whole.moves
    assert (quick.states, quick.views, quick.steps_asked) == (whole.states, whole.views, whole.steps_asked)
    assert quick.broken is None
    assert whole.broken is None


def test_the_walk_gives_up_rather_than_run_for_ever() -> None:
    with pytest.raises(RuntimeError, match="more than 50 states"):
        walk(small_range(), most_states=50)
