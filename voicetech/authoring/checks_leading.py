"""Where results lead that belong together: another method, marginal beside within, too much beside open."""

from collections.abc import Iterator, Mapping
from typing import Final

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_failing import verdicts_of
from voicetech.authoring.checks_listed import fields_looked_at
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.ways import ENGINE_LED, OUT, leads_to, outcomes_of, reached_from, spoken_for, stops
from voicetech.procedure import (
    Ask,
    Hold,
    Inspect,
    Instruct,
    Measure,
    Outcome,
    Phase,
    Procedure,
    Section,
    SectionRole,
    Step,
)
from voicetech.proof.ways import ends_of, outcome_of, results
from voicetech.units import Unit

_OUT_OF_LIMITS: Final = ("below", "above", "over_range")
_TOO_MUCH: Final = ("above", "over_range")


def other_way(procedure: Procedure) -> Iterator[Breach]:
    """What again_by leads to looks or measures again, is the same for all that fails, and is come to no other way."""
    for keys, section, step in every_step(procedure):
        named = {name: o.again_by for name, o in outcomes_of(step).items() if o.again_by is not None}
        steps = {other.id: other for other in section.steps}
        for name, target in named.items():
            if isinstance(steps.get(target), (Instruct, Hold)):
                message = (
                    f"{target} measures and looks at nothing, so it is no other way to look; name a step that does"
                )
                yield Breach((*keys, "outcomes", name, "again_by"), message, "other-way")
            lost = _not_looked_at_again(section, step, steps.get(target))
            if lost:
                message = f"{target} measures fewer pairs than this, and nothing behind it the others; measure as many"
                yield Breach((*keys, "outcomes", name, "again_by"), message, "other-way")
        failing = [name for name in _OUT_OF_LIMITS if named.get(name) in steps]
        for name in failing[1:]:
            one, other = steps[named[failing[0]]], steps[named[name]]
            apart = [each for each in (one, other) if not _is_judged_by(step, each)]
            if one is not other and not _reads_the_same(step, *apart):
                message = (
                    f"{failing[0]} is looked at again by {one.id} and this by {other.id}, which measures something "
                    "else; take the same way, or one that measures the same points"
                )
                yield Breach((*keys, "outcomes", name, "again_by"), message, "other-way")
    for section in procedure.sections:
        yield from _come_to_otherwise(section)


def _reads_the_same(*steps: Step) -> bool:
    pairs = {ends_of(step) for step in steps if isinstance(step, Measure)}
    return len(pairs) == 1 and all(isinstance(step, Measure) for step in steps)


def _is_judged_by(step: Step, other: Step) -> bool:
    """Return whether the other step asks for what the reading is judged by."""
    return isinstance(step, Measure) and isinstance(other, Ask) and other.field in step.limits.fields.values()


def _not_looked_at_again(section: Section, step: Step, other: Step | None) -> bool:
    """Return whether the other way has fewer pairs, and what it leads to does not have those that are left."""
    if not isinstance(step, Measure) or not isinstance(other, Measure) or len(other.pairs) >= len(step.pairs):
        return False
    reached = {other.id, *reached_from(section, other.id)}
    measured = [each for each in section.steps if each.id in reached and isinstance(each, Measure) and each is not step]
    return not ends_of(step) <= {pair for each in measured for pair in ends_of(each)}


def _come_to_otherwise(section: Section) -> Iterator[Breach]:
    """Yield where a step that is another way to look is come to without anything to look at again."""
    by = {step.id: {o.again_by for o in outcomes_of(step).values()} - {None} for step in section.steps}
    others = set().union(*by.values())
    for at, step in enumerate(section.steps):
        if step.id in others or step.role in ENGINE_LED:
            # From one other way of looking the next may be come to.
            continue
        below = section.steps[at + 1].id if at + 1 < len(section.steps) else OUT
        for name, outcome in outcomes_of(step).items():
            target = below if _goes_below(outcome) else outcome.next
            if target in others - by[step.id]:
                message = f"goes on at {target}, which is another way to look where something else failed; lead past it"
                keys: Keys = ("sections", section.id, "steps", step.id, "outcomes", name)
                yield Breach(keys if target is not outcome.next else (*keys, "next"), message, "other-way")


