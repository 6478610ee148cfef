"""What a procedure records under which field, where and when: for conditions and limits that look at it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from voicetech.authoring.ways import OUT, first_steps, implies, outcomes_of, reached_from, ways_from
from voicetech.dialogue.flow import MORE_TESTS
from voicetech.procedure import Ask, Condition, Measure, Phase, Procedure, Section, Step
from voicetech.units import Unit

_ORDER: Final = {phase: at for at, phase in enumerate(Phase)}
_REOPENED: Final = frozenset({Phase.DECIDE, Phase.REPAIR, Phase.PUT_BACK, Phase.RETEST})
"""Phases that come again where the repair did not mend the complaint."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A step that records a field: what it asks for or measures, and in which unit."""

    section: Section
    step: Ask | Measure
    kind: str
    unit: Unit | None

    @property
    def words(self) -> str:
        """Return what is recorded, in words: "voltage in volt"."""
        return self.kind if self.unit is None else f"{self.kind} in {self.unit.name.lower()}"


def recordings(procedure: Procedure) -> Mapping[str, tuple[Recording, ...]]:
    """Return for each field the steps that record it, in the order they are written."""
    found: dict[str, list[Recording]] = {}
    for section in procedure.sections:
        for step in section.steps:
            match step:
                case Ask(field=field, asking=asking, unit=unit):
                    found.setdefault(field, []).append(Recording(section, step, asking.value, unit))
                case Measure(field=str(field), quantity=quantity, unit=unit):
                    found.setdefault(field, []).append(Recording(section, step, quantity.value, unit))
                case _:
                    pass
    return {field: tuple(steps) for field, steps in found.items()}


def may_be_before(procedure: Procedure, recording: Recording, section: Section, step: Step | None) -> bool:
    """Return whether the recording can come before this step, or before the section begins where no step is given."""
    theirs = recording.section
    if recording.step is step:
        return False
    if theirs is section:
        return step is not None and step.id in reached_from(section, recording.step.id)
    if section.role is not None or theirs.role is not None or theirs.phase is section.phase is Phase.TEST:
        return True
    if _ORDER[theirs.phase] != _ORDER[section.phase]:
        again = theirs.phase in _REOPENED and section.phase in {Phase.TEST, *_REOPENED} and _comes_again(procedure)
        return again or _ORDER[theirs.phase] < _ORDER[section.phase]
    order = [other.id for other in procedure.sections]
    return order.index(theirs.id) < order.index(section.id)


def _comes_again(procedure: Procedure) -> bool:
    return any(
        outcome.next == MORE_TESTS
        for section in procedure.sections
        for step in section.steps
        for outcome in outcomes_of(step).values()
    )


def is_before(procedure: Procedure, recording: Recording, section: Section, step: Step) -> bool:
    """Return whether the recording comes before the step on every way, whenever the step comes up."""
    theirs = recording.section
    if not implies(_conditions(section, step), _conditions(theirs, recording.step)):
        return False
    if theirs is section:
        return recording.step is not step and not _gets_round(section, recording.step.id, step.id)
    order = [other.id for other in procedure.sections]
    earlier = _ORDER[theirs.phase] < _ORDER[section.phase]
    in_order = theirs.phase is section.phase is not Phase.TEST and order.index(theirs.id) < order.index(section.id)
    return theirs.role is None and (earlier or in_order)


def _conditions(section: Section, step: Step) -> tuple[Condition, ...]:
    return (*section.when, *step.when)


def _gets_round(section: Section, passed: str, target: str) -> bool:
    """Return whether some way through the section comes to `target` without `passed`."""
    ways = ways_from(section, never_skipped=passed)
    owed, reached = list(first_steps(section, never_skipped=passed) - {passed}), set[str]()
    while owed:
        step_id = owed.pop()
        if step_id in reached or step_id == OUT:
            continue
        reached.add(step_id)
        owed += ways[step_id] - {passed}
    return target in reached


def every_recording(procedure: Procedure) -> Iterator[tuple[str, Recording]]:
    """Return every field with each step that records it."""
    for field, steps in recordings(procedure).items():
        for recording in steps:
            yield field, recording
