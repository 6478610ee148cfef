"""What is seen, measured and weighed speaks of the causes it shows."""

from collections.abc import Iterator, Mapping
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step
from voicetech.authoring.checks_failing import verdicts_of
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.ways import (
    can_be_walked,
    exclude_each_other,
    is_led_to,
    leads_to,
    outcomes_of,
    reached_from,
    spoken_for,
)
from voicetech.procedure import Ask, Inspect, Measure, Phase, Procedure, Section, Step
from voicetech.proof.ways import Spot, Ways, holds, outcome_of, results

COMPLAINT: Final = "complaint"


def told_not_named(procedure: Procedure) -> Iterator[Breach]:
    """A look that names suspects names each cause whose faults are seen there."""
    circuit = procedure.circuit
    for keys, _section, step in every_step(procedure) if circuit is not None else ():
        outcome = step.outcomes.get("fault") if isinstance(step, Inspect) else None
        if outcome is None or circuit is None or not outcome.suspects or outcome.cause is not None:
            continue
        seen = dict.fromkeys(f.cause for f in circuit.faults if isinstance(step, Inspect) and step.part in f.seen)
        lost = [cause for cause in seen if cause not in outcome.suspects]
        if lost:
            message = f"faults of {' and '.join(lost)} are seen here too by the circuit; write them under suspects"
            yield Breach((*keys, "outcomes", "fault"), message, "told-not-named")


def answer_not_named(procedure: Procedure) -> Iterator[Breach]:
    """Where answers of a question show causes, an answer by which faults are told does, or leads elsewhere."""
    circuit = procedure.circuit
    for keys, section, step in every_step(procedure) if circuit is not None else ():
        # What is told at the call makes something likely by the author's judgement.
        if not isinstance(step, Ask) or circuit is None or section.phase not in (Phase.SETTINGS, Phase.TEST):
            continue
        told: dict[str, dict[str, None]] = {}
        for fault in circuit.faults:
            for answer in fault.told.get(step.field, ()):
                told.setdefault(answer, {})[fault.cause] = None
        outcomes = {answer: outcome_of(step, answer) for answer in results(procedure, step)}
        if not any(
            spoken_for(outcome) & {c for causes in told.values() for c in causes} for outcome in outcomes.values()
        ):
            continue
        plain = [leads_to(section, step, outcome) for answer, outcome in outcomes.items() if answer not in told]
        for answer, outcome in outcomes.items():
            if answer in told and not spoken_for(outcome) and leads_to(section, step, outcome) in plain:
                message = (
                    f"the circuit has {' and '.join(told[answer])} told by {answer}; write it under cause or suspects"
                )
                yield Breach(
                    (*keys, "outcomes", *((answer,) if answer in step.outcomes else ())), message, "told-not-named"
                )


def look_not_followed(procedure: Procedure) -> Iterator[Breach]:
    """What a look suspects is tested, where the test has a step for it."""
    for keys, section, step in every_step(procedure):
        outcome = step.outcomes.get("fault") if isinstance(step, Inspect) else None
        if outcome is None or section.phase is not Phase.TEST or outcome.cause or outcome.hand_over or outcome.danger:
            continue
        names = {each.id for each in section.steps}
        led = leads_to(section, step, outcome) & names
        reached = led.union(*(reached_from(section, each) for each in led))
        for cause in outcome.suspects:
            tested = [each.id for each in section.steps if each is not step and _tells_of(each, cause)]
            own = cause in procedure.causes and procedure.causes[cause].tested_by == section.id
            if own and tested and not reached & set(tested):
                message = f"suspects {cause}, and leads past {tested[0]}, which would tell; let it lead there"
                yield Breach((*keys, "outcomes", "fault"), message, "look-not-followed")


def _tells_of(step: Step, cause: str) -> bool:
    return any(cause in (outcome.cause, *outcome.excludes) for outcome in outcomes_of(step).values())


