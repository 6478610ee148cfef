"""A range cut down to what safety hangs on: quick to walk whole, with every kind of step left in."""

from dataclasses import replace
from functools import cache

from tests.dialogue.talker import shipped
from voicetech.procedure import Phase, Procedure, Section

_KEPT = {
    "settings": ("see-it",),
    "supply": ("rear-cover", "block-look", "supply-idle"),
    "thermal-fuse": ("fitted", "fuse-ohms", "fuse-bare"),
}


@cache
def small_range() -> Procedure:
    """Return the shipped range with making safe, going live, powering up, and one dead, live and powered test."""
    whole = shipped()
    sections = [_cut(section) for section in whole.sections if section.role is not None or section.id in _KEPT]
    complaints = {
        name: replace(complaint, weights={c: w for c, w in complaint.weights.items() if _kept(whole, c)})
        for name, complaint in whole.complaints.items()
    }
    return replace(whole, sections=tuple(sections), complaints=complaints)


def _kept(whole: Procedure, cause: str) -> bool:
    return whole.causes[cause].tested_by in _KEPT


def _cut(section: Section) -> Section:
    kept = _KEPT.get(section.id)
    if kept is None:
        return section
    steps = tuple(replace(step, when=()) for step in section.steps if step.id in kept)
    phase = Phase.TEST if section.id == "settings" else section.phase
    call = section.call or ("settings",)
    return replace(section, steps=steps, phase=phase, call=call, when=())
