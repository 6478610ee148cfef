"""What follows where something fails: never the same as where it passes, and not from one reading alone."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.ways import is_led_to, leads_to
from voicetech.dialogue.flow import END, holds
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.language.meaning import Asking
from voicetech.limit_rules import RULES
from voicetech.procedure import Ask, Condition, Inspect, Instruct, Measure, Outcome, Phase, Procedure, Section
from voicetech.proof.verdicts import cases, readings
from voicetech.proof.ways import outcome_of
from voicetech.units import READ_OFF

_OUT_OF_LIMITS: Final = ("below", "above", "over_range")
_BEFORE_TOOLS: Final = (Phase.INTAKE, Phase.SETTINGS)
_SOUND: Final = (SupplyKind.SPLIT_PHASE.value, SupplyKind.WYE_208.value)
_EXPLAINED: Final = frozenset(SupplyKind) - {SupplyKind.UNEXPLAINED_SOURCE, SupplyKind.UNCLEAR}
"""What a supply is found to be that has a cause."""
_OF_THE_FRAME: Final = (SupplyKind.NEUTRAL_TO_FRAME.value, SupplyKind.FRAME_NOT_GROUNDED.value)


def passes_anyway(procedure: Procedure) -> Iterator[Breach]:
    """What fails tells something, or leads elsewhere than what passes."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or not isinstance(step, (Measure, Inspect)) or not step.outcomes:
            continue
        passed, found = _pass_anyway(section, step)
        unwritten = [result for result in found if result not in step.outcomes]
        for result in found:
            if result in step.outcomes:
                yield _passed((*keys, "outcomes", result), result, passed)
        if unwritten:
            yield _passed((*keys, "outcomes"), ", ".join(unwritten), passed)


def _passed(keys: Keys, results: str, passed: str) -> Breach:
    message = (
        f"{results} leads where {passed} does and tells nothing; write what follows: suspects, cause, again_by, "
        "hand_over, or at least say"
    )
    return Breach(keys, message, "passes-anyway")


def _pass_anyway(section: Section, step: Measure | Inspect) -> tuple[str, list[str]]:
    """Return the result that is a pass, and those that fail and are taken for one."""
    fails, passed = _fails(section, step)
    led = leads_to(section, step, outcome_of(step, passed))
    if outcome_of(step, passed).cause is not None:
        # Where that proves a fault it is no pass.
        return passed, []
    outcomes = {result: outcome_of(step, result) for result in fails}
    as_passed = replace(outcome_of(step, passed), repeat=False)
    return passed, [
        result
        for result, outcome in outcomes.items()
        if replace(outcome, repeat=False) == as_passed
        or (not _tells(outcome) and led & leads_to(section, step, outcome))
    ]


def _fails(section: Section, step: Measure | Inspect) -> tuple[tuple[str, ...], str]:
    """Return the results of a step that are no pass, and the one that is."""
    if isinstance(step, Inspect):
        return ("fault",), "clean"
    if step.judged_as == EACH:
        words = verdicts_of(section, step)
        return tuple(word for word in _OUT_OF_LIMITS if word in words), "within"
    return tuple(kind for kind in _findings(step) if kind not in _SOUND), SupplyKind.SPLIT_PHASE.value


def verdicts_of(section: Section, step: Measure) -> frozenset[str]:
    """Return the verdicts that the step can come to where its conditions hold."""
    if step.limits.rule not in RULES:
        return frozenset()
    looked_at = tuple(c for c in (*section.when, *step.when) if c.field in step.limits.fields.values())
    limits, labels = step.limits, tuple(pair.label for pair in step.pairs)
    key = (limits.rule, *limits.figures.items(), *limits.fields.items(), step.unit, labels, looked_at)
    if key not in _FOUND:
        _FOUND[key] = _worked_out(step, looked_at)
    return _FOUND[key]


_FOUND: Final[dict[object, frozenset[str]]] = {}
"""What was found of steps before; it saves time and changes no result."""