def weighed_not_shown(procedure: Procedure) -> Iterator[Breach]:
    """A cause that a complaint weighs can come out in its test with that complaint."""
    shown = {section.id: _shown_by(procedure, section) for section in procedure.sections if section.role is None}
    asked = asked_fields(procedure)
    # Sections that never come up at all are told by other rules.
    never = {section.id for section in procedure.sections if _never_comes(section, asked)}
    for complaint in procedure.complaints.values():
        for name in complaint.weights:
            cause = procedure.causes.get(name)
            if cause is None or cause.tested_by not in shown or cause.tested_by in never:
                continue
            if name not in shown[cause.tested_by].get(complaint.id, frozenset()):
                message = (
                    f"with this complaint the test {cause.tested_by} never comes to it; correct its conditions, or "
                    "take the weight out"
                )
                yield Breach(("complaints", complaint.id, "weights", name), message, "weighed-not-shown")


def _never_comes(section: Section, asked: Mapping[str, tuple[str, ...] | None]) -> bool:
    waits = [(asked.get(condition.field), condition.values) for condition in section.when if not condition.absent]
    in_vain = any(answers is not None and not {*answers} & {*values} for answers, values in waits)
    return in_vain or exclude_each_other(section.when) is not None


def _shown_by(procedure: Procedure, section: Section) -> Mapping[str, frozenset[str]]:
    """Return the causes that a section can show or suspect, by the complaint."""
    if not can_be_walked(procedure, section):
        followed = [outcome for step in section.steps for outcome in outcomes_of(step).values()]
        every = frozenset(cause for outcome in followed for cause in spoken_for(outcome))
        return dict.fromkeys(procedure.complaints, every)
    ways = Ways(procedure, section)
    return {complaint: _come_to(ways, section, complaint) for complaint in procedure.complaints}


def _come_to(ways: Ways, section: Section, complaint: str) -> frozenset[str]:
    if not all(holds(c, {COMPLAINT: complaint}) for c in section.when if c.field == COMPLAINT):
        return frozenset()
    known = ways.answers.get(COMPLAINT, ())
    as_known = complaint if complaint in known else ""
    owed = [spot for spot in ways.starts if spot is not None and dict(spot.known).get(COMPLAINT, as_known) == as_known]
    seen: set[Spot] = set(owed)
    found: set[str] = set()
    while owed:
        for edge in ways.edges[owed.pop()]:
            found |= spoken_for(edge.outcome)
            if edge.to is not None and edge.to not in seen:
                seen.add(edge.to)
                owed.append(edge.to)
    return frozenset(found)


def not_ruled_out(procedure: Procedure) -> Iterator[Breach]:
    """A reading that condemns a part where it fails clears it, or suspects it, where it passes."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or section.phase is not Phase.TEST or not isinstance(step, Measure):
            continue
        within = step.outcomes.get("within")
        if step.judged_as != EACH or within is None or within.cause is not None or is_led_to(section, step.id):
            continue
        if "within" not in verdicts_of(section, step):
            continue
        named = {o.cause for name, o in step.outcomes.items() if o.cause and name != "within"}
        later = _named_after(section, step.id)
        for cause in sorted(named & procedure.causes.keys() - {*within.excludes, *within.suspects} - later):
            message = (
                f"condemns {cause} where it fails and says nothing of it where it passes; write it under excludes, or "
                "under suspects where more has to tell"
            )
            yield Breach((*keys, "outcomes", "within"), message, "not-ruled-out")


def _named_after(section: Section, step_id: str) -> frozenset[str]:
    """Return the causes that steps which may follow speak of."""
    after = reached_from(section, step_id)
    followed = [o for step in section.steps if step.id in after for o in outcomes_of(step).values()]
    return frozenset(cause for outcome in followed for cause in (*spoken_for(outcome), *outcome.excludes))


ADVICE: Final[tuple[Check, ...]] = (
    told_not_named,
    answer_not_named,
    look_not_followed,
    weighed_not_shown,
    not_ruled_out,
)
"""What is told by the check alone."""
