"""What outcomes say of causes, held to the circuit: no sound part condemned, no fault cleared, missed or mistaken."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from voicetech.authoring.checking import Breach, Check
from voicetech.authoring.checks_circuit import in_order
from voicetech.authoring.checks_sound import untold_faults
from voicetech.authoring.findings import Keys
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.ways import can_be_walked, outcomes_of, spoken_for
from voicetech.dialogue.flow import FROM_DIAGNOSIS
from voicetech.dialogue.measuring import SUPPLY_PAIRS
from voicetech.electrical.appliance import Appliance, Bridged, Fault, Leaks
from voicetech.electrical.network import NetworkError
from voicetech.procedure import Ask, Inspect, Instruct, Measure, Phase, Procedure, Section, Step
from voicetech.proof.runs import AtHand, Came, End, Workbench
from voicetech.proof.ways import ends_of, results, written_as
from voicetech.units import Unit

_TESTED: Final = (Phase.SETTINGS, Phase.TEST)
_HIGH: Final = ("above", "over_range")
"""Too much and open: one bad contact reads the one as well as the other."""
_PASSED: Final = ("within", "clean", "split-phase", "208y")
_ALIKE: Final[Mapping[str, tuple[str, ...]]] = {
    "below": ("below", "marginal"),
    "marginal": ("marginal", "below", "above", "over_range"),
    "above": ("above", "over_range", "marginal"),
    "over_range": ("over_range", "above", "marginal"),
}
"""Results that a fault may come to as well, at a little more or less of what is wrong."""
_TOWARDS: Final[Mapping[str, int]] = {"below": -1, "above": 1, "over_range": 1}
_MOVED_PART: Final = 1e-6
_FRAME: Final = "frame"


def outcomes_against_faults(procedure: Procedure, only: str | None = None) -> Iterator[Breach]:
    """What each outcome, of the section that is named or of all, says of causes agrees with the circuit's faults."""
    circuit = procedure.circuit
    if circuit is None or not _can_be_run(procedure):
        return
    try:
        bench = Workbench(procedure, circuit)
        for section in procedure.sections:
            wanted = only is None or section.id == only
            if wanted and section.role is None and section.phase in _TESTED and section.steps:
                yield from dict.fromkeys(_of_section(_Tested(bench, section)))
    except (NetworkError, ValueError):
        # A step asks what its set-up has no answer to, or for limits of what no plate says; other rules tell that.
        return


def _can_be_run(procedure: Procedure) -> bool:
    """Return whether the circuit holds together and outcomes and limits name what is there; else other rules tell."""
    return in_order(procedure) is not None and all(can_be_walked(procedure, section) for section in procedure.sections)


@dataclass(frozen=True, slots=True)
class _Tested:
    """A section on the bench, with what was found of its steps so far."""

    bench: Workbench
    section: Section
    shown: dict[str, frozenset[str]] = field(default_factory=dict)
    """Everything that a step comes to, on the sound appliance and with each fault, by the step."""

    def step(self, came: Came) -> Step:
        """Return the step of a result."""
        return self.bench.procedure.step(self.section.id, came.step)

    def keys(self, step: str, result: str | None = None) -> Keys:
        """Return where a step, or the outcome for one of its results, is written."""
        keys: Keys = ("sections", self.section.id, "steps", step)
        if result is None:
            return keys
        return (*keys, "outcomes", written_as(self.bench.procedure.step(self.section.id, step), result) or result)

    def appliances(self, faults: Iterable[Fault | None]) -> Iterator[AtHand]:
        """Yield the appliance with each of these faults, in each way it can be there."""
        for fault in faults:
            yield from self.bench.appliances(self.section, fault)


def _of_section(tested: _Tested) -> Iterator[Breach]:
    yield from _sound(tested)
    yield from _bad_contacts(tested)
    against = list(_of_faults(tested))
    yield from against
    told = {breach.keys for breach in against}
    yield from (breach for breach in _unfounded(tested) if breach.keys not in told)
    yield from _foreign_sheath(tested)


# --- the sound appliance


