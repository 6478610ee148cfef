"""The ways through sections: a rule of theirs that a procedure breaks is found, with where and how."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.dialogue.talker import shipped
from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.procedure import Condition, Instruct, Measure, Phase, Procedure, Section, Step
from voicetech.proof.sections import walk_sections
from voicetech.proof.ways import results

HEATER = load_shipped("electric-water-heater-no-heat")


def with_sections(procedure: Procedure, change: Callable[[Section], Section]) -> Procedure:
    return replace(procedure, sections=tuple(change(section) for section in procedure.sections))


def with_steps(procedure: Procedure, change: Callable[[Step], Step]) -> Procedure:
    return with_sections(
        procedure, lambda section: replace(section, steps=tuple(change(step) for step in section.steps))
    )


@pytest.mark.parametrize("name", shipped_names())
def test_no_way_through_what_comes_with_the_program_breaks_a_rule(name: str) -> None:
    assert walk_sections(load_shipped(name)).broken == ()


def put_back_but_for(condition: Condition) -> Procedure:
    """Return the heater with nothing put back where the condition is true."""

    def change(section: Section) -> Section:
        left_out = replace(condition, absent=True)
        return replace(section, when=(*section.when, left_out)) if section.phase is Phase.PUT_BACK else section

    return with_sections(HEATER, change)


def test_power_never_comes_on_behind_a_repair_without_putting_back() -> None:
    remedy = "replace-upper"
    broken = walk_sections(put_back_but_for(Condition("remedy", (remedy,)))).broken
    assert {each.section for each in broken} == {"retest"}
    (rule,) = {each.rule for each in broken}
    assert "nothing was put back" in rule
    assert f"remedy {remedy}" in rule
    (cause,) = [name for name, cause in HEATER.causes.items() if cause.remedy == remedy and f"cause {name} " in rule]
    assert cause


def test_a_remedy_is_never_taken_to_be_done_for_a_cause_that_has_another() -> None:
    """Putting the setting right needs no hands inside, so that nothing has to be put back for it."""
    assert walk_sections(put_back_but_for(Condition("cause", ("setting",)))).broken == ()
    assert walk_sections(put_back_but_for(Condition("remedy", (HEATER.causes["setting"].remedy,)))).broken == ()


def test_wires_are_back_before_power_and_where_a_test_ends() -> None:
    never_back = with_steps(shipped(), lambda step: replace(step, puts_back=False))
    told = {each.rule for each in walk_sections(never_back).broken}
    assert any(rule.startswith("the test ends and wires") for rule in told)
    assert all("puts_back" in rule for rule in told)


def test_an_idle_supply_with_a_wire_off_is_told() -> None:
    def change(step: Step) -> Step:
        if isinstance(step, Measure) and step.judged_as == "supply-idle" and step.setup is not None:
            return replace(step, setup=replace(step.setup, off=frozenset({"common"})))
        return step

    broken = walk_sections(with_steps(HEATER, change)).broken
    assert any(each.step == "supply-idle" and each.rule.startswith("power comes on and wires") for each in broken)


@pytest.mark.parametrize("judged_as", ["supply-idle", "supply-alone", "supply-loaded"])
def test_every_supply_that_is_measured_to_the_frame_has_the_findings_of_one(judged_as: str) -> None:
    def change(step: Step) -> Step:
        # The frame is measured in one of the steps that are judged together, and that is enough for all of them.
        if not isinstance(step, Measure) or step.judged_as not in ("supply-idle", "supply-loaded"):
            return step
        if step.judged_as == "supply-idle":
            return replace(step, judged_as=judged_as)
        return replace(step, pairs=tuple(pair for pair in step.pairs if "frame" not in pair.label))

    procedure = with_steps(shipped(), change)
    loaded = next(
        step
        for section in procedure.sections
        for step in section.steps
        if isinstance(step, Measure) and step.judged_as == "supply-loaded"
    )
    assert {SupplyKind.NEUTRAL_TO_FRAME, SupplyKind.FRAME_NOT_GROUNDED} <= set(results(procedure, loaded))


def test_a_step_that_no_answer_leads_to_is_told() -> None:
    def change(step: Step) -> Step:
        is_it = isinstance(step, Instruct) and step.id == "rear-cover"
        return replace(step, when=(Condition("home", ("house",)), Condition("home", ("apartment",)))) if is_it else step

    broken = walk_sections(with_steps(shipped(), change)).broken
    assert ("rear-cover", "no answers ever lead to this step") in {(each.step, each.rule) for each in broken}
