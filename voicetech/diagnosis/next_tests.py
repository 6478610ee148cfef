"""What each test would tell, for the minutes it takes."""

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from decimal import Decimal

from voicetech.diagnosis.hypotheses import Hypothesis
from voicetech.diagnosis.predictions import Plate, Predicted, Predictions
from voicetech.electrical.limits import Limits
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Inspect, Measure, Section
from voicetech.units import READ_OFF

_LEAST_SHARE = 0.001
_MOST_HYPOTHESES = 50
_TOLD_APART = 12.0
"""Volts that are told apart where pairs are judged together, a tenth of a leg; seconds of a cycle, and degrees.
Judgement."""


def gain_bits(
    predictions: Predictions,
    hypotheses: Sequence[Hypothesis],
    section: Section,
    answers: Mapping[str, str],
    plate: Plate,
) -> float:
    """Return by how much the section's results are expected to lower what is not known of the cause, in bits."""
    likely = _likely(hypotheses)
    groups: dict[Hashable, list[Hypothesis]] = {}
    for each, shown in zip(likely, _shown(predictions, likely, section, answers, plate), strict=True):
        groups.setdefault(shown, []).append(each)
    if len(groups) < 2:
        return 0.0
    whole = sum(each.share for each in likely)
    left = sum(sum(each.share for each in group) / whole * _unknown_bits(group) for group in groups.values())
    return max(_unknown_bits(likely) - left, 0.0)


def foresee(
    predictions: Predictions, hypotheses: Sequence[Hypothesis], sections: Iterable[Section], plate: Plate
) -> None:
    """Work out together what `gain_bits` of these sections will look at; saves time and changes no result."""
    steps = [(section.id, step) for section in sections for step in section.steps if isinstance(step, Measure)]
    predictions.foresee(steps, [each.faults for each in _likely(hypotheses)], plate)


def _likely(hypotheses: Sequence[Hypothesis]) -> list[Hypothesis]:
    return [each for each in hypotheses[:_MOST_HYPOTHESES] if each.share > _LEAST_SHARE]


def _unknown_bits(hypotheses: Sequence[Hypothesis]) -> float:
    """Return the entropy of the cause over these hypotheses."""
    shares: dict[frozenset[str], float] = {}
    for each in hypotheses:
        causes = frozenset(fault.cause for fault in each.faults)
        shares[causes] = shares.get(causes, 0.0) + each.share
    whole = sum(shares.values())
    return -sum(share / whole * math.log2(share / whole) for share in shares.values() if share > 0)


def _shown(
    predictions: Predictions,
    hypotheses: Sequence[Hypothesis],
    section: Section,
    answers: Mapping[str, str],
    plate: Plate,
) -> list[Hashable]:
    """Return what the section's steps would show with each hypothesis, coarse enough to be told from a meter."""
    sets = [each.faults for each in hypotheses]
    of_steps: list[Sequence[Hashable]] = []
    for step in section.steps:
        match step:
            case Measure():
                predicted = predictions.of_sets(section.id, step, sets, plate)
                by_limits = step.judged_as == "each" and step.quantity not in READ_OFF
                limits = limits_for(step.limits, answers) if by_limits else None
                told: dict[int, Hashable] = {}
                for each in predicted:
                    # What reads alike is one and the same object, which is kept.
                    if id(each) not in told:
                        told[id(each)] = tuple(_told_apart(limits, one) for one in each)
                of_steps.append([told[id(each)] for each in predicted])
            case Inspect(part=part):
                of_steps.append([any(part in fault.seen for fault in faults) for faults in sets])
            case Ask(field=field):
                of_steps.append(
                    [tuple(sorted(v for fault in faults for v in fault.told.get(field, ()))) for faults in sets]
                )
            case _:
                pass
    return list(zip(*of_steps, strict=True)) if of_steps else [()] * len(sets)


def _told_apart(limits: Limits | None, predicted: Predicted) -> Hashable:
    if predicted.value == math.inf or math.isnan(predicted.value):
        return str(predicted.value)
    if limits is None:
        return round(predicted.value / _TOLD_APART)
    value = Decimal(predicted.value)
    if limits.expect_open:
        return "path"
    if limits.low is not None and value < limits.low:
        return "below"
    return "above" if limits.high is not None and value > limits.high else "within"
