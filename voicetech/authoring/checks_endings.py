"""Outcomes that stop work, prove a fault or let the job go on, against the trade's rules for them."""

from collections.abc import Iterator
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_outcome, every_step
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.ways import OUT, outcomes_of, reached_from, stops
from voicetech.dialogue.outcomes import outcome_of
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.procedure import Measure, Outcome, Procedure, Section

_OUT_OF_LIMITS: Final = ("below", "above", "over_range")
_SOUND: Final = frozenset({SupplyKind.SPLIT_PHASE.value, SupplyKind.WYE_208.value})
_STOPS_WORK: Final = (
    SupplyKind.LOST_LEG,
    SupplyKind.LOST_LEG_BACKFED,
    SupplyKind.ONE_LEG_TWICE,
    SupplyKind.OPEN_NEUTRAL,
    SupplyKind.NEUTRAL_SWAPPED,
    SupplyKind.HIGH_OVERALL,
    SupplyKind.UNEXPLAINED_SOURCE,
)
"""Supplies nobody works on. Source: the trade's list of when to stop and hand over, and `supply_findings`."""
_LIVE_FRAME_RULES: Final = frozenset({"touch-voltage", "neutral-to-frame"})


def stops_that_go_on(procedure: Procedure) -> Iterator[Breach]:
    """An outcome that stops work leads nowhere else."""
    for keys, _section, outcome in every_outcome(procedure):
        if outcome.danger is not None:
            also = {
                "next": outcome.next,
                "again_by": outcome.again_by,
                "hand_over": outcome.hand_over,
                "cause": outcome.cause,
                "suspects": outcome.suspects,
                "excludes": outcome.excludes,
                "repeat": outcome.repeat,
            }
            stop = "danger stops the job at once"
        elif outcome.hand_over is not None:
            also = {"next": outcome.next, "again_by": outcome.again_by}
            stop = "work stops with this hand-over"
        else:
            continue
        for key in (key for key, written in also.items() if written):
            yield Breach((*keys, key), f"{stop}, so `{key}` is passed by; remove one of the two", "stop-goes-on")


def contradictions(procedure: Procedure) -> Iterator[Breach]:
    """An outcome does not say two things at once."""
    for keys, _section, outcome in every_outcome(procedure):
        if outcome.next is not None and outcome.again_by is not None:
            message = "again_by leads to the other method, so `next` is passed by; remove one of the two"
            yield Breach((*keys, "next"), message, "outcome-contradicts")
        proved = {outcome.cause} if outcome.cause is not None else set()
        for key, named, others in (
            ("suspects", outcome.suspects, proved),
            ("excludes", outcome.excludes, {*proved, *outcome.suspects}),
        ):
            for at, cause in enumerate(named):
                if cause in others:
                    message = f"{cause} is named here in two ways; keep one"
                    yield Breach((*keys, key, at), message, "outcome-contradicts")


def not_repeated(procedure: Procedure) -> Iterator[Breach]:
    """A reading out of limits is repeated before it proves a cause or stops work."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or section.role is not None:
            continue
        if any(o.again_by == step.id for other in section.steps for o in outcomes_of(other).values()):
            continue
        for name, outcome in step.outcomes.items():
            out = name in _OUT_OF_LIMITS if step.judged_as == EACH else name not in _SOUND
            if out and not outcome.repeat and (outcome.cause is not None or outcome.hand_over is not None):
                message = "one reading alone proves nothing; write `repeat: yes` beside it"
                yield Breach((*keys, "outcomes", name), message, "not-repeated")


def supply_goes_on(procedure: Procedure) -> Iterator[Breach]:
    """A supply that is not fit to work on ends in a hand-over."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.judged_as == EACH or not _tells_legs(step):
            continue
        kinds = [*_STOPS_WORK]
        if any(pair.label.endswith("-frame") for pair in step.pairs):
            kinds.append(SupplyKind.NEUTRAL_TO_FRAME)
        for kind in kinds:
            outcome = outcome_of(step.outcomes, kind.value)
            if not _comes_to_a_stop(section, step.id, outcome):
                yield _goes_on(keys, step, kind.value, "supply-goes-on")


def _tells_legs(step: Measure) -> bool:
    to_neutral = [pair for pair in step.pairs if pair.label.endswith(("-N", "-W"))]
    return len(to_neutral) > 1


def live_frame_goes_on(procedure: Procedure) -> Iterator[Breach]:
    """Voltage on the frame ends in a hand-over."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule not in _LIVE_FRAME_RULES:
            continue
        above = step.outcomes.get("above")
        if above is not None and not _comes_to_a_stop(section, step.id, above):
            yield _goes_on(keys, step, "above", "live-frame-goes-on")


def _goes_on(keys: Keys, step: Measure, result: str, rule: str) -> Breach:
    below: Keys = ("outcomes", result) if result in step.outcomes else ("outcomes",)
    where = "" if result in step.outcomes else f" under outcomes.{result}"
    return Breach((*keys, *below), f"work goes on after {result}; write `hand_over`{where}", rule)


def _comes_to_a_stop(section: Section, step_id: str, outcome: Outcome) -> bool:
    """Return whether the outcome stops work, or a step that it leads to does."""
    if outcome.hand_over is not None or outcome.danger is not None:
        return True
    if outcome.again_by is None and outcome.next is None:
        return False
    start = outcome.again_by or outcome.next or OUT
    reached = {start, *reached_from(section, start)} - {step_id}
    followed = [o for step in section.steps if step.id in reached for o in outcomes_of(step).values()]
    return any(o.hand_over is not None or o.danger is not None for o in followed)


def no_ground_goes_on(procedure: Procedure) -> Iterator[Breach]:
    """A frame without ground leads to a stop, a cause, or another look at it."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.limits.rule != "earth":
            continue
        for name in ("above", "over_range"):
            outcome = step.outcomes.get(name)
            if outcome is not None and not stops(outcome) and outcome.next is None and outcome.again_by is None:
                message = "the job goes on with a frame that has no ground; write `hand_over`, `cause` or `again_by`"
                yield Breach((*keys, "outcomes", name), message, "no-ground-goes-on")


CHECKS: Final[tuple[Check, ...]] = (
    stops_that_go_on,
    contradictions,
    not_repeated,
    supply_goes_on,
    live_frame_goes_on,
    no_ground_goes_on,
)
