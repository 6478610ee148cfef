"""Steps that are alike but for their words and names: one of them stands for all in the walk.

What a step is called, what it says, and which cause or step an outcome names is left out, and so is what an outcome
says and suspects besides, which no step is entered by; what the engine goes by is kept. Where a named step leads is no
part of it: every step is entered in every way anyhow.
"""

from collections.abc import Container, Hashable, Mapping
from typing import Final

from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.dialogue.pairs import meant_pair
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
    chosen = isinstance(step, Ask) and step.asking is Asking.CHOICE
    outcomes = tuple(
        dict.fromkeys(
            # Which choice it was tells nothing apart, only what follows from it.
            ("" if chosen else result, follows(procedure, section, step, result))
            for result in _results(procedure, step)
        )
    )
    return type(step).__name__, _place(procedure, section, step), step.needs, step.role, outcomes, _own(step, looked_at)


def follows(procedure: Procedure, section: Section, step: Step, result: str) -> Hashable:
    """Return what follows from a result, but for words and names, and whether it stops the work."""
    stops = result in procedure.stop_work.get(f"{section.id}.{step.id}", {})
    return _outcome(procedure, section, outcome_of(step, result)), stops


def _place(procedure: Procedure, section: Section, step: Step) -> Hashable:
    """Return the phase, and where the job may end behind the step that too: elsewhere another step follows."""
    last = max(procedure.sections, key=lambda each: list(Phase).index(each.phase)).phase
    return section.phase if section.phase is not last else (section.id, step.id)


def _results(procedure: Procedure, step: Step) -> tuple[str, ...]:
    if isinstance(step, Measure) and step.judged_as != "each":
        return tuple(dict.fromkeys((*step.outcomes, *SupplyKind)))
    return results(procedure, step)


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
            return (
                (step.quantity, step.unit, step.judged_as, step.accepts_beep, step.field is None),
                tuple(pair.label for pair in pairs) if step.judged_as != "each" else _ends(step),
                step.limits.rule if step.limits.rule not in RULES else _verdicts(step),
                step.limits.rule.startswith(("insulation", "open", "must-open")),
            )
        case Inspect() | Instruct():
            return None


def _ends(step: Measure) -> Hashable:
    """Return which pairs have an end in common, and which pair is meant where the last is named."""
    numbers: dict[str, int] = {}
    ends = [numbers.setdefault(end, len(numbers)) for pair in step.pairs for end in (pair.first, pair.second)]
    meant = meant_pair(step, step.pairs, step.pairs[-1].label.replace("-", " to "))
    return tuple(ends), None if meant is None else step.pairs.index(meant)


def _verdicts(step: Measure) -> Hashable:
    """Return the verdicts there can be, with nothing of what the limits need on record and with all of it."""
    return tuple(frozenset(readings(step, known)) for known in cases(step))