def _sound(tested: _Tested) -> Iterator[Breach]:
    """Nothing that is measured or looked at, and nothing that follows from it, speaks against a sound appliance."""
    for at_hand in tested.appliances([None]):
        for came in tested.bench.run(tested.section, at_hand).came:
            outcome = came.outcome
            against = outcome.cause or outcome.hand_over or next(iter(outcome.suspects), None)
            step = tested.step(came)
            # What is only told, on a way that no answer leads to, was led to by a reading or a look.
            told = isinstance(step, Instruct) and not any(not each.absent for each in step.when)
            if against and (told or isinstance(step, (Measure, Inspect))):
                message = f"a sound appliance comes to this, which speaks for {against}; correct it, or the outcome"
                yield Breach(tested.keys(came.step, came.result), message, "sound-condemned")


def _bad_contacts(tested: _Tested) -> Iterator[Breach]:
    """Where another method repeats a reading and reads right, the bad contact before it condemns nothing."""
    for step in tested.section.steps:
        if not isinstance(step, Measure):
            continue
        methods = {outcome.again_by for outcome in step.outcomes.values()} - {None}
        for at_hand in tested.appliances([None]) if methods else ():
            for end in tested.bench.run(tested.section, at_hand, slip=step.id).ends:
                last = end.last
                cause = last.outcome.cause
                if cause is not None and last.step in methods and _stands_alike(step, tested.step(last)):
                    message = (
                        f"a sound part is condemned as {cause} where {step.id} had a bad contact and the other method "
                        "reads right; let what reads right lead on"
                    )
                    yield Breach(tested.keys(last.step, last.result), message, "sound-condemned")


def _stands_alike(step: Measure, other: Step) -> bool:
    """Return whether the appliance stands as it stood for both: where a knob is moved, more than the method differs."""
    if not isinstance(other, Measure):
        return False
    mine, its = step.setup, other.setup
    return (mine.knobs, mine.hot) == (its.knobs, its.hot) if mine and its else mine is its


# --- each fault


def _of_faults(tested: _Tested) -> Iterator[Breach]:
    """No reading and no look rules a fault out that is there; its own test tells of it, and takes it for no other."""
    causes, section = tested.bench.procedure.causes, tested.section
    missed: list[Breach] = []
    for fault in tested.bench.circuit.faults:
        own = fault.cause in causes and causes[fault.cause].tested_by == section.id
        for at_hand in tested.bench.appliances(section, fault):
            run = tested.bench.run(section, at_hand)
            yield from _cleared(tested, fault, run.came)
            if own:
                mistaken = list(_mistaken(tested, fault, run.ends))
                yield from mistaken
                missed += () if mistaken else _missed(tested, at_hand, fault, run.ends)
    # What shows nowhere at all is told already.
    untold = {breach.keys for breach in untold_faults(tested.bench.procedure)} if missed else set()
    yield from (breach for breach in missed if breach.keys not in untold)


def _cleared(tested: _Tested, fault: Fault, came: Iterable[Came]) -> Iterator[Breach]:
    for each in came:
        if fault.cause in each.outcome.excludes and isinstance(tested.step(each), (Measure, Inspect)):
            message = (
                f"rules out {fault.cause}, and comes about with the fault {fault.id}, which is one; take it out of "
                "excludes, or correct limits, points or set-up"
            )
            yield Breach((*tested.keys(each.step, each.result), "excludes"), message, "fault-cleared")


def _missed(tested: _Tested, at_hand: AtHand, fault: Fault, ends: tuple[End, ...]) -> Iterator[Breach]:
    if any(fault.cause in end.told or _answered_away(tested, end) for end in ends):
        return
    for end in ends[:1]:
        with_it = " and ".join(f"{name} {value}" for name, value in at_hand.parts if value)
        message = (
            f"the test {tested.section.id} does not find this{f' with {with_it}' if with_it else ''}: it ends at "
            f"{end.last.step} ({end.last.result}) and has told nothing of {fault.cause}; let an outcome on that way "
            "show or suspect it"
        )
        yield Breach(("circuit", "faults", fault.id), message, "fault-not-found")


def _answered_away(tested: _Tested, end: End) -> bool:
    """Return whether an answer stopped the work, which tells what it is; other hand-overs have to name a cause."""
    stopped = end.last.outcome.hand_over is not None or end.last.outcome.danger is not None
    return stopped and isinstance(tested.step(end.last), Ask)


def _mistaken(tested: _Tested, fault: Fault, ends: Iterable[End]) -> Iterator[Breach]:
    for end in ends:
        cause = end.last.outcome.cause
        if cause is not None and cause != fault.cause and fault.cause not in end.told:
            message = f"the fault {fault.id}, which is {fault.cause}, is taken for {cause} here; tell the two apart"
            yield Breach((*tested.keys(end.last.step, end.last.result), "cause"), message, "fault-mistaken")


