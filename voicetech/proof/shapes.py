"""Steps that are alike but for their words and names: one of them stands for all in the walk.

What a step is called, what it says and which cause or step an outcome names is left out; what the engine goes by is
kept. Where a named step leads is no part of it: every step is entered in every way anyhow.
"""

from collections.abc import Container, Hashable, Mapping
from typing import Final

from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.language.meaning import Asking
from voicetech.limit_rules import RULES
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Outcome, Phase, Procedure, Section, Step
from voicetech.proof.verdicts import cases, readings
from voicetech.proof.ways import outcome_of, results

_KNOWN_FIELDS: Final = frozenset({"consent", "lead_ohm"})
"""Fields the engine itself looks at."""
_NAMED: Final = "named"


def shapes(procedure: Procedure) -> Mapping[tuple[str, str], int]:
    """Return for each step outside of the engine's sections a number that steps alike have in common."""
    looked_at = _KNOWN_FIELDS | {
        condition.field
        for section in procedure.sections
        if section.role is not None
        for step in section.steps
        for condition in step.when
    }
    numbers: dict[Hashable, int] = {}
    return {
        (section.id, step.id): numbers.setdefault(_shape(procedure, section, step, looked_at), len(numbers))
        for section in procedure.sections
        if section.role is None
        for step in section.steps
    }


def _shape(procedure: Procedure, section: Section, step: Step, looked_at: Container[str]) -> Hashable:
    listed = procedure.stop_work.get(f"{section.id}.{step.id}", {})
    outcomes = tuple(
        (name, _outcome(procedure, section, outcome_of(step, result)), result in listed)
        for name, result in _results(procedure, step)
    )
    # In the phases beside testing it counts which section is over; there are few of them.
    place = section.phase if section.phase is Phase.TEST else section.id
    return type(step).__name__, place, step is section.steps[-1], step.needs, step.role, outcomes, _own(step, looked_at)


def _results(procedure: Procedure, step: Step) -> tuple[tuple[Hashable, str], ...]:
    """Return the results of a step with what tells them apart: choices by their order, all others by name."""
    if isinstance(step, Ask) and step.asking is Asking.CHOICE:
        return tuple(enumerate(results(procedure, step)))
    if isinstance(step, Measure) and step.judged_as != "each":
        return tuple((kind, kind) for kind in dict.fromkeys((*step.outcomes, *SupplyKind)))
    return tuple((result, result) for result in results(procedure, step))


def _outcome(procedure: Procedure, section: Section, outcome: Outcome) -> Hashable:
    steps = {each.id for each in section.steps}
    to = outcome.next if outcome.next in (None, END, MORE_TESTS) else _name(outcome.next, steps)
    return (
        to,
        _name(outcome.again_by, steps),
        _name(outcome.cause, procedure.causes),
        _name(outcome.hand_over, procedure.hand_overs),
        outcome.danger,
        outcome.repeat,
        tuple(bool(each) for each in (outcome.say, outcome.suspects, outcome.excludes)),
    )


def _name(name: str | None, known: Container[str]) -> str | None:
    """Return the same for every name that is known; one that is not breaks the program down, and stays as it is."""
    return _NAMED if name is not None and name in known else name


def _own(step: Step, looked_at: Container[str]) -> Hashable:
    """Return what only steps of this kind have."""
    match step:
        case Hold(until=until):
            return len(until) > 1
        case Ask(asking=asking, unit=unit, field=field):
            return asking, unit, field if field in looked_at else None
        case Measure(pairs=pairs):
            labels = tuple(pair.label for pair in pairs) if len(pairs) > 1 or step.judged_as != "each" else ()
            return (
                (step.quantity, step.unit, step.judged_as, step.accepts_beep, step.field is None),
                labels,
                step.limits.rule if step.limits.rule not in RULES else _verdicts(step),
                step.limits.rule.startswith(("insulation", "open", "must-open")),
            )
        case Inspect() | Instruct():
            return None


def _verdicts(step: Measure) -> Hashable:
    """Return the verdicts there can be, with nothing of what the limits need on record and with all of it."""
    return tuple(frozenset(readings(step, known)) for known in cases(step))
