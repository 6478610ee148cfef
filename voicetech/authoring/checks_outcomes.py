"""Outcomes that are missing or never come about, and limits that cannot be."""

import re
from collections.abc import Iterator
from typing import Final, assert_never

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_measuring import NEEDED
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import EACH, JUDGED_TOGETHER
from voicetech.authoring.naming import instead
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.language.meaning import Asking
from voicetech.limit_rules import RULES
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Procedure, SafetyRole, Step
from voicetech.units import Unit

OTHERWISE: Final = "other"
ANY_ANSWER: Final = "any"

_MEASURED: Final = ("below", "within", "above", "over_range")
_MAY_BE_MEASURED: Final = (*_MEASURED, "marginal", "unusable")


def missing_outcomes(procedure: Procedure) -> Iterator[Breach]:
    """Every result a step can have leads somewhere."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold) or _engine_leads(step):
            continue
        must, _may = _results(step)
        stood_for = {OTHERWISE, ANY_ANSWER} & step.outcomes.keys() & _stand_ins(step)
        for result in must:
            if result not in step.outcomes and not stood_for:
                message = f"does not say what follows from {result!r}; write it under outcomes"
                yield Breach((*keys, "outcomes"), message, "missing-outcome")


def _engine_leads(step: Step) -> bool:
    """Return whether the engine alone decides what follows: the measurements of a proof of dead."""
    return step.role in (SafetyRole.TESTER_BEFORE, SafetyRole.DEAD_PAIRS, SafetyRole.TESTER_AFTER)


def unknown_outcomes(procedure: Procedure) -> Iterator[Breach]:
    """No outcome is written for a result the step cannot have."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold):
            continue
        must, may = _results(step)
        known = {*must, *may, *_stand_ins(step)}
        for name in step.outcomes:
            if name not in known:
                message = f"{name!r} is no result of this step; {instead(name, [*must, *may])}"
                yield Breach((*keys, "outcomes", name), message, "unknown-outcome")


def _stand_ins(step: Step) -> set[str]:
    match step:
        case Ask():
            return {ANY_ANSWER}
        case Measure(judged_as=judged_as) if judged_as != EACH:
            return {OTHERWISE}
        case _:
            return set()


def _results(step: Ask | Inspect | Measure | Instruct) -> tuple[tuple[str, ...], tuple[str, ...]]:
    match step:
        case Ask(asking=Asking.CHOICE, choices=choices):
            return tuple(choice.key for choice in choices), ()
        case Ask(asking=Asking.YES_NO):
            return ("yes", "no"), ()
        case Ask():
            return (ANY_ANSWER,), ()
        case Inspect():
            return ("clean", "fault"), ()
        case Instruct():
            return ("done",), ()
        case Measure(judged_as=judged_as):
            if judged_as == EACH:
                return _MEASURED, _MAY_BE_MEASURED
            return tuple(kind.value for kind in SupplyKind), ()
        case _:
            assert_never(step)


def unknown_judging(procedure: Procedure) -> Iterator[Breach]:
    """A measurement is judged pair by pair, or as a supply idle or loaded."""
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Measure) and step.judged_as not in (EACH, *JUDGED_TOGETHER):
            message = f"{step.judged_as!r} is not known; {instead(step.judged_as, (EACH, *JUDGED_TOGETHER))}"
            yield Breach((*keys, "judged_as"), message, "unknown-word")


def unknown_limits(procedure: Procedure) -> Iterator[Breach]:
    """Limits come from a rule that is known, with what it computes from."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure):
            continue
        limits = step.limits
        if limits.rule not in RULES:
            message = f"there is no rule {limits.rule!r} for limits; {instead(limits.rule, sorted(RULES))}"
            yield Breach((*keys, "limits", "rule"), message, "unknown-limits")
        for field in NEEDED.get(limits.rule, ()):
            if field not in limits.fields:
                message = f"the rule {limits.rule} needs `{field}`; name the field where it is recorded"
                yield Breach((*keys, "limits"), message, "unknown-limits")
        if limits.rule == "figures" and not limits.figures:
            yield Breach((*keys, "limits"), "the rule figures needs `low` or `high`; write one", "unknown-limits")


def reversed_limits(procedure: Procedure) -> Iterator[Breach]:
    """The lower limit is not above the higher one."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure):
            continue
        low, high = step.limits.figures.get("low"), step.limits.figures.get("high")
        if low is not None and high is not None and low > high:
            message = f"low {low} is above high {high}; swap or correct them"
            yield Breach((*keys, "limits", "low"), message, "limits-reversed")


def limits_that_pass_all(procedure: Procedure) -> Iterator[Breach]:
    """Some reading is out of limits."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule != "figures" or step.unit in _BELOW_ZERO:
            continue
        low, high = step.limits.figures.get("low"), step.limits.figures.get("high")
        if low is not None and low <= 0 and high is None:
            message = (
                f"nothing reads below {low}, so everything is within limits; write the highest that passes, `high`"
            )
            yield Breach((*keys, "limits"), message, "passes-all")


_BELOW_ZERO: Final = (Unit.CELSIUS, Unit.FAHRENHEIT)


_NO_SOURCE: Final = re.compile(r"\W*|\W*(todo|to do|tbd|tba|fixme|xxx+|none|n/?a|unknown|source|later|to be \w+)\b.*")
"""What stands where a source was to be looked up later. "Common practice, no source" says that there is none."""


def missing_sources(procedure: Procedure) -> Iterator[Breach]:
    """Every hold and every limit says where it comes from."""
    sourced: list[tuple[Keys, str]] = [(("warnings", each.id), each.source) for each in procedure.warnings.values()]
    sourced += [(("hand_overs", each.id), each.source) for each in procedure.hand_overs.values()]
    sourced += [(("danger_scripts", kind.value), each.source) for kind, each in procedure.danger_scripts.items()]
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold):
            sourced.append((keys, step.source))
        elif isinstance(step, Measure):
            sourced.append(((*keys, "limits"), step.limits.source))
    for keys, source in sourced:
        if source and _NO_SOURCE.fullmatch(source.lower()):
            message = f"{source!r} is no source; name it, or write: common practice, no source"
            yield Breach((*keys, "source"), message, "missing-source")
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold) and not step.source:
            message = "a hold needs a `source`; name it, or write: common practice, no source"
            yield Breach((*keys, "source"), message, "missing-source")
        if isinstance(step, Measure) and not step.limits.source:
            message = "limits need a `source`; name it, or write: common practice, no source"
            yield Breach((*keys, "limits", "source"), message, "missing-source")


CHECKS: Final[tuple[Check, ...]] = (
    missing_outcomes,
    unknown_outcomes,
    unknown_judging,
    unknown_limits,
    reversed_limits,
    limits_that_pass_all,
    missing_sources,
)
