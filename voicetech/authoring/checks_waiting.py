"""What conditions wait for: answers that the tested causes give, that were asked for, and that neighbours share."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step, key_of
from voicetech.authoring.findings import Keys
from voicetech.authoring.recorded import Recording, recordings
from voicetech.authoring.ways import exclude_each_other, outcomes_of, spoken_for, stops
from voicetech.dialogue.flow import FROM_DIAGNOSIS
from voicetech.electrical.appliance import Appliance
from voicetech.procedure import Ask, Condition, Hold, Instruct, Measure, Phase, Procedure, Section, Step
from voicetech.proof.ways import ends_of, outcome_of, results

_TRIPPED: Final = "breaker_state"
"""What keeps a test from bringing power, whatever the causes tell."""


def comes_until(procedure: Procedure) -> Iterator[Breach]:
    """A question that comes up until it has one answer is asked again after any other."""
    for keys, section, step in every_step(procedure):
        if not isinstance(step, Ask) or section.phase is not Phase.TEST:
            continue
        own = [condition for condition in step.when if condition.field == step.field and condition.absent]
        waits = [condition for condition in step.when if condition.field == step.field and not condition.absent]
        if waits and not step.needs.power_on:
            message = "waits for an answer that it asks for itself; write `when_not`, or another field"
            yield Breach((*keys, "when", step.field), message, "comes-until")
        answers = results(procedure, step)
        for condition in own:
            others = [answer for answer in answers if answer not in condition.values]
            # A name that is no answer is told by another rule.
            if not set(condition.values) <= set(answers):
                continue
            for answer in answers:
                outcome = outcome_of(step, answer)
                back = outcome.next == step.id
                if answer in others and not back and not stops(outcome) and outcome.cause is None:
                    message = (
                        f"is asked until the answer is {' or '.join(condition.values)}; let {answer} lead back to it"
                    )
                    yield Breach((*keys, "outcomes", *_written(step, answer)), message, "comes-until")
                elif answer not in others and back:
                    message = f"comes up until the answer is {answer}, which leads back to it; correct `when_not`"
                    yield Breach((*keys, "when_not", condition.field), message, "comes-until")


def _written(step: Ask, answer: str) -> tuple[str, ...]:
    return (answer,) if answer in step.outcomes else ()


def waits_for_sound(procedure: Procedure) -> Iterator[Breach]:
    """A test waits for an answer by which one of its causes is told, not for those of a sound appliance alone."""
    told, told_by_some = _told(procedure)
    for keys, section, step in _tests(procedure):
        steps = section.steps if step is None else (step,)
        outcomes = [outcome for each in steps for outcome in outcomes_of(each).values()]
        named = {cause for outcome in outcomes for cause in spoken_for(outcome)}
        proved = {outcome.cause for outcome in outcomes} - {None}
        for condition in section.when if step is None else step.when:
            known = told if condition.absent and step is not None else told_by_some
            answers = {answer for cause in named for answer in known.get((condition.field, cause), ())}
            if not answers or (condition.absent and condition.field == _TRIPPED):
                continue
            without = any((condition.field, cause) not in known for cause in proved or named)
            if any((answer in condition.values) != condition.absent for answer in answers):
                continue
            if condition.absent or not without:
                message = (
                    f"what is tested here is told by {condition.field} {' or '.join(sorted(answers))}, with which this "
                    "never comes; correct the answers"
                )
                yield Breach((*keys, key_of(condition), condition.field), message, "waits-for-sound")


def _told(procedure: Procedure) -> tuple[Mapping[tuple[str, str], set[str]], Mapping[tuple[str, str], set[str]]]:
    """Return the answers by which all faults of a cause are told, by field and cause, and those by which some are."""
    found: dict[tuple[str, str], set[str]] = {}
    silent: set[tuple[str, str]] = set()
    faults = procedure.circuit.faults if procedure.circuit is not None else ()
    fields = {field for fault in faults for field in fault.told}
    for fault in faults:
        for field in fields:
            if field in fault.told:
                found.setdefault((field, fault.cause), set()).update(fault.told[field])
            else:
                silent.add((field, fault.cause))
    return {key: answers for key, answers in found.items() if key not in silent}, found


def _tests(procedure: Procedure) -> Iterator[tuple[Keys, Section, Step | None]]:
    for section in procedure.sections:
        if section.phase is Phase.TEST and section.role is None:
            yield ("sections", section.id), section, None
            for step in section.steps:
                yield ("sections", section.id, "steps", step.id), section, step


def asked_elsewhere(procedure: Procedure) -> Iterator[Breach]:
    """What a step waits for is asked for where the step may come."""
    found = recordings(procedure)
    for keys, section, step in _tests(procedure):
        own = (*section.when, *(step.when if step is not None else ()))
        for condition in section.when if step is None else step.when:
            there = found.get(condition.field, ())
            if condition.absent or not there or condition.field in FROM_DIAGNOSIS:
                continue
            if all(_never_both(own, condition, each) for each in there):
                message = (
                    f"{condition.field} is asked only where this never comes: the conditions of {there[0].step.id} and "
                    "these exclude each other; correct one of the two"
                )
                yield Breach((*keys, "when", condition.field), message, "asked-elsewhere")


def _never_both(own: tuple[Condition, ...], waited_for: Condition, recording: Recording) -> bool:
    """Return whether the answer that is waited for is given nowhere where both may come."""
    step = recording.step
    if isinstance(step, Ask) and step.choices and not {c.key for c in step.choices} & set(waited_for.values):
        return True
    theirs = [c for c in (*recording.section.when, *step.when) if c.field != waited_for.field]
    return exclude_each_other((*(c for c in own if c.field != waited_for.field), *theirs)) is not None


def odd_one_out(procedure: Procedure) -> Iterator[Breach]:
    """In a test a step between two with the same conditions does not wait for another answer to the same questions."""
    for keys, section, step in _tests(procedure):
        if step is None:
            continue
        at = section.steps.index(step)
        if not 0 < at < len(section.steps) - 1:
            continue
        before, after = set(section.steps[at - 1].when), set(section.steps[at + 1].when)
        mine = set(step.when)
        if before != after or before == mine or not before:
            continue
        if {condition.field for condition in before} == {condition.field for condition in mine}:
            odd = next(condition for condition in step.when if condition not in before)
            message = (
                f"the steps around it, {section.steps[at - 1].id} and {section.steps[at + 1].id}, come with other "
                f"answers of {odd.field}; write the same, or move it out from between them"
            )
            yield Breach((*keys, key_of(odd), odd.field), message, "odd-one-out")


def part_not_there(procedure: Procedure) -> Iterator[Breach]:
    """A test waits for the answers with which there is what it measures, asks about or shows, and for all of them."""
    circuit = procedure.circuit
    if circuit is None:
        return
    asked = asked_fields(procedure)
    for keys, section, step in _tests(procedure):
        own = section.when if step is None else step.when
        steps = section.steps if step is None else (step,)
        for condition in own:
            answers = asked.get(condition.field)
            if answers is None:
                continue
            let = {answer for answer in answers if (answer in condition.values) != condition.absent}
            there = _there_with(circuit, steps, condition.field)
            if there is not None and not let & there:
                message = (
                    "with these answers there is nothing of what is measured or asked about here; there is with "
                    f"{' or '.join(sorted(there))}"
                )
                yield Breach((*keys, key_of(condition), condition.field), message, "part-not-there")
                continue
            can_be = _can_be(procedure, section, steps, condition.field, own_only=step is None)
            if step is None and can_be is not None and not can_be & let:
                message = "nothing that is shown here can be with these answers; correct them"
                yield Breach((*keys, key_of(condition), condition.field), message, "part-not-there")
                continue
            beyond = sorted(let - can_be) if step is None and can_be is not None else []
            if beyond:
                message = (
                    f"comes with {' and '.join(beyond)} too, and nothing that it shows can be then; correct the answers"
                )
                yield Breach((*keys, key_of(condition), condition.field), message, "part-not-there")
                continue
            lost = sorted((can_be or set()) & set(answers) - let)
            if lost:
                message = (
                    f"never comes with {' or '.join(lost)}, with which there can be what it shows; let it come then too"
                )
                yield Breach((*keys, key_of(condition), condition.field), message, "part-not-there")


def _there_with(circuit: Appliance, steps: Sequence[Step], field: str) -> set[str] | None:
    """Return the answers with which there is something at what is measured or asked about; None where it always is."""
    found: set[str] = set()
    for step in steps:
        there: set[str] = set()
        if isinstance(step, Measure) and step.setup is not None:
            for end in {end for pair in step.pairs for end in (pair.first, pair.second)}:
                parts = [part.name for part in circuit.parts if end in (part.first, part.second)]
                wanted = [circuit.only.get(name, {}).get(field) for name in parts]
                if wanted and all(each is not None for each in wanted):
                    there |= {answer for each in wanted for answer in each or ()}
        elif isinstance(step, Ask) and step.field in circuit.works:
            there |= set(circuit.only.get(circuit.works[step.field], {}).get(field, ()))
        elif not isinstance(step, Measure):
            continue
        if not there:
            return None
        found |= there
    return found or None


def _can_be(
    procedure: Procedure, section: Section, steps: Sequence[Step], field: str, own_only: bool
) -> set[str] | None:
    """Return the answers with which the causes that are shown here can be; None where that does not hang on them."""
    faults = procedure.circuit.faults if procedure.circuit is not None else ()
    outcomes = [outcome for step in steps for outcome in outcomes_of(step).values()]
    shown = {outcome.cause for outcome in outcomes if outcome.cause in procedure.causes}
    if own_only:
        shown = {cause for cause in shown if cause and procedure.causes[cause].tested_by == section.id}
    found: set[str] = set()
    for fault in faults:
        if fault.cause in shown:
            if field not in fault.only:
                return None
            found |= set(fault.only[field])
    return found or None


def measured_twice(procedure: Procedure) -> Iterator[Breach]:
    """Of two readings at the same points that come with answers to one question, one comes with each answer."""
    asked = asked_fields(procedure)
    for section in procedure.sections:
        if section.phase is not Phase.TEST or section.role is not None:
            continue
        waiting = [step for step in section.steps if isinstance(step, Measure) and step.when]
        for one, other in combinations(waiting, 2):
            apart = set(one.when) ^ set(other.when)
            fields = {condition.field for condition in apart}
            if (
                not _stand_alike(one, other)
                or len(fields) != 1
                or not (set(one.when) & apart and set(other.when) & apart)
            ):
                continue
            field = fields.pop()
            both = [
                answer
                for answer in dict.fromkeys(asked.get(field) or ())
                if all((answer in condition.values) != condition.absent for condition in apart)
            ]
            condition = next(condition for condition in other.when if condition.field == field)
            if both:
                message = f"measures what {one.id} does, and both come with {' and '.join(both)}; let each have its own"
                keys: Keys = ("sections", section.id, "steps", other.id, key_of(condition), field)
                yield Breach(keys, message, "measured-twice")


def _stand_alike(one: Measure, other: Measure) -> bool:
    mine, its = one.setup, other.setup
    stands = (mine.knobs, mine.hot) == (its.knobs, its.hot) if mine and its else mine is its
    return ends_of(one) == ends_of(other) and one.unit is other.unit and stands


def prepared(procedure: Procedure) -> Iterator[Breach]:
    """What an instruction prepares comes with the conditions of the instruction."""
    for keys, section, step in _tests(procedure):
        if step is None or section.steps.index(step) == 0 or isinstance(step, (Instruct, Hold)):
            continue
        before = section.steps[section.steps.index(step) - 1]
        led = [step.id in (o.next, o.again_by) for each in section.steps for o in outcomes_of(each).values()]
        if not isinstance(before, Instruct) or any(led) or any(stops(o) or o.next for o in before.outcomes.values()):
            continue
        if set(before.when) <= set(step.when):
            continue
        message = f"comes also where {before.id}, which is done for it, does not; give it the same conditions"
        yield Breach(keys, message, "unprepared")


ADVICE: Final[tuple[Check, ...]] = (
    comes_until,
    waits_for_sound,
    asked_elsewhere,
    odd_one_out,
    part_not_there,
    measured_twice,
    prepared,
)
"""What is told by the check alone."""
