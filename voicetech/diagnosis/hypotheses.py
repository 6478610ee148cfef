"""What may be wrong, none, one fault or two, and how likely each is after all that is on record."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from voicetech.diagnosis import likelihood
from voicetech.diagnosis.evidence import Evidence, Looked, Read, Told
from voicetech.diagnosis.predictions import Faults, Plate, Predictions
from voicetech.electrical.appliance import Appliance, Fault
from voicetech.procedure import Measure, Procedure

NOTHING_WRONG = 0.03
"""Prior share of "no fault at all". Judgement, no statistics."""
TWO_FAULTS = 0.05
"""Prior share of two faults at once. Judgement, no statistics."""
UNLISTED = 0.02
"""Prior weight of a cause that the complaint does not list. Judgement."""
SENSOR_RULE = "sensor"
_COMPARED = 30
"""Hypotheses that the likeliest is compared with when it is explained."""
_PARTNERS = 8
"""Likeliest single faults that are paired with all others."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A set of faults and its share of what is believed (0 to 1)."""

    faults: Faults
    share: float


def priors(appliance: Appliance, complaint: Mapping[str, float]) -> dict[str, float]:
    """Return the prior share of each single fault: its cause's weight for this complaint, shared out by its own."""
    of_cause: dict[str, float] = {}
    for fault in appliance.faults:
        of_cause[fault.cause] = of_cause.get(fault.cause, 0.0) + fault.weight
    found = {
        fault.id: complaint.get(fault.cause, UNLISTED) * fault.weight / of_cause[fault.cause]
        for fault in appliance.faults
    }
    whole = sum(found.values()) or 1.0
    return {name: weight / whole for name, weight in found.items()}


def believed(
    appliance: Appliance,
    weigher: "Weigher",
    evidence: Evidence,
    prior: Mapping[str, float],
    ruled_out: Callable[[Fault], bool],
) -> tuple[Hypothesis, ...]:
    """Return every hypothesis with its share after the evidence, the likeliest first.

    `ruled_out` says of a fault whether a result or an answer leaves no room for it. Pairs are formed of the likeliest
    single faults with all others.
    """
    open_faults = [fault for fault in appliance.faults if not ruled_out(fault)]
    none, *singly = weigher.logs(evidence, [(), *((fault,) for fault in open_faults)])
    logs: dict[Faults, float] = {(): math.log(NOTHING_WRONG) + none}
    single = 1 - NOTHING_WRONG - TWO_FAULTS
    for fault, log in zip(open_faults, singly, strict=True):
        logs[(fault,)] = math.log(single * prior[fault.id] + 1e-12) + log
    partners = sorted(open_faults, key=lambda fault: -logs[(fault,)])[:_PARTNERS]
    pairs: list[Faults] = []
    paired: set[str] = set()
    for fault in partners:
        paired.add(fault.id)
        pairs += [
            (fault, other) for other in open_faults if other.id not in paired and not _exclude_each_other(fault, other)
        ]
    for pair, log in zip(pairs, weigher.logs(evidence, pairs), strict=True):
        fault, other = pair
        logs[pair] = math.log(TWO_FAULTS * 2 * prior[fault.id] * prior[other.id] + 1e-15) + log
    top = max(logs.values())
    shares = {faults: math.exp(value - top) for faults, value in logs.items()}
    whole = sum(shares.values())
    found = [Hypothesis(faults, share / whole) for faults, share in shares.items()]
    return tuple(sorted(found, key=lambda hypothesis: -hypothesis.share))


def speaking_for(
    weigher: "Weigher", evidence: Evidence, hypotheses: Sequence[Hypothesis]
) -> tuple[tuple[Read | Looked | Told, float], ...]:
    """Return what speaks for the likeliest hypothesis against the others of other causes, most telling first.

    Each with how many times likelier it is with the first than with the rest together; only what is more likely.
    """
    if len(hypotheses) < 2:
        return ()
    best = hypotheses[0]
    causes = {fault.cause for fault in best.faults}
    others = [each for each in hypotheses[1:_COMPARED] if not causes & {fault.cause for fault in each.faults}]
    whole = sum(each.share for each in others)
    found: list[tuple[Read | Looked | Told, float]] = []
    for piece in evidence if whole else ():
        log, *logs = weigher.logs((piece,), [best.faults, *(each.faults for each in others)])
        rest = sum(each.share / whole * math.exp(other) for each, other in zip(others, logs, strict=True))
        ratio = math.exp(log) / max(rest, 1e-12)
        if ratio > 1:
            found.append((piece, ratio))
    return tuple(sorted(found, key=lambda pair: -pair[1]))