def says_nothing_of_where(procedure: Procedure) -> Iterator[Breach]:
    """Another way to look says of each of its results where it leads: what stands below is for something else."""
    for section in procedure.sections:
        others = {outcome.again_by for step in section.steps for outcome in outcomes_of(step).values()}
        for step in section.steps[:-1]:
            for name, outcome in outcomes_of(step).items() if step.id in others else ():
                if _goes_below(outcome):
                    message = "is another way to look, and what stands below belongs to another way; write `next`"
                    yield Breach(("sections", section.id, "steps", step.id, "outcomes", name), message, "other-way")


def fallen_aside(procedure: Procedure) -> Iterator[Breach]:
    """A reading, a look or a question that steps further above lead to is not fallen into as well."""
    for section in procedure.sections:
        names = [step.id for step in section.steps]
        other_ways = {outcome.again_by for step in section.steps for outcome in outcomes_of(step).values()}
        for at, step in enumerate(section.steps):
            before = section.steps[at - 1]
            if at == 0 or step.id in other_ways or isinstance(step, (Instruct, Hold)):
                continue
            if step.role is not None or before.role is not None:
                continue
            led = [
                (names.index(other.id), isinstance(other, (Inspect, Measure)))
                for other in section.steps
                for outcome in outcomes_of(other).values()
                if step.id in (outcome.next, outcome.again_by)
            ]
            # What a question leads past is passed by on one answer, and comes with the others.
            if not led or any(number >= at - 1 or not shown for number, shown in led):
                continue
            for name, outcome in outcomes_of(before).items():
                if _goes_below(outcome):
                    message = f"goes on at {step.id}, to which {names[led[0][0]]} leads for a reason; write `next`"
                    keys: Keys = ("sections", section.id, "steps", before.id, "outcomes", name)
                    yield Breach(keys, message, "fallen-aside")


def _goes_below(outcome: Outcome) -> bool:
    return outcome.next is None and outcome.again_by is None and not stops(outcome)


def leads_apart(procedure: Procedure) -> Iterator[Breach]:
    """A marginal reading goes the way of within or of what fails; too much and open go the same way."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Measure) or step.judged_as != EACH or step.role in ENGINE_LED:
            continue
        led = {
            name: leads_to(section, step, outcome)
            for name, outcome in step.outcomes.items()
            if not stops(outcome) and outcome.cause is None
        }
        within, marginal = led.get("within"), led.get("marginal")
        if within is not None and marginal is not None and marginal != within:
            known = verdicts_of(section, step)
            fails = [led[name] for name in _OUT_OF_LIMITS if name in led and name in known]
            if marginal not in fails and not _measured_again(section, step, marginal):
                message = "leads elsewhere than within and than what fails; let it lead where one of these does"
                yield Breach((*keys, "outcomes", "marginal"), message, "leads-apart")
        above, opened = (led.get(name) for name in _TOO_MUCH)
        looked_at_again = all(name in led and step.outcomes[name].again_by for name in _TOO_MUCH)
        # Where open is what is to be read it leads on as what passes.
        apart = above is not None and opened is not None and opened not in (above, within)
        if apart and not looked_at_again and step.unit is Unit.OHM:
            message = "open is too many ohms, and above leads to another step; let both lead to one"
            yield Breach((*keys, "outcomes", "over_range"), message, "leads-apart")
        for name in _fallen_apart(section, step, led):
            message = "goes on below, and what else is out of limits leads elsewhere; write `next`"
            yield Breach((*keys, "outcomes", name), message, "leads-apart")


def _fallen_apart(section: Section, step: Measure, led: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Yield results out of limits for which `next` is not written and is for the others, which all lead to one step."""
    fails = [name for name in _OUT_OF_LIMITS if name in led]
    falls = [name for name in fails if _goes_below(step.outcomes[name])]
    others = [name for name in fails if name not in falls and step.outcomes[name].again_by is None]
    to = {step.outcomes[name].next for name in others}
    if len(falls) != 1 or len(to) != 1 or falls[0] not in verdicts_of(section, step):
        return
    name, passed, target = falls[0], led.get("within"), frozenset(map(str, to))
    # Too little may be harmless where it is not told from two others, and open may be what is to be read.
    alone = name == "below" and len(others) < len(_TOO_MUCH)
    if led[name] != target != passed and not alone and (name != "over_range" or led[name] != passed):
        yield name


