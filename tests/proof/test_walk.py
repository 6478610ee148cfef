"""The proof of safety: nothing reachable breaks a rule, and a broken program or procedure is found out.

The small range is walked here; `voicetech prove` walks the shipped procedures whole.
"""

from dataclasses import replace

import pytest

from tests.dialogue.breakages import BREAKAGES, Break
from tests.dialogue.small_range import small_range
from voicetech.proof.walk import walk


def test_nothing_reachable_breaks_a_rule(capsys: pytest.CaptureFixture[str]) -> None:
    found = walk(small_range())
    with capsys.disabled():
        print(f"\n  small range: {found.states} states, {found.moves} moves, {found.views} ways to stand")  # noqa: T201  the count is the proof's size
    assert found.broken is None, found.way
    assert found.states > 1000
    every_step = {(section.id, step.id) for section in small_range().sections for step in section.steps}
    assert found.steps_asked == every_step


@pytest.mark.parametrize("broken", BREAKAGES, ids=[each.__name__ for each in BREAKAGES])
def test_a_broken_program_is_found_out_with_the_way_to_it(broken: Break, monkeypatch: pytest.MonkeyPatch) -> None:
    broken(monkeypatch)
    found = walk(small_range())
    assert found.broken is not None
    assert found.way[0].words == "the job is opened"
    assert all(leg.to is not None for leg in found.way[1:])


def test_the_walk_gives_up_rather_than_run_for_ever() -> None:
    with pytest.raises(RuntimeError, match="more than 50 states"):
        walk(small_range(), most_states=50)


def test_a_proof_of_dead_never_stands_longer_than_half_an_hour() -> None:
    found = walk(replace(small_range(), settings={**small_range().settings, "proof_minutes": "31"}))
    assert found.broken is not None
    assert "without a proof of dead" in found.broken
    assert any("after" in (leg.words or "") for leg in found.way)


def test_it_may_stand_shorter() -> None:
    assert walk(replace(small_range(), settings={**small_range().settings, "proof_minutes": "5"})).broken is None


def test_how_far_it_has_come_is_told() -> None:
    told: list[tuple[int, int, int]] = []
    found = walk(small_range(), progress=lambda *numbers: told.append(numbers))
    assert len(told) == found.states // 1000
    assert all(states >= left for states, left, _moves in told)
