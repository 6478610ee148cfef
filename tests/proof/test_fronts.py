"""What the engine puts in front of a step is entered with every answer that may have been given before."""

from dataclasses import replace

from tests.dialogue.small_range import smallest_range
from voicetech.language.meaning import Asking, DangerKind
from voicetech.procedure import Ask, Condition, Needs, Outcome, Procedure, Prompt, SectionRole, Step
from voicetech.proof.proving import prove
from voicetech.proof.walk import walk

TOLD = Condition("complaint_seen", ("yes",))
"""An answer of the small range that is given long before."""


def asking(when: Condition) -> Ask:
    """Return a question of the appliance's own that is asked before power."""
    return Ask(
        id="smell",
        prompt=Prompt("Do you smell gas?", "Gas?"),
        needs=Needs.ANY,
        warnings=(),
        when=(when,),
        role=None,
        source="",
        field="gas_smell",
        asking=Asking.YES_NO,
        choices=(),
        outcomes={"yes": Outcome(danger=DangerKind.GAS), "no": Outcome()},
    )


def with_question(procedure: Procedure, role: SectionRole, when: Condition) -> Procedure:
    sections = tuple(
        replace(section, steps=(asking(when), *section.steps)) if section.role is role else section
        for section in procedure.sections
    )
    return replace(procedure, sections=sections)


def test_what_was_told_before_is_known_in_front_of_a_step() -> None:
    procedure = with_question(smallest_range(), SectionRole.GO_LIVE, TOLD)
    procedure = with_question(procedure, SectionRole.POWER_UP, TOLD)
    found = walk(procedure)
    assert found.broken is None, found.way
    for role in (SectionRole.GO_LIVE, SectionRole.POWER_UP):
        assert (procedure.by_role(role).id, "smell") in found.steps_asked


def test_a_step_that_no_answer_leads_to_is_named_and_a_section_that_no_step_needs_is_no_breach() -> None:
    def dead(step: Step) -> Step:
        return replace(step, needs=Needs.DEAD) if step.needs is Needs.LIVE else step

    procedure = smallest_range()
    tested = tuple(
        section if section.role is not None else replace(section, steps=tuple(map(dead, section.steps)))
        for section in procedure.sections
    )
    never_told = Condition("complaint_seen", ("perhaps",))
    found = prove(with_question(replace(procedure, sections=tested), SectionRole.POWER_UP, never_told))
    never = [each for each in found.broken if "never asked" in each.rule]
    assert [each.at for each in never] == [(procedure.by_role(SectionRole.POWER_UP).id, "smell")]
    assert found.unneeded == (procedure.by_role(SectionRole.GO_LIVE).id,)
    assert found.asked < found.steps