# --- what an outcome has to do with the causes it names


def _unfounded(tested: _Tested) -> Iterator[Breach]:
    """What an outcome shows, suspects or rules out has to do with what was measured, seen or told."""
    causes = tested.bench.procedure.causes
    come_with = _come_with(tested)
    for step in tested.section.steps:
        for result, outcome in outcomes_of(step).items():
            named = [("cause", outcome.cause)] if outcome.cause else []
            named += [("suspects", cause) for cause in outcome.suspects]
            named += [("excludes", cause) for cause in outcome.excludes]
            for key, cause in named:
                if cause in causes and not _founded(tested, step, result, key, cause, come_with):
                    message = (
                        f"nothing here tells of {cause}: no fault of it changes what is measured, seen or told; name "
                        "another, or let a fault of the circuit show it (seen, told)"
                    )
                    yield Breach((*tested.keys(step.id, result), key), message, "unfounded")


def _come_with(tested: _Tested) -> Mapping[tuple[str, str], set[str]]:
    """Return the causes with whose faults each result of the section's steps comes about."""
    found: dict[tuple[str, str], set[str]] = {}
    for fault in tested.bench.circuit.faults:
        for at_hand in tested.bench.appliances(tested.section, fault):
            for came in tested.bench.run(tested.section, at_hand).came:
                written = written_as(tested.step(came), came.result) or came.result
                found.setdefault((came.step, written), set()).add(fault.cause)
    return found


def _founded(
    tested: _Tested, step: Step, result: str, key: str, cause: str, come_with: Mapping[tuple[str, str], set[str]]
) -> bool:
    bench = tested.bench
    faults = [fault for fault in bench.circuit.faults if fault.cause == cause]
    can_come = any(written_as(step, each) == result for each in results(bench.procedure, step))
    if not faults or not can_come:
        return True
    own = bench.procedure.causes[cause].tested_by == tested.section.id
    if isinstance(step, Ask):
        return _founded_in_answer(bench, step, result, key, faults, own)
    if isinstance(step, (Inspect, Measure)):
        alike = _HIGH if result in _HIGH else (result,)
        also = {each for name in alike for each in come_with.get((step.id, name), ())}
        with_others = key == "cause" and (step.id, result) in come_with and cause not in also
        if with_others and not _comes_about(tested, step, result, faults):
            return False
        shown = _shown(tested, step)
        if len(shown) < 2:
            # Nothing in the circuit shows here, so that the section's own causes are taken on trust.
            return own
        if key != "excludes":
            return _speaks_for(tested, step, result, cause, come_with)
        if _moved(tested, step, faults):
            return True
        return not any(written_as(step, each) == result for each in shown) and (
            own or _shares_a_point(bench, step, cause)
        )
    if _asked_for_after_finding(step):
        return True
    if cause in come_with.get((step.id, result), ()) or _comes_about(tested, step, result, faults):
        return True
    return key == "suspects" and _shares_a_point(bench, step, cause)


def _asked_for_after_finding(step: Step) -> bool:
    """Return whether what was found before this section stands behind the step."""
    return any(not condition.absent and condition.field in FROM_DIAGNOSIS for condition in step.when)


def _speaks_for(
    tested: _Tested,
    step: Inspect | Measure,
    result: str,
    cause: str,
    come_with: Mapping[tuple[str, str], set[str]],
) -> bool:
    """Return whether what a step shows, or what led to it, has the cause for a reason."""
    faults = [fault for fault in tested.bench.circuit.faults if fault.cause == cause]
    alike = _ALIKE.get(result, (result,))
    if any(cause in come_with.get((step.id, name), ()) for name in alike):
        return True
    if isinstance(step, Inspect) and tested.bench.procedure.causes[cause].tested_by == tested.section.id:
        return True
    if cause in _named_beside(tested.section, step, result) or _asked_for_after_finding(step):
        return True
    if isinstance(step, Measure) and _shown_by_the_same_pair(tested.bench, step, cause):
        return True
    if result in _PASSED:
        return _led_by(tested, step, faults, set())
    return _fails_with(tested, step, result, faults)


