"""The checks a procedure has to pass: a list of small functions, one rule each.

Each takes the whole procedure and yields what breaks its rule, with the keys that lead to it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import assert_never

from voicetech.authoring.findings import Keys
from voicetech.procedure import Ask, Condition, Hold, Inspect, Instruct, Measure, Outcome, Procedure, Section, Step


@dataclass(frozen=True, slots=True)
class Breach:
    """What breaks a rule: the keys that lead to it, what is wrong and what to do, and the rule's name."""

    keys: Keys
    message: str
    rule: str


Check = Callable[[Procedure], Iterator[Breach]]


def every_step(procedure: Procedure) -> Iterator[tuple[Keys, Section, Step]]:
    """Return every step with its section and the keys that lead to it."""
    for section in procedure.sections:
        for step in section.steps:
            yield ("sections", section.id, "steps", step.id), section, step


def every_outcome(procedure: Procedure) -> Iterator[tuple[Keys, Section, Outcome]]:
    """Return every outcome with its section and the keys that lead to it."""
    for keys, section, step in every_step(procedure):
        if isinstance(step, Hold):
            continue
        for name, outcome in step.outcomes.items():
            yield (*keys, "outcomes", name), section, outcome


def every_condition(procedure: Procedure) -> Iterator[tuple[Keys, Condition]]:
    """Return every condition of a section or step with the keys that lead to it."""
    for section in procedure.sections:
        for condition in section.when:
            yield ("sections", section.id, key_of(condition), condition.field), condition
    for keys, _section, step in every_step(procedure):
        for condition in step.when:
            yield (*keys, key_of(condition), condition.field), condition


def key_of(condition: Condition) -> str:
    """Return the key a condition is written under."""
    return "when_not" if condition.absent else "when"


def words_key(step: Step) -> str:
    """Return the key a step's full words are written under."""
    match step:
        case Hold():
            return "hold"
        case Instruct():
            return "instruct"
        case Ask() | Inspect() | Measure():
            return "say"
        case _:
            assert_never(step)


def asked_fields(procedure: Procedure) -> dict[str, tuple[str, ...] | None]:
    """Return the fields that are recorded, with the answers each may have, or None where that is open."""
    fields: dict[str, tuple[str, ...] | None] = {}
    for _keys, _section, step in every_step(procedure):
        match step:
            case Ask(field=field):
                fields[field] = _joined(fields.get(field, ()), _answers(step))
            case Measure(field=str(field)):
                fields[field] = None
            case _:
                pass
    return fields


def _answers(step: Ask) -> tuple[str, ...] | None:
    match step.asking.value:
        case "choice":
            return tuple(choice.key for choice in step.choices)
        case "yes-no":
            return ("yes", "no")
        case _:
            return None


def _joined(one: tuple[str, ...] | None, other: tuple[str, ...] | None) -> tuple[str, ...] | None:
    return None if one is None or other is None else (*one, *other)
