"""A step does what the step that stands for it does, whatever comes in; and what safety hangs on keeps steps apart."""

import random
from collections.abc import Hashable, Mapping
from dataclasses import replace

import pytest

from tests.dialogue.talker import shipped
from tests.proof.test_abstraction import after, begun, shape
from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.dialogue.watch import Watch
from voicetech.procedure import Hold, Inspect, Measure, Needs, Outcome, Procedure
from voicetech.proof.compiled import Compiled, compiled
from voicetech.proof.moves import at_work, moves_here
from voicetech.proof.shapes import shapes
from voicetech.proof.states import State, small, state_key
from voicetech.session import Cursor, Power, Safety, changed
from voicetech.turn import Turn

AT_S = 1_000_000.0
ALIKE = 12


def ready_for(ready: Compiled, needs: Needs) -> tuple[Safety, Watch]:
    """Return how far making safe has come where such a step may be asked, in the engine's eyes and the watcher's."""
    if needs.power_on:
        hold = "live" if needs is Needs.LIVE else "covers"
        return Safety(power=Power.ON, ready=hold), Watch(power_on=True, hold=hold)
    made = Safety(Power.OFF, "plug", True, ready.dead_pairs, AT_S, AT_S)
    return made, Watch(isolated=True, tester_at_s=AT_S, proved=True, opened=True)


def asked(ready: Compiled, at: tuple[str, str]) -> State:
    """Return the state in which the step is asked."""
    base = begun(ready)
    safety, watch = ready_for(ready, ready.steps[at][1].needs)
    session = changed(base.session, at=Cursor(*at), turn=Turn.ASKING, safety=safety, covers_open=watch.opened)
    return State(session, watch, AT_S)


def done_by(ready: Compiled, at: tuple[str, str]) -> set[Hashable]:
    """Return everything that comes of anything said at the step."""
    state = asked(ready, at)
    return {_but_for_beliefs(shape(ready, tried.state, tried.given)) for tried in moves_here(ready, state)}


def _but_for_beliefs(done: Hashable) -> Hashable:
    """Return what was done without what is said and suspected besides, and without which section is over."""
    assert isinstance(done, tuple)
    kinds, after = done
    return tuple(
        kind for kind in kinds if kind not in ("CauseShown", "CausesExcluded", "Remarked", "SectionEnded")
    ), after


@pytest.mark.parametrize("name", shipped_names())
def test_a_step_does_what_the_one_that_stands_for_it_does(name: str) -> None:
    ready = compiled(load_shipped(name))
    first: dict[int, tuple[str, str]] = {}
    compared = 0
    for at, number in ready.shape.items():
        stands_for = first.setdefault(number, at)
        if stands_for != at:
            assert done_by(ready, at) == done_by(ready, stands_for), (at, stands_for)
            compared += 1
    assert compared > len(ready.shape) / 4


def done_in_the_end(ready: Compiled, at: tuple[str, str]) -> set[Hashable]:
    """Return everything that comes of anything said at the step, and after it as long as the step stands open."""
    state = asked(ready, at)
    found: set[Hashable] = set()
    owed = {state_key(ready, state): state}
    begun_with = set(owed)
    while owed:
        key, state = owed.popitem()
        for tried in moves_here(ready, state):
            found.add((key, _but_for_beliefs(shape(ready, tried.state, tried.given))))
            reached, _events = after(ready, tried.state, tried.given)
            there = state_key(ready, reached)
            stays = reached.session.at is not None and (reached.session.at.section, reached.session.at.step) == at
            if stays and at_work(reached.session) and there not in begun_with:
                begun_with.add(there)
                owed[there] = small(ready, reached)
    return found


@pytest.mark.parametrize("seed", range(ALIKE))
def test_it_does_so_to_the_end(seed: int) -> None:
    """Some of chance: to follow all of them to the end takes as long as the proof without them as one."""
    chance = random.Random(seed)
    ready = compiled(load_shipped(chance.choice(shipped_names())))
    ats: dict[int, list[tuple[str, str]]] = {}
    for at, number in ready.shape.items():
        ats.setdefault(number, []).append(at)
    one, other = chance.sample(chance.choice([each for each in ats.values() if len(each) > 1]), 2)
    assert done_in_the_end(ready, one) == done_in_the_end(ready, other), (one, other)


def changed_step(at: tuple[str, str], change: Mapping[str, object]) -> Procedure:
    procedure = shipped()
    sections = tuple(
        replace(
            section,
            steps=tuple(
                replace(step, **change) if (section.id, step.id) == at else step  # type: ignore[arg-type]  # by its fields
                for step in section.steps
            ),
        )
        for section in procedure.sections
    )
    return replace(procedure, sections=sections)


def alike(procedure: Procedure, at: tuple[str, str]) -> set[tuple[str, str]]:
    numbers = shapes(procedure)
    return {other for other, number in numbers.items() if number == numbers[at]}


def inspected() -> tuple[tuple[str, str], Inspect]:
    """Return a look of the shipped range that others are alike to."""
    for section in shipped().sections:
        for step in section.steps:
            at = section.id, step.id
            if isinstance(step, Inspect) and section.role is None and len(alike(shipped(), at)) > 1:
                return at, step
    raise AssertionError("no two looks are alike")


def test_what_safety_hangs_on_keeps_steps_apart() -> None:
    at, step = inspected()
    hand_over = next(iter(shipped().hand_overs))
    others = alike(shipped(), at) - {at}
    for change in (
        {"needs": Needs.LIVE if step.needs is not Needs.LIVE else Needs.DEAD},
        {"outcomes": {**step.outcomes, "fault": Outcome(hand_over=hand_over)}},
        {"outcomes": {**step.outcomes, "fault": Outcome(next="no-such-step")}},
        {"outcomes": {**step.outcomes, "fault": Outcome(cause="no-such-cause")}},
    ):
        assert not alike(changed_step(at, change), at) & others, change


def test_words_keep_no_steps_apart() -> None:
    at, step = inspected()
    reworded = changed_step(at, {"prompt": replace(step.prompt, full="Otherwise said. Burnt?"), "part": "another part"})
    assert alike(reworded, at) == alike(shipped(), at)


def test_holds_and_readings_that_decide_safety_are_never_merged() -> None:
    """They are in sections of the engine's own, of which every step is walked."""
    numbers = shapes(shipped())
    in_front = [
        (section.id, step)
        for section in shipped().sections
        if section.role is not None
        for step in section.steps
        if isinstance(step, (Hold, Measure))
    ]
    assert in_front
    assert all((section, step.id) not in numbers for section, step in in_front)
