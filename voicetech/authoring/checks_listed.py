"""What is written twice on purpose, so that a slip in one place is told by the other: stops, precautions, names."""

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_condition, every_step
from voicetech.authoring.checks_references import every_text
from voicetech.authoring.ways import outcomes_of
from voicetech.known_fields import KNOWN
from voicetech.procedure import Ask, Measure, Procedure, Section, SectionRole, Step

_BRINGING_POWER: Final = (SectionRole.GO_LIVE, SectionRole.POWER_UP)
_BRACES: Final = re.compile(r"{(\w+)}")


def unlisted_stops(procedure: Procedure) -> Iterator[Breach]:
    """Where a section's stops are listed under `stop_work`, every one is."""
    sections = {name.split(".")[0] for name in procedure.stop_work}
    for keys, section, step in every_step(procedure):
        listed = procedure.stop_work.get(f"{section.id}.{step.id}", {})
        for result, outcome in outcomes_of(step).items():
            reason = outcome.hand_over or (outcome.danger.value if outcome.danger is not None else None)
            if reason is not None and result not in listed and section.id in sections:
                message = (
                    "stops the work and is not listed beside the section's other stops; write under stop_work "
                    f"`{section.id}.{step.id}: {{{result}: {reason}}}`"
                )
                yield Breach((*keys, "outcomes", result), message, "unlisted-stop")


def power_precautions(procedure: Procedure) -> Iterator[Breach]:
    """What an appliance wants held to or asked before power comes on stands in front of it whichever way it comes."""
    sections = [section for section in procedure.sections if section.role in _BRINGING_POWER]
    for section in sections:
        before = _own(section)
        for other in sections:
            for step in _own(other) if other is not section else ():
                if not any(_same(step, mine) for mine in before):
                    message = (
                        f"{other.id} has {step.id} before power comes on and this has not; power is power, so write "
                        "it here too"
                    )
                    yield Breach(("sections", section.id, "steps"), message, "power-precaution")
        first = next((at for at, step in enumerate(section.steps) if step.role is not None), 0)
        for step in _own(section):
            if section.steps.index(step) > first:
                message = f"comes behind {section.steps[first].id}, which is said right before power; put it in front"
                yield Breach(("sections", section.id, "steps", step.id), message, "power-precaution")


def _own(section: Section) -> list[Step]:
    return [step for step in section.steps if step.role is None]


def _same(one: Step, other: Step) -> bool:
    return replace(one, id="") == replace(other, id="")


def same_twice(procedure: Procedure) -> Iterator[Breach]:
    """No step is the same as the one before it but for its name."""
    for section in procedure.sections:
        for before, step in pairwise(section.steps):
            if _same(before, step):
                message = f"is {before.id} once more; take one out, or say what is different"
                yield Breach(("sections", section.id, "steps", step.id), message, "same-twice")


def unnamed_fields(procedure: Procedure) -> Iterator[Breach]:
    """Where answers are named for the report, one that nothing looks at is named too: it may be mistyped."""
    if not procedure.fields:
        return
    looked_at = fields_looked_at(procedure) | {*KNOWN, *procedure.fields}
    for keys, _section, step in every_step(procedure):
        if isinstance(step, (Ask, Measure)) and step.field is not None and step.field not in looked_at:
            message = (
                f"nothing looks at {step.field}; correct the name, or write under `fields` how it reads in the report"
            )
            yield Breach((*keys, "field"), message, "unnamed-field")


def fields_looked_at(procedure: Procedure) -> set[str]:
    """Return the fields that conditions, texts, limits or the circuit look at."""
    found = {condition.field for _keys, condition in every_condition(procedure)}
    found |= {name for _keys, text in every_text(procedure) for name in _BRACES.findall(text)}
    circuit = procedure.circuit
    if circuit is not None:
        found |= {field for fault in circuit.faults for field in (*fault.told, *fault.only)}
        found |= {*circuit.read_off, *circuit.works, *circuit.usual}
        found |= {field for wanted in circuit.only.values() for field in wanted}
    for _keys, _section, step in every_step(procedure):
        if isinstance(step, Measure):
            found |= set(step.limits.fields.values())
    return found


ADVICE: Final[tuple[Check, ...]] = (unlisted_stops, power_precautions, same_twice, unnamed_fields)
"""What is told by the check alone."""
