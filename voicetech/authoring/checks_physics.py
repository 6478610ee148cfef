"""What outcomes say of faults, held to the circuit: a sound part is not condemned, and no fault is cleared or mistaken."""

from collections.abc import Iterator, Mapping
from typing import Final

from voicetech.authoring.checking import Breach, Check
from voicetech.authoring.checks_circuit import CHECKS as OF_CIRCUIT
from voicetech.authoring.findings import Keys
from voicetech.dialogue.measuring import SUPPLY_PAIRS
from voicetech.electrical.appliance import Appliance, Fault, Heater
from voicetech.electrical.network import NetworkError
from voicetech.limit_rules import RULES
from voicetech.procedure import Ask, Hold, Inspect, Measure, Phase, Procedure, Section, Step
from voicetech.proof.runs import AtHand, Came, End, Workbench
from voicetech.proof.ways import results

_TESTED: Final = (Phase.SETTINGS, Phase.TEST)


def outcomes_against_faults(procedure: Procedure) -> Iterator[Breach]:
    """What each outcome says of causes agrees with what the circuit shows of their faults."""
    bench = _workbench(procedure)
    if bench is None:
        return
    told: set[tuple[Keys, str, str]] = set()
    try:
        for breach in _all(bench):
            key = breach.keys, breach.rule, breach.message
            if key not in told:
                told.add(key)
                yield breach
    except NetworkError:
        # A step asks what its set-up has no answer to; other rules tell that.
        return


def _workbench(procedure: Procedure) -> Workbench | None:
    circuit = procedure.circuit
    if circuit is None or any(True for check in OF_CIRCUIT for _ in check(procedure)):
        return None
    steps = [step for section in procedure.sections for step in section.steps]
    known = all(step.limits.rule in RULES for step in steps if isinstance(step, Measure))
    return Workbench(procedure, circuit) if known and not _dangling(procedure) else None


def _dangling(procedure: Procedure) -> bool:
    """Return whether an outcome names what is not there; then its own rule tells so."""
    for section in procedure.sections:
        names = {step.id for step in section.steps} | {"end", "more-tests"}
        for step in section.steps:
            for outcome in () if isinstance(step, Hold) else step.outcomes.values():
                if (outcome.next or "end") not in names or (outcome.again_by or "end") not in names:
                    return True
    return False


def _all(bench: Workbench) -> Iterator[Breach]:
    for section in bench.procedure.sections:
        if section.role is None and section.phase in _TESTED and section.steps:
            yield from _sound(bench, section)
            yield from _of_faults(bench, section)
            yield from _unfounded(bench, section)
            yield from _foreign_sheath(bench.circuit, section)


def _keys(section: Section, step: str, result: str | None = None) -> Keys:
    keys: Keys = ("sections", section.id, "steps", step)
    return keys if result is None else (*keys, "outcomes", result)


def _named(step: Step, result: str) -> str:
    """Return the name under which the outcome of a result is written."""
    if isinstance(step, Hold):
        return result
    stands_for = "within" if result == "marginal" else ""
    return next((name for name in (result, stands_for, "other", "any") if name in step.outcomes), result)


# --- the sound appliance


def _sound(bench: Workbench, section: Section) -> Iterator[Breach]:
    """A sound appliance is told nothing against, not even where one contact was bad at first."""
    for at_hand in bench.appliances():
        for each in bench.run(section, at_hand)[0]:
            step = bench.procedure.step(section.id, each.step)
            outcome = each.outcome
            against = outcome.cause or outcome.hand_over or (outcome.suspects[0] if outcome.suspects else None)
            if isinstance(step, (Measure, Inspect)) and against:
                message = f"a sound appliance comes to this, which speaks for {against}; correct it, or the outcome"
                yield Breach(_keys(section, each.step, _named(step, each.result)), message, "sound-condemned")
    yield from _bad_contacts(bench, section)


def _bad_contacts(bench: Workbench, section: Section) -> Iterator[Breach]:
    """Where another method repeats a reading, a bad contact at the first condemns nothing."""
    for step in section.steps:
        if not isinstance(step, Measure) or not any(outcome.again_by for outcome in step.outcomes.values()):
            continue
        for at_hand in bench.appliances():
            for end in bench.run(section, at_hand, slip=step.id)[1]:
                if end.outcome.cause is None or not _measured_sound(bench, section, step, end, at_hand):
                    continue
                last = bench.procedure.step(section.id, end.step)
                message = (
                    f"a sound part is condemned as {end.outcome.cause} where {step.id} had a bad contact and the "
                    "other method reads right; let what reads right lead on"
                )
                yield Breach(_keys(section, end.step, _named(last, end.result)), message, "sound-condemned")


