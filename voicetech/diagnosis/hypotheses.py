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
    log = weigher.weighing(evidence)
    open_faults = [fault for fault in appliance.faults if not ruled_out(fault)]
    weigher.foresee(evidence, [(), *((fault,) for fault in open_faults)])
    logs: dict[Faults, float] = {(): math.log(NOTHING_WRONG) + log(())}
    single = 1 - NOTHING_WRONG - TWO_FAULTS
    for fault in open_faults:
        logs[(fault,)] = math.log(single * prior[fault.id] + 1e-12) + log((fault,))
    partners = sorted(open_faults, key=lambda fault: -logs[(fault,)])[:_PARTNERS]
    pairs = [
        (fault, other)
        for number, fault in enumerate(partners)
        for other in open_faults
        if other not in partners[: number + 1] and not _exclude_each_other(fault, other)
    ]
    weigher.foresee(evidence, pairs)
    for fault, other in pairs:
        weight = math.log(TWO_FAULTS * 2 * prior[fault.id] * prior[other.id] + 1e-15)
        logs[fault, other] = weight + log((fault, other))
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
        log = weigher.weighing((piece,))
        rest = sum(each.share / whole * math.exp(log(each.faults)) for each in others)
        ratio = math.exp(log(best.faults)) / max(rest, 1e-12)
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
        self._predictions = predictions
        self._plate = plate
        self._telling = _telling(appliance)

    def foresee(self, evidence: Evidence, sets: Sequence[Faults]) -> None:
        """Work out together what the evidence would be with each of these sets; saves time and changes no result."""
        steps = {
            (piece.section, piece.step): step
            for piece in evidence
            if isinstance(piece, Read) and isinstance(step := self._procedure.step(piece.section, piece.step), Measure)
        }
        self._predictions.foresee(((section, step) for (section, _), step in steps.items()), sets, self._plate)

    def weighing(self, evidence: Evidence) -> Callable[[Faults], float]:
        """Return what gives the logarithm of how likely all of the evidence is with some faults."""
        reads: dict[tuple[str, str], tuple[Measure, list[Read]]] = {}
        others: list[Looked | Told] = []
        for piece in evidence:
            if not isinstance(piece, Read):
                others.append(piece)
                continue
            step = self._procedure.step(piece.section, piece.step)
            if isinstance(step, Measure):
                reads.setdefault((piece.section, piece.step), (step, []))[1].append(piece)
        return lambda faults: self._log(reads, others, faults)

    def _log(
        self,
        all_reads: Mapping[tuple[str, str], tuple[Measure, Sequence[Read]]],
        others: Sequence[Looked | Told],
        faults: Faults,
    ) -> float:
        total = 0.0
        for (section, _), (step, reads) in all_reads.items():
            as_asked = self._reading(section, step, reads, faults)
            if step.setup is not None and step.setup.left_on:
                with_more_on = self._reading(section, step, reads, faults, left_on=True)
                total += math.log((1 - likelihood.LEFT_ON) * as_asked + likelihood.LEFT_ON * with_more_on)
            else:
                total += math.log(as_asked)
        for piece in others:
            total += math.log(self._other(piece, faults))
        return total

    def _reading(
        self, section: str, step: Measure, reads: Sequence[Read], faults: Faults, *, left_on: bool = False
    ) -> float:
        predicted = self._predictions.of_step(section, step, faults, self._plate, left_on=left_on)
        sensor = step.limits.rule == SENSOR_RULE
        return math.prod(
            likelihood.of_reading(read, predicted[read.pair], step.quantity, sensor=sensor) for read in reads
        )

    def _other(self, piece: Looked | Told, faults: Faults) -> float:
        match piece:
            case Looked(part=part, fault=damage):
                return likelihood.of_look(damage, any(part in fault.seen for fault in faults))
            case Told(field=name, value=value):
                tells = [fault.told[name] for fault in faults if name in fault.told]
                if tells:
                    return likelihood.of_answer(any(value in answers for answers in tells), expected=True)
                return likelihood.of_answer(value in self._telling.get(name, ()), expected=False)