def _worked_out(step: Measure, looked_at: tuple[Condition, ...]) -> frozenset[str]:
    words: set[str] = set()
    for answers in cases(step):
        if not holds(looked_at, answers):
            continue
        try:
            words |= readings(step, answers).keys()
        except ValueError:
            # Figures that are missing or out of order are told by rules of their own.
            return frozenset()
    return frozenset(words)


def _findings(step: Measure) -> Iterator[str]:
    """Yield what the supply may be found to be by the pairs that are read."""
    labels = {pair.label for pair in step.pairs}
    legs = sum(label.endswith(("-N", "-W", "-frame")) for label in labels - {"N-frame", "W-frame"}) > 1
    frame = any("frame" in label.split("-") for label in labels)
    for kind in SupplyKind:
        if kind.value in step.outcomes:
            yield kind.value
        elif not legs or (kind.value in _OF_THE_FRAME and not frame):
            continue
        elif kind is not SupplyKind.COLLAPSES_UNDER_LOAD or step.judged_as == "supply-loaded":
            yield kind.value


def _tells(outcome: Outcome) -> bool:
    shown = outcome.cause or outcome.suspects or outcome.again_by or outcome.say
    return bool(shown or outcome.hand_over or outcome.danger)


def not_put_back(procedure: Procedure) -> Iterator[Breach]:
    """While putting back, a yes and a no are not followed by the same."""
    for keys, section, step in every_step(procedure):
        if section.phase is not Phase.PUT_BACK or not isinstance(step, Ask) or step.asking is not Asking.YES_NO:
            continue
        yes, no = (outcome_of(step, answer) for answer in ("yes", "no"))
        if leads_to(section, step, yes) == leads_to(section, step, no):
            message = "yes and no lead to the same, so that what is not put back stays so; let one lead back, or stop"
            yield Breach((*keys, "outcomes"), message, "passes-anyway")