def _fails_with(tested: _Tested, step: Step, result: str, faults: Sequence[Fault]) -> bool:
    """Return whether some fault gives the result, or one that is taken for it, or moves the reading towards it."""
    if any(_comes_about(tested, step, name, faults) for name in _ALIKE.get(result, (result,))):
        return True
    return isinstance(step, Measure) and (
        _leaks_there(tested, step, faults)
        or _of_its_ground(tested.bench, step, faults)
        or _moved_towards(tested, step, result, faults)
    )


def _named_beside(section: Section, step: Step, result: str) -> frozenset[str]:
    """Return the causes that other results of the step speak of, and its other method, and what measures the same."""
    methods = {outcome.again_by for outcome in outcomes_of(step).values()}
    found: set[str] = set()
    for other in section.steps:
        by = {outcome.again_by for outcome in outcomes_of(other).values()}
        if other is step or other.id in methods or step.id in by or _ends_alike(step, other):
            for name, outcome in outcomes_of(other).items():
                if other is not step or name != result:
                    found |= {*spoken_for(outcome), *outcome.excludes}
    return frozenset(found)


def _ends_alike(one: Step, other: Step) -> bool:
    return isinstance(one, Measure) and isinstance(other, Measure) and ends_of(one) == ends_of(other)


def _led_by(tested: _Tested, step: Step, faults: Sequence[Fault], seen: set[str]) -> bool:
    """Return whether one of the faults makes a reading fail that led to a step at which all is well."""
    seen.add(step.id)
    for before in tested.section.steps:
        for name, outcome in outcomes_of(before).items():
            if before.id in seen or step.id not in (outcome.again_by, outcome.next):
                continue
            failed = name not in _PASSED and _fails_with(tested, before, name, faults)
            if failed or (name in _PASSED and _led_by(tested, before, faults, seen)):
                return True
    return False


def _moved_towards(tested: _Tested, step: Measure, result: str, faults: Sequence[Fault]) -> bool:
    """Return whether one of the faults moves a reading towards this result, or one of the supply's where it is volts.

    An open neutral has one leg go down and the other up, whichever is loaded.
    """
    supplies = [
        (section, each)
        for section in tested.bench.procedure.sections
        for each in section.steps
        if isinstance(each, Measure) and each.judged_as != EACH and section.role is None
    ]
    moved = [_moves(tested.bench, tested.section, step, faults)]
    if step.unit is Unit.VOLT and step.judged_as == EACH and any(moved[0]):
        moved += [_moves(tested.bench, section, each, faults) for section, each in supplies]
    wanted = _TOWARDS.get(result)
    return any(wanted in found or (found and wanted is None) for found in moved)


def _moves(bench: Workbench, section: Section, step: Measure, faults: Iterable[Fault]) -> set[int]:
    """Return whether faults move a reading of the step up, as 1, and down, as -1."""
    found: set[int] = set()
    for fault in faults:
        for at_hand in bench.appliances(section, fault):
            if not bench.comes_with(section, step, at_hand):
                continue
            sound = bench.reads(step, AtHand(None, at_hand.parts, at_hand.left_on))
            for before, after in zip(sound, bench.reads(step, at_hand), strict=False):
                change = 0.0 if before == after else after - before
                if not (math.isnan(change) or math.isclose(before, after, rel_tol=_MOVED_PART, abs_tol=_MOVED_PART)):
                    found.add(1 if change > 0 else -1)
    return found


def _leaks_there(tested: _Tested, step: Measure, faults: Iterable[Fault]) -> bool:
    """Return whether the step measures where a leak shows: to the frame, or the volts of an element that is off."""
    if not any(isinstance(effect, (Leaks, Bridged)) for fault in faults for effect in fault.effects):
        return False
    elements = {end for heater in tested.bench.circuit.heaters for end in (heater.first, heater.second)}
    places = {_FRAME} | (elements if step.unit is Unit.VOLT else set())
    return any({pair.first, pair.second} & places for pair in step.pairs)


def _of_its_ground(bench: Workbench, step: Measure, faults: Iterable[Fault]) -> bool:
    """Return whether the step measures what a hand gets from a frame, and the cause is shown where its ground is."""
    grounded = {
        outcome.cause
        for section in bench.procedure.sections
        for each in section.steps
        if isinstance(each, Measure) and each.limits.rule == "earth"
        for outcome in each.outcomes.values()
    }
    return step.limits.rule == "touch-voltage" and any(fault.cause in grounded for fault in faults)


