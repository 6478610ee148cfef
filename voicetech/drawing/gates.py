"""In front of which steps the engine puts making safe, power or the nulling of the leads, as `dialogue.flow` does."""

from voicetech.drawing.ways import below, steps_after
from voicetech.procedure import Measure, Needs, SafetyRole, Section, Step
from voicetech.units import Quantity

_OHMS = (Quantity.RESISTANCE, Quantity.CONTINUITY)


def gated(section: Section) -> frozenset[str]:
    """Return the steps of a section that may be come to while the appliance is not as they need it.

    Steps that touch nothing change nothing. Of a section of the engine it is none: it is itself what comes in front.
    """
    if section.role is not None:
        return frozenset()
    before = _known_before(section)
    return frozenset(
        step.id for step in section.steps if step.needs is not Needs.ANY and before[step.id] - {step.needs}
    )


def first_ohms(section: Section) -> str:
    """Return the first step of the section whose ohms take nulled leads, "" where none does."""
    return next((step.id for step in section.steps if takes_nulled_leads(step)), "")


def takes_nulled_leads(step: Step) -> bool:
    """Return whether the leads have to be nulled before the step."""
    return isinstance(step, Measure) and step.quantity in _OHMS and step.role is not SafetyRole.NULL_LEADS


def _known_before(section: Section) -> dict[str, set[Needs | None]]:
    """Return how the appliance may stand before each step; None where nothing is known of it."""
    steps = {step.id: step for step in section.steps}
    before: dict[str, set[Needs | None]] = {step_id: set() for step_id in steps}
    ahead = list(below(section, None))
    for step_id in ahead:
        before[step_id].add(None)
    while ahead:
        step = steps[ahead.pop()]
        after = before[step.id] if step.needs is Needs.ANY else {step.needs}
        for following in steps_after(section, step):
            if not after <= before[following]:
                before[following] |= after
                ahead.append(following)
    return before
