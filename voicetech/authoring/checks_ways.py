"""Ways that never end, conditions that never hold, and what comes too early or too late in a job."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_condition, every_outcome, every_step, key_of
from voicetech.authoring.findings import Keys
from voicetech.authoring.recorded import may_be_before, recordings
from voicetech.authoring.ways import OUT, exclude_each_other, first_steps, reached_from
from voicetech.dialogue.flow import MORE_TESTS
from voicetech.procedure import Condition, Inspect, Measure, Phase, Procedure, Section, Step

_TESTING: Final = frozenset({Phase.INTAKE, Phase.SETTINGS, Phase.TEST})


def endless(procedure: Procedure) -> Iterator[Breach]:
    """From every step some answer leads out of its section."""
    for section in procedure.sections:
        told: set[frozenset[str]] = set()
        for step in section.steps:
            reached = reached_from(section, step.id)
            if OUT not in reached and reached not in told:
                told.add(reached)
                round_ = " and ".join(other.id for other in section.steps if other.id in reached)
                message = f"no answer ever leads out of here, only round by {round_}; let one lead on, or to end"
                yield Breach(("sections", section.id, "steps", step.id), message, "endless")


def endless_when_sound(procedure: Procedure) -> Iterator[Breach]:
    """Where everything that is measured or looked at passes, a section comes to its end."""
    for section in procedure.sections:
        if section.role is not None or not section.steps:
            continue
        passing = replace(section, steps=tuple(_passing(step) for step in section.steps))
        first = first_steps(section)
        reached = {start: reached_from(passing, start) | {start} for start in first}
        for start in sorted(first, key=[step.id for step in section.steps].index):
            if OUT in reached[start] or OUT not in reached_from(section, start):
                continue
            back = next(step for step in reversed(section.steps) if step.id in reached[start])
            message = (
                f"where everything passes it goes in a circle from here to {start} and back; lead the last of these "
                "steps to end"
            )
            yield Breach(("sections", section.id, "steps", back.id), message, "endless")
            break


def _passing(step: Step) -> Step:
    """Return the step with what follows where it passes only."""
    match step:
        case Inspect(outcomes=outcomes):
            return replace(step, outcomes={name: o for name, o in outcomes.items() if name == "clean"})
        case Measure(outcomes=outcomes, judged_as="each"):
            open_too = {"over_range"} if "over_range" in outcomes and not outcomes["over_range"].cause else set[str]()
            passes = {"within", "marginal", *open_too}
            return replace(step, outcomes={name: o for name, o in outcomes.items() if name in passes})
        case _:
            return step


def never_true(procedure: Procedure) -> Iterator[Breach]:
    """Conditions name answers, and some answers make them true."""
    for keys, condition in every_condition(procedure):
        if not condition.values:
            yield Breach(keys, "names no answer; write at least one, or leave it out", "never-true")
    for keys, section, step in _with_conditions(procedure):
        own = section.when if step is None else step.when
        field = exclude_each_other((*section.when, *own))
        if any(not condition.values for condition in own):
            continue
        if field is not None and (step is None or exclude_each_other(section.when) is None):
            condition = next((c for c in own if c.field == field), own[0] if own else section.when[0])
            message = f"no answer of {field} makes all of these conditions true; correct one of them"
            yield Breach((*keys, key_of(condition), condition.field), message, "never-true")


def _with_conditions(procedure: Procedure) -> Iterator[tuple[Keys, Section, Step | None]]:
    for section in procedure.sections:
        yield ("sections", section.id), section, None
    for keys, section, step in every_step(procedure):
        if step.when:
            yield keys, section, step


def answered_later(procedure: Procedure) -> Iterator[Breach]:
    """What a condition waits for can have been answered by then."""
    found = recordings(procedure)
    for keys, section, step in _with_conditions(procedure):
        for condition in section.when if step is None else step.when:
            there = found.get(condition.field, ())
            if condition.absent or not there:
                continue
            if not any(may_be_before(procedure, each, section, step) for each in there):
                yield Breach((*keys, "when", condition.field), _later(condition, there[0].step.id), "answered-later")


def _later(condition: Condition, step: str) -> str:
    return f"{condition.field} is asked only in {step}, which comes later; ask it before, or take another condition"


def back_to_testing(procedure: Procedure) -> Iterator[Breach]:
    """Only what follows testing leads back to it."""
    for keys, section, outcome in every_outcome(procedure):
        if outcome.next == MORE_TESTS and section.phase in _TESTING:
            message = "more-tests leads back to testing, and this is before or in it; write end, or a step"
            yield Breach((*keys, "next"), message, "back-to-testing")


CHECKS: Final[tuple[Check, ...]] = (endless, endless_when_sound, never_true, answered_later, back_to_testing)