def ends_unproved(procedure: Procedure) -> Iterator[Breach]:
    """A test does not end where something failed, unless that proves a cause or hands over."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or section.phase is not Phase.TEST or not isinstance(step, (Measure, Inspect)):
            continue
        for result in _fails(section, step)[0]:
            outcome = step.outcomes.get(result)
            if outcome is not None and outcome.next == END and not (outcome.cause or outcome.hand_over):
                message = "something failed and the test ends with nothing proved; let it lead to what tells more"
                yield Breach((*keys, "outcomes", result, "next"), message, "ends-unproved")


def passes_back(procedure: Procedure) -> Iterator[Breach]:
    """What passes does not lead back to itself; what is not put back leads nowhere but back."""
    for keys, section, step in every_step(procedure):
        names = [each.id for each in section.steps]
        here = names.index(step.id)
        if section.role is not None:
            continue
        if isinstance(step, (Measure, Inspect)) and step.outcomes:
            result = _fails(section, step)[1]
            target = step.outcomes[result].next if result in step.outcomes else None
            if target == step.id:
                message = "passes and leads back to itself, where the same follows again; let it lead on"
                yield Breach((*keys, "outcomes", result, "next"), message, "passes-back")
        elif isinstance(step, Ask) and section.phase is Phase.PUT_BACK and step.asking is Asking.YES_NO:
            target = outcome_of(step, "no").next
            if target in names and names.index(target) > here:
                message = f"is not put back and goes on at {target}; let it lead back, or stop"
                yield Breach((*keys, "outcomes", "no", "next"), message, "passes-back")
            elif target in names and target != step.id and not isinstance(section.steps[names.index(target)], Instruct):
                message = f"is not put back, and {target} asks for something else; let it lead back to itself"
                yield Breach((*keys, "outcomes", "no", "next"), message, "passes-back")
        elif isinstance(step, Ask) and section.phase in _BEFORE_TOOLS:
            for name, outcome in step.outcomes.items():
                if outcome.next in names and names.index(outcome.next) <= here:
                    message = (
                        f"leads back to {outcome.next}, and nothing was done that would change its answer; lead on"
                    )
                    yield Breach((*keys, "outcomes", name, "next"), message, "passes-back")


def supply_alike(procedure: Procedure) -> Iterator[Breach]:
    """What a supply is found to be has the same consequence however the section read it."""
    for section in procedure.sections:
        seen: dict[tuple[str, str], tuple[object, str]] = {}
        for step in section.steps:
            if not isinstance(step, Measure) or step.judged_as == EACH or section.phase is not Phase.TEST:
                continue
            named = {result: outcome for result, outcome in step.outcomes.items() if result != "other"}
            for result, outcome in named.items():
                for key in ("cause", "hand_over", "suspects", "next"):
                    value = getattr(outcome, key)
                    before, where = seen.setdefault((result, key), (value, step.id))
                    if before != value:
                        message = f"is not what {where} says of {result}; the supply is the same, so write the same"
                        keys = ("sections", section.id, "steps", step.id, "outcomes", result, key)
                        yield Breach(keys, message, "supply-alike")


def handed_over_alike(procedure: Procedure) -> Iterator[Breach]:
    """What hands the work over proves a cause where the step does for the same reason, or of a supply for another."""
    for keys, section, step in every_step(procedure):
        if section.phase is not Phase.TEST or not isinstance(step, Measure):
            continue
        given = {result: outcome for result, outcome in step.outcomes.items() if outcome.hand_over is not None}
        proving = {outcome.hand_over: result for result, outcome in given.items() if outcome.cause}
        for result, outcome in given.items():
            explained = bool(proving) and result in _EXPLAINED
            if outcome.cause is None and (outcome.suspects or explained or outcome.hand_over in proving):
                message = "hands the work over and proves nothing; write the cause that this shows"
                yield Breach((*keys, "outcomes", result), message, "handed-over-alike")


def once_only(procedure: Procedure) -> Iterator[Breach]:
    """A reading that fails is taken once more before anything follows from it."""
    for keys, section, step in every_step(procedure):
        # What is read off a watch or a thermometer no probe slips at, and a second time is another time.
        metered = isinstance(step, Measure) and step.quantity not in READ_OFF
        # What something leads to is another way to look at what was read already.
        if section.role is not None or not isinstance(step, Measure) or not metered or is_led_to(section, step.id):
            continue
        told = _pass_anyway(section, step)[1]
        for result in _fails(section, step)[0]:
            outcome = step.outcomes.get(result)
            # What proves something after one reading, or is taken for a pass, is told by a rule of its own.
            if outcome is None or outcome.cause or outcome.hand_over or outcome.again_by or result in told:
                continue
            if not outcome.repeat:
                message = "a slip of a probe reads so too; write `repeat: yes`, so that it is read once more"
                yield Breach((*keys, "outcomes", result), message, "once-only")


def marginal(procedure: Procedure) -> Iterator[Breach]:
    """What is marginal rules nothing out by itself, and where it is written it tells something."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or not isinstance(step, Measure) or step.judged_as != EACH:
            continue
        within, outcome = step.outcomes.get("within"), step.outcomes.get("marginal")
        if within is None or "marginal" not in verdicts_of(section, step):
            continue
        if outcome is None and within.excludes:
            message = (
                f"a marginal reading counts as within and would rule out {' and '.join(within.excludes)}; write "
                "`marginal` too, with what it suspects"
            )
            yield Breach((*keys, "outcomes"), message, "marginal")
        elif (
            outcome is not None
            and not _tells(outcome)
            and not outcome.excludes
            and leads_to(section, step, outcome) == leads_to(section, step, within)
        ):
            message = "tells nothing and leads where within does; write what it suspects"
            yield Breach((*keys, "outcomes", "marginal"), message, "marginal")


ADVICE: Final[tuple[Check, ...]] = (
    passes_anyway,
    not_put_back,
    passes_back,
    ends_unproved,
    supply_alike,
    handed_over_alike,
    once_only,
    marginal,
)
"""What is told by the check alone."""
