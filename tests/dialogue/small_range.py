"""A range cut down to what safety hangs on: quick to walk whole, with every kind of step left in.

It hangs on a cord, so that making safe takes one way; both ways of every other connection are walked in the shipped
procedures.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from tests.dialogue.talker import shipped
from voicetech.dialogue.flow import holds
from voicetech.procedure import Hold, Measure, Phase, Procedure, SafetyRole, Section, SectionRole, Step

_KEPT = {
    "settings": ("see-it",),
    "supply": ("rear-cover", "supply-idle", "breaker-now"),
    "thermal-fuse": ("fitted", "fuse-ohms", "fuse-back", "fuse-bare"),
}
_CORD = {"connection": "cord-4"}


@cache
def small_range() -> Procedure:
    """Return the shipped range with making safe, going live, powering up, and one dead, live and powered test."""
    whole = shipped()
    sections = [_cut(section) for section in whole.sections if section.role is not None or section.id in _KEPT]
    complaints = {
        name: replace(complaint, weights={c: w for c, w in complaint.weights.items() if _kept(whole, c)})
        for name, complaint in whole.complaints.items()
    }
    # Without its circuit: what is believed orders the tests, safety hangs on none of it, and each state would cost.
    return replace(whole, sections=tuple(sections), complaints=complaints, circuit=None)


def _kept(whole: Procedure, cause: str) -> bool:
    return whole.causes[cause].tested_by in _KEPT


def _two_legs(step: Step) -> Step:
    """Return the step without what it measures to neutral: two legs and the frame are a supply, and quicker walked."""
    if not isinstance(step, Measure):
        return step
    return replace(step, pairs=tuple(pair for pair in step.pairs if "N" not in pair.label.split("-")))


def _inside(step: Step, kept: tuple[str, ...]) -> Step:
    """Return the step with outcomes that lead to no step that was left out."""
    if isinstance(step, Hold):
        return step
    outcomes = {
        name: replace(
            outcome,
            next=outcome.next if outcome.next in (*kept, "end", "more-tests") else None,
            again_by=outcome.again_by if outcome.again_by in kept else None,
        )
        for name, outcome in step.outcomes.items()
    }
    return replace(step, outcomes=outcomes)


def _cut(section: Section) -> Section:
    kept = _KEPT.get(section.id)
    if kept is None:
        asked = (step for step in section.steps if holds(step.when, _CORD))
        return replace(section, steps=tuple(_two_legs(replace(step, when=())) for step in asked))
    steps = tuple(_two_legs(_inside(replace(step, when=()), kept)) for step in section.steps if step.id in kept)
    phase = Phase.TEST if section.id == "settings" else section.phase
    call = section.call or ("settings",)
    return replace(section, steps=steps, phase=phase, call=call, when=())


@cache
def smallest_range() -> Procedure:
    """Return the small range with two legs and nothing else to measure, and without what needs ohms: quicker still."""
    whole = small_range()
    left = [
        replace(section, steps=tuple(_first_pair(step) for step in section.steps))
        for section in whole.sections
        if section.id != "thermal-fuse" and section.role is not SectionRole.NULL_LEADS
    ]
    return replace(whole, sections=tuple(left))


def _first_pair(step: Step) -> Step:
    return replace(step, pairs=step.pairs[:1]) if isinstance(step, Measure) else step


def changed(whole: Procedure, change: Callable[[Step], Step | None]) -> Procedure:
    """Return the procedure with each step changed, or left out where nothing comes back."""
    sections = tuple(
        replace(section, steps=tuple(new for step in section.steps if (new := change(step)) is not None))
        for section in whole.sections
    )
    return replace(whole, sections=sections)


def without_a_pair(step: Step) -> Step:
    """Return the step with a pair fewer, where it is the proof of dead."""
    if isinstance(step, Measure) and step.role is SafetyRole.DEAD_PAIRS:
        return replace(step, pairs=step.pairs[1:])
    return step


def without_isolation(step: Step) -> Step | None:
    """Return the step, or None where it isolates."""
    return None if step.role is SafetyRole.ISOLATE_PLUG else step