def _measured_again(section: Section, step: Measure, led: frozenset[str]) -> bool:
    """Return whether a reading leads to another one at the same points."""
    return any(each.id in led and each is not step and _reads_the_same(step, each) for each in section.steps)


def ruled_out_goes_on(procedure: Procedure) -> Iterator[Breach]:
    """What an answer or a reading rules out is not what the rest of the test looks for alone."""
    for keys, section, step in every_step(procedure):
        if section.role is not None or section.phase is not Phase.TEST:
            continue
        steps = {each.id: each for each in section.steps}
        for name, outcome in outcomes_of(step).items():
            if not outcome.excludes or stops(outcome) or outcome.again_by is not None:
                continue
            led = leads_to(section, step, outcome)
            if any(isinstance(steps.get(each), Instruct) for each in led) or not led & steps.keys():
                continue
            reached = led.union(*(reached_from(section, each) for each in led & steps.keys()))
            followed = [o for each in reached & steps.keys() for o in outcomes_of(steps[each]).values()]
            told = {cause for each in followed for cause in (*spoken_for(each), *each.excludes)}
            if told and told <= set(outcome.excludes) and not any(o.hand_over or o.danger for o in followed):
                message = (
                    "rules out what is still looked for from here on; rule it out at the last of these steps, or write "
                    "`next: end`"
                )
                yield Breach((*keys, "outcomes", name), message, "ruled-out-goes-on")


def worn_leads(procedure: Procedure) -> Iterator[Breach]:
    """The leads are left only once they were measured and passed."""
    for section in procedure.sections:
        if section.role is not SectionRole.NULL_LEADS:
            continue
        for step in section.steps:
            keys = ("sections", section.id, "steps", step.id)
            for name in results(procedure, step) if not isinstance(step, Hold) else ():
                passed = isinstance(step, Measure) and name not in _TOO_MUCH
                if not passed and OUT in leads_to(section, step, outcome_of(step, name)):
                    message = "goes on with leads that were not measured, or are worn; lead back to where they are"
                    yield Breach((*keys, "outcomes", name), message, "worn-leads")


def asked_for_nothing(procedure: Procedure) -> Iterator[Breach]:
    """A question of a test changes something: where it leads, what is suspected, or what looks at its answer."""
    looked_at = fields_looked_at(procedure)
    for keys, section, step in every_step(procedure):
        test = section.phase is Phase.TEST and section.role is None
        if not test or not isinstance(step, Ask) or step.field in looked_at:
            continue
        answers = results(procedure, step)
        if len(answers) < 2:
            continue
        outcomes = [outcome_of(step, answer) for answer in answers]
        # What proves a fault either way is asked for the record.
        proved = any(outcome.cause for outcome in outcomes)
        if not proved and len({_follows(section, step, outcome) for outcome in outcomes}) == 1:
            message = f"whatever is answered the same follows, and nothing looks at {step.field}; write what differs"
            yield Breach((*keys, "outcomes"), message, "asked-for-nothing")


def _follows(section: Section, step: Step, outcome: Outcome) -> object:
    told = (outcome.cause, outcome.suspects, outcome.excludes, outcome.hand_over, outcome.danger)
    return told, leads_to(section, step, outcome)


ADVICE: Final[tuple[Check, ...]] = (
    other_way,
    says_nothing_of_where,
    fallen_aside,
    leads_apart,
    ruled_out_goes_on,
    worn_leads,
    asked_for_nothing,
)
"""What is told by the check alone."""