def _measured_sound(bench: Workbench, section: Section, step: Measure, end: End, at_hand: AtHand) -> bool:
    """Return whether the last word on the way is a reading by the same rule as the one with the bad contact."""
    last = bench.procedure.step(section.id, end.step)
    if not isinstance(last, Measure):
        return False
    return {point for pair in last.pairs for point in (pair.first, pair.second)} == {
        point for pair in step.pairs for point in (pair.first, pair.second)
    } and not any(outcome.cause == end.outcome.cause for name, outcome in last.outcomes.items() if name == "over_range" and end.result == "within")



# --- each fault


def _of_faults(bench: Workbench, section: Section) -> Iterator[Breach]:
    """No reading and no look rules a fault out that is there; its own test finds it, and takes it for no other."""
    for fault in bench.circuit.faults:
        mine = fault.cause in bench.procedure.causes and bench.procedure.causes[fault.cause].tested_by == section.id
        found = False
        runs = 0
        for at_hand in bench.appliances(fault):
            came, ends = bench.run(section, at_hand)
            runs += bool(ends)
            yield from _cleared(bench, section, fault, came)
            if not mine:
                continue
            found = found or any(fault.cause in end.told or end.outcome.hand_over for end in ends)
            if ends and not any(fault.cause in end.told or end.outcome.hand_over for end in ends):
                yield _not_found(section, fault, at_hand, ends[0])
            yield from _mistaken(bench, section, fault, ends)


def _cleared(bench: Workbench, section: Section, fault: Fault, came: list[Came]) -> Iterator[Breach]:
    for each in came:
        step = bench.procedure.step(section.id, each.step)
        if isinstance(step, (Measure, Inspect)) and fault.cause in each.outcome.excludes:
            message = (
                f"rules out {fault.cause}, and comes about with the fault {fault.id}, which is one; take it out of "
                "excludes, or correct limits, points or set-up"
            )
            yield Breach((*_keys(section, each.step, _named(step, each.result)), "excludes"), message, "fault-cleared")


def _not_found(section: Section, fault: Fault, at_hand: AtHand, end: End) -> Breach:
    with_it = " and ".join(f"{field} {value}" for field, value in at_hand.parts)
    message = (
        f"the test {section.id} never comes to this{f' with {with_it}' if with_it else ''}: with the fault {fault.id} "
        f"it ends at {end.step} ({end.result}) and has told nothing of it; let an outcome on that way show or suspect it"
    )
    return Breach(("causes", fault.cause), message, "fault-not-found")


def _mistaken(bench: Workbench, section: Section, fault: Fault, ends: list[End]) -> Iterator[Breach]:
    for end in ends:
        cause = end.outcome.cause
        if cause is not None and cause != fault.cause and fault.cause not in end.told:
            step = bench.procedure.step(section.id, end.step)
            message = f"the fault {fault.id}, which is {fault.cause}, is taken for {cause} here; tell the two apart"
            yield Breach((*_keys(section, end.step, _named(step, end.result)), "cause"), message, "fault-mistaken")


# --- what an outcome has to do with the causes it names


def _unfounded(bench: Workbench, section: Section) -> Iterator[Breach]:
    """What an outcome shows, suspects or rules out has to do with what was measured, seen or told."""
    passed = _passed_with(bench, section)
    for step in section.steps:
        for name, outcome in () if isinstance(step, Hold) else step.outcomes.items():
            keys = _keys(section, step.id, name)
            named = [("cause", outcome.cause)] if outcome.cause else []
            named += [("suspects", cause) for cause in outcome.suspects]
            named += [("excludes", cause) for cause in outcome.excludes]
            for key, cause in named:
                if cause in bench.procedure.causes and not _founded(bench, section, step, name, key, cause, passed):
                    message = (
                        f"nothing here tells of {cause}: no fault of it changes what is measured, seen or told; name "
                        "another, or let a fault of the circuit show it (seen, told)"
                    )
                    yield Breach((*keys, key), message, "unfounded")


def _passed_with(bench: Workbench, section: Section) -> Mapping[tuple[str, str], set[str]]:
    """Return the causes with whose faults each result of the section's steps comes about."""
    passed: dict[tuple[str, str], set[str]] = {}
    for fault in bench.circuit.faults:
        for at_hand in bench.appliances(fault):
            for each in bench.run(section, at_hand)[0]:
                step = bench.procedure.step(section.id, each.step)
                passed.setdefault((each.step, _named(step, each.result)), set()).add(fault.cause)
    return passed


