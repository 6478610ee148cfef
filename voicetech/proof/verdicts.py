"""Which verdicts a measuring step can give, and a reading for each."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Final

from voicetech.electrical.limits import Limits
from voicetech.electrical.meter import HANDHELD, uncertainty
from voicetech.judge import VerdictWord, judge_reading
from voicetech.limit_rules import RULES, limits_for, no_pass_yet
from voicetech.procedure import Measure
from voicetech.units import Reading, Unit, over_range

KNOWN: Final[Mapping[str, str]] = {
    "watts": "2000",
    "volts": "240",
    "volt": "240",
    "measured": "240",
    "fahrenheit": "72",
    "celsius": "22",
    "part": "1085",
    "on": "12",
}
"""What may stand on record under the fields that limits are computed from, by what the rule calls them."""
CONNECTIONS: Final = ("cord-4", "cord-3", "hard-wired")
_LEADS: Final = (None, Decimal("0.2"))


def cases(step: Measure) -> Iterator[Mapping[str, str]]:
    """Yield nothing of what the step's limits are computed from, and then all of it, by field."""
    yield {}
    fields = {key: field for key, field in step.limits.fields.items() if key in KNOWN or key == "connection"}
    if fields:
        for connection in CONNECTIONS if "connection" in fields else CONNECTIONS[:1]:
            yield {field: KNOWN.get(key, connection) for key, field in fields.items()}


def readings(step: Measure, answers: Mapping[str, str]) -> Mapping[str, Decimal | None]:
    """Return a reading for each verdict that the step gives with these answers on record; None is over range."""
    found: dict[str, Decimal | None] = {}
    missing = no_pass_yet(step.limits, answers)
    for pair in step.pairs:
        limits = limits_for(step.limits, answers, pair.label)
        for value in _telling(limits):
            reading = over_range(step.unit) if value is None else Reading(value, step.unit)
            for lead_ohm in _LEADS:
                word = judge_reading(reading, limits, HANDHELD, lead_ohm).word.value
                if missing is not None and word in ("within", "marginal"):
                    word = "unusable"
                found.setdefault(word, value)
    return found


def verdicts(step: Measure) -> tuple[str, ...]:
    """Return every verdict that a usable reading of the step can come to, whatever is on record."""
    if step.limits.rule not in RULES:
        return tuple(word.value for word in VerdictWord if word is not VerdictWord.UNUSABLE)
    key = step.limits.rule, step.limits.figures.get("low"), step.limits.figures.get("high"), step.unit, step.pairs
    found = _FOUND.get((*key, tuple(step.limits.fields.items())))
    if found is None:
        words = dict.fromkeys(word for answers in cases(step) for word in readings(step, answers))
        found = tuple(word for word in words if word != "unusable")
        _FOUND[(*key, tuple(step.limits.fields.items()))] = found
    return found


_FOUND: Final[dict[object, tuple[str, ...]]] = {}
"""What was found of steps before; it saves time and changes no result."""


def _telling(limits: Limits) -> Iterator[Decimal | None]:
    """Yield readings on both sides of everywhere the verdict may change, and over range."""
    edges = [Decimal(0)]
    for figure in (limits.marginal_low, limits.low, limits.high, limits.marginal_high, limits.repeat_below):
        if figure is not None:
            band = uncertainty(figure, limits.unit, HANDHELD).expanded
            # The leads, where nobody has taken their ohms, may hide in a reading of ohms.
            edges += [figure - band, figure, figure + band, figure + band + Decimal("0.5")]
    tried = sorted({each for edge in edges for each in (edge - _STEP, edge, edge + _STEP) if each >= 0})
    between = [(one + other) / 2 for one, other in pairwise(tried)]
    # The plainest first: in the middle of what passes, and well beyond it.
    if limits.low is not None and limits.high is not None:
        yield ((limits.low + limits.high) / 2).quantize(_STEP)
    yield from (Decimal(0), (tried[-1] * 4 + 5).quantize(Decimal("0.1")))
    if limits.unit is Unit.OHM:
        yield None
    yield from (each.quantize(_STEP) for each in (*tried, *between))


_STEP: Final = Decimal("0.001")