def _shown_by_the_same_pair(bench: Workbench, step: Measure, cause: str) -> bool:
    """Return whether another section that shows the cause measures one of the step's pairs, wherever a supply is."""
    mine = _pairs(step)
    return any(
        any(isinstance(each, Measure) and mine & _pairs(each) for each in section.steps if each is not step)
        for section in bench.procedure.sections
        if any(
            outcome.cause == cause
            for each in section.steps
            if each is not step
            for outcome in outcomes_of(each).values()
        )
    )


def _pairs(step: Measure) -> set[object]:
    places: set[object] = {SUPPLY_PAIRS.get(pair.label) for pair in step.pairs} if step.judged_as != "each" else set()
    return {*ends_of(step), *(places - {None})}


def _founded_in_answer(bench: Workbench, step: Ask, result: str, key: str, faults: list[Fault], own: bool) -> bool:
    """Return whether faults tell this answer, or are told by what has the question asked at all."""
    for condition in step.when:
        if not condition.absent and any(set(condition.values) & set(f.told.get(condition.field, ())) for f in faults):
            return True
    told = [fault.told[step.field] for fault in faults if step.field in fault.told]
    if not told:
        return own or step.field not in bench.telling
    if key == "excludes":
        return not all(result in answers for answers in told)
    return any(result in answers for answers in told)


def _shown(tested: _Tested, step: Inspect | Measure) -> frozenset[str]:
    """Return everything that the step comes to, on the sound appliance and with each fault."""
    if step.id not in tested.shown:
        bench, section = tested.bench, tested.section
        tested.shown[step.id] = frozenset(
            result
            for at_hand in tested.appliances([None, *bench.circuit.faults])
            if bench.comes_with(section, step, at_hand)
            for again in (False, True)
            if (result := bench.result(section, step, at_hand, again)) is not None
        )
    return tested.shown[step.id]


def _moved(tested: _Tested, step: Inspect | Measure, faults: Iterable[Fault]) -> bool:
    """Return whether some of the faults make the step come to something else than on a sound appliance."""
    bench, section = tested.bench, tested.section
    for at_hand in tested.appliances(faults):
        sound = AtHand(None, at_hand.parts, at_hand.left_on)
        if bench.comes_with(section, step, at_hand) and any(
            bench.result(section, step, at_hand, again) != bench.result(section, step, sound, again)
            for again in (False, True)
        ):
            return True
    return False


def _comes_about(tested: _Tested, step: Step, result: str, faults: Iterable[Fault]) -> bool:
    """Return whether the result comes about with one of the faults, from wherever in the section one begins."""
    return any(
        came.step == step.id and written_as(step, came.result) == result
        for at_hand in tested.appliances(faults)
        for came in tested.bench.run(tested.section, at_hand, anywhere=True).came
    )


def _shares_a_point(bench: Workbench, step: Step, cause: str) -> bool:
    """Return whether a section that shows the cause measures at one of the step's points too."""
    mine = _points(step)
    return any(
        any(mine & _points(each) for each in section.steps if each is not step)
        for section in bench.procedure.sections
        if any(outcome.cause == cause for each in section.steps for outcome in outcomes_of(each).values())
    )


def _points(step: Step) -> set[str]:
    """Return the points a step measures at; of a supply also which pairs they are, wherever it is measured."""
    if not isinstance(step, Measure):
        return set()
    ends = {end for pair in step.pairs for end in (pair.first, pair.second)}
    return ends if step.judged_as == "each" else ends | {SUPPLY_PAIRS.get(pair.label, "") for pair in step.pairs}


# --- points


def _foreign_sheath(tested: _Tested) -> Iterator[Breach]:
    """An element is measured to its own sheath."""
    circuit: Appliance = tested.bench.circuit
    sheaths = {heater.sheath for heater in circuit.heaters} - {"frame"}
    for step in tested.section.steps:
        for number, pair in enumerate(step.pairs if isinstance(step, Measure) else ()):
            for heater in circuit.heaters:
                for one, other in ((pair.first, pair.second), (pair.second, pair.first)):
                    if one in (heater.first, heater.second) and other in sheaths - {heater.sheath}:
                        message = f"{other} is not the sheath of {heater.name}; measure to {heater.sheath}"
                        yield Breach((*tested.keys(step.id), "between", number), message, "foreign-sheath")


ADVICE: Final[tuple[Check, ...]] = (outcomes_against_faults,)
"""What is told by the check alone."""