def _founded(
    bench: Workbench,
    section: Section,
    step: Step,
    result: str,
    key: str,
    cause: str,
    passed: Mapping[tuple[str, str], set[str]],
) -> bool:
    faults = [fault for fault in bench.circuit.faults if fault.cause == cause]
    if not faults or not _can_come(bench, step, result):
        return True
    own = bench.procedure.causes[cause].tested_by == section.id
    match step:
        case Ask():
            return _founded_in_answer(bench, step, result, key, faults, own)
        case Inspect() | Measure():
            if not _tells(bench, section, step):
                return own
            if _moves(bench, section, step, faults):
                return True
            if not any(result == _named(step, each) for each in _all_results(bench, section, step)):
                # The circuit knows nothing that reads so; then the section's own causes are believed, and its kin.
                return own or _shares_a_point(bench, step, cause)
            if key == "excludes":
                return False
    if cause in passed.get((step.id, result), ()) or _comes_with(bench, section, step, result, faults):
        return True
    return key == "suspects" and _shares_a_point(bench, step, cause)


def _founded_in_answer(
    bench: Workbench, step: Ask, result: str, key: str, faults: list[Fault], own: bool
) -> bool:
    """Return whether faults tell this answer, or were told of by what is asked only because of them."""
    if any(
        not condition.absent and set(condition.values) & set(fault.told.get(condition.field, ()))
        for condition in step.when
        for fault in faults
    ):
        return True
    told = [answers for fault in faults if (answers := fault.told.get(step.field)) is not None]
    if not told:
        return own or step.field not in bench.telling
    if key == "excludes":
        return not all(result in answers for answers in told)
    return any(result in answers for answers in told)


def _can_come(bench: Workbench, step: Step, result: str) -> bool:
    """Return whether the step can have this result at all."""
    return any(_named(step, each) == result for each in results(bench.procedure, step))


def _all_results(bench: Workbench, section: Section, step: Step) -> set[str]:
    """Return everything that the step comes to, on the sound appliance and with each fault."""
    found: set[str] = set()
    for fault in (None, *bench.circuit.faults):
        for at_hand in bench.appliances(fault):
            if bench.comes_with(section, step, at_hand):
                found |= {each for again in (False, True) if (each := bench.result(section, step, at_hand, again))}
    return found


def _shares_a_point(bench: Workbench, step: Step, cause: str) -> bool:
    """Return whether a section that shows the cause measures at one of the step's points too."""
    mine = _points(step)
    for section in bench.procedure.sections:
        shows = any(
            outcome.cause == cause for each in section.steps if not isinstance(each, Hold) for outcome in each.outcomes.values()
        )
        if shows and any(mine & _points(each) for each in section.steps if each is not step):
            return True
    return False


def _points(step: Step) -> set[str]:
    """Return the points a step measures at; of a supply also which pairs they are, wherever it is measured."""
    if not isinstance(step, Measure):
        return set()
    ends = {end for pair in step.pairs for end in (pair.first, pair.second)}
    return ends if step.judged_as == "each" else ends | {SUPPLY_PAIRS.get(pair.label, "") for pair in step.pairs}


def _comes_with(bench: Workbench, section: Section, step: Step, result: str, faults: list[Fault]) -> bool:
    """Return whether the result comes about with one of the faults, from wherever in the section one begins."""
    for fault in faults:
        for at_hand in bench.appliances(fault):
            for each in bench.run(section, at_hand, anywhere=True)[0]:
                if each.step == step.id and _named(step, each.result) == result:
                    return True
    return False


def _tells(bench: Workbench, section: Section, step: Step) -> bool:
    """Return whether the circuit has anything that changes what the step shows."""
    return len(_all_results(bench, section, step)) > 1


def _moves(bench: Workbench, section: Section, step: Step, faults: list[Fault]) -> bool:
    """Return whether some of the faults make the step come to something else than on a sound appliance."""
    for fault in faults:
        for at_hand in bench.appliances(fault):
            if not bench.comes_with(section, step, at_hand):
                continue
            sound = AtHand((), at_hand.parts, at_hand.left_on)
            for again in (False, True):
                if bench.result(section, step, at_hand, again) != bench.result(section, step, sound, again):
                    return True
    return False


# --- points


def _foreign_sheath(circuit: Appliance, section: Section) -> Iterator[Breach]:
    """An element is measured to its own sheath."""
    for step in section.steps:
        for number, pair in enumerate(step.pairs if isinstance(step, Measure) else ()):
            for heater in circuit.heaters:
                ends = {heater.first, heater.second}
                for one, other in ((pair.first, pair.second), (pair.second, pair.first)):
                    foreign = other in _sheaths(circuit) and other != heater.sheath and other != "frame"
                    if one in ends and foreign:
                        message = f"{other} is not the sheath of {heater.name}; measure to {heater.sheath}"
                        yield Breach((*_keys(section, step.id), "between", number), message, "foreign-sheath")


def _sheaths(circuit: Appliance) -> set[str]:
    return {part.sheath for part in circuit.parts if isinstance(part, Heater)}


ADVICE: Final[tuple[Check, ...]] = (outcomes_against_faults,)
"""What is told by the check alone."""