def _exclude_each_other(one: Fault, other: Fault) -> bool:
    """Return whether two faults are two of the same cause, of which one is enough."""
    return one.cause == other.cause


def _telling(appliance: Appliance) -> Mapping[str, frozenset[str]]:
    """Return, for each field, the answers that tell of some fault."""
    found: dict[str, set[str]] = {}
    for fault in appliance.faults:
        for name, answers in fault.told.items():
            found.setdefault(name, set()).update(answers)
    return {name: frozenset(answers) for name, answers in found.items()}


class Weigher:
    """How likely evidence is with one set of faults or another, on an appliance with this plate."""

    def __init__(self, procedure: Procedure, appliance: Appliance, predictions: Predictions, plate: Plate) -> None:
        self._procedure = procedure
        self._faults = appliance.faults
        self._predictions = predictions
        self._plate = plate
        self._telling = _telling(appliance)

    def logs(self, evidence: Evidence, sets: Sequence[Faults]) -> list[float]:
        """Return the logarithm of how likely all of the evidence is with each of these sets of faults."""
        reads: dict[tuple[str, str], tuple[Measure, list[Read]]] = {}
        others: list[Looked | Told] = []
        for piece in evidence:
            if not isinstance(piece, Read):
                others.append(piece)
                continue
            step = self._procedure.step(piece.section, piece.step)
            if isinstance(step, Measure):
                reads.setdefault((piece.section, piece.step), (step, []))[1].append(piece)
        steps = [(section, step) for (section, _), (step, _) in reads.items()]
        self._predictions.foresee(steps, [(), *sets], self._plate)
        totals = [0.0] * len(sets)
        for (section, _), (step, of_step) in reads.items():
            logs = self._of_step(section, step, of_step, sets)
            totals = [so_far + log for so_far, log in zip(totals, logs, strict=True)]
        sets_with: dict[Fault, list[int]] = {}
        for number, faults in enumerate(sets):
            for fault in faults:
                sets_with.setdefault(fault, []).append(number)
        for other in others:
            # Most faults have nothing to do with a look or an answer.
            logs = [math.log(self._other(other, ()))] * len(sets)
            for fault in self._concerned(other):
                for number in sets_with.get(fault, ()):
                    logs[number] = math.log(self._other(other, sets[number]))
            totals = [so_far + log for so_far, log in zip(totals, logs, strict=True)]
        return totals

    def _of_step(self, section: str, step: Measure, reads: Sequence[Read], sets: Sequence[Faults]) -> list[float]:
        as_asked = self._readings(section, step, reads, sets)
        if step.setup is None or not step.setup.left_on:
            return [math.log(likely) for likely in as_asked]
        with_more_on = self._readings(section, step, reads, sets, left_on=True)
        return [
            math.log((1 - likelihood.LEFT_ON) * asked + likelihood.LEFT_ON * more)
            for asked, more in zip(as_asked, with_more_on, strict=True)
        ]

    def _readings(
        self, section: str, step: Measure, reads: Sequence[Read], sets: Sequence[Faults], *, left_on: bool = False
    ) -> list[float]:
        sensor = step.limits.rule == SENSOR_RULE
        known: dict[int, float] = {}
        found: list[float] = []
        for predicted in self._predictions.of_sets(section, step, sets, self._plate, left_on=left_on):
            # Most sets read the same, and what reads the same is one and the same object, which is kept.
            likely = known.get(id(predicted))
            if likely is None:
                likely = known[id(predicted)] = math.prod(
                    likelihood.of_reading(read, predicted[read.pair], step.quantity, sensor=sensor) for read in reads
                )
            found.append(likely)
        return found

    def _concerned(self, piece: Looked | Told) -> list[Fault]:
        """Return the faults that have to do with what was seen or told."""
        match piece:
            case Looked(part=part):
                return [fault for fault in self._faults if part in fault.seen]
            case Told(field=name):
                return [fault for fault in self._faults if name in fault.told]

    def _other(self, piece: Looked | Told, faults: Faults) -> float:
        match piece:
            case Looked(part=part, fault=damage):
                return likelihood.of_look(damage, any(part in fault.seen for fault in faults))
            case Told(field=name, value=value):
                tells = [fault.told[name] for fault in faults if name in fault.told]
                if tells:
                    return likelihood.of_answer(any(value in answers for answers in tells), expected=True)
                return likelihood.of_answer(value in self._telling.get(name, ()), expected=False)
