"""What a reading means beside its limits: a verdict in one word, with the reason in words and numbers.

A pass is a pass by more than the meter's uncertainty: closer to a limit the verdict is marginal, with the
probability that the true value is inside. Where a wrong pass is dangerous nothing beyond the limit is
marginal. Nothing here raises for what a technician can say; a reading that cannot be used says why.

Source: guard bands and conditional results from ILAC-G8:09/2019 (read); probability of conformity from JCGM
106:2012 clause 7 (from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from math import erf, exp, pi, sqrt
from typing import Final, assert_never

from voicetech.electrical.contact import LEADS_TYPICAL_OHM
from voicetech.electrical.limits import Hint, Limits
from voicetech.electrical.meter import BUZZER_HIGH_OHM, BUZZER_LOW_OHM, HANDHELD, Meter, uncertainty
from voicetech.electrical.service_voltage import ansi_supply_limits, limits_absent_of_voltage, supply_limits
from voicetech.electrical.words import between, in_words, plain, unit_name
from voicetech.language.meaning import State
from voicetech.units import Reading, Unit

__all__ = [
    "HANDHELD",
    "IN_THREE",
    "Hint",
    "InThree",
    "Limits",
    "Verdict",
    "VerdictWord",
    "ansi_supply_limits",
    "judge_reading",
    "judge_state",
    "limits_absent_of_voltage",
    "supply_limits",
]

MOST_SHOWN = Decimal(1_000_000_000)
"""No meter of the trade shows more, in any base unit."""
BEEP_IS_NO_RESISTANCE = (
    f"a beep is not a resistance: buzzers sound anywhere under {plain(BUZZER_LOW_OHM)} to "
    f"{in_words(BUZZER_HIGH_OHM, Unit.OHM)}"
)
_NEVER_NEGATIVE = frozenset(
    {Unit.OHM, Unit.VOLT, Unit.AMPERE, Unit.WATT, Unit.KILOWATT, Unit.HERTZ, Unit.FARAD, Unit.SECOND}
)


class VerdictWord(StrEnum):
    """The verdicts; a procedure's outcomes are named after them."""

    BELOW = "below"
    WITHIN = "within"
    MARGINAL = "marginal"
    ABOVE = "above"
    OVER_RANGE = "over_range"
    UNUSABLE = "unusable"


class InThree(StrEnum):
    """A verdict as service sheets and case reports have it."""

    PASS = "pass"
    MARGINAL = "marginal"
    """It proves nothing by itself: repeat it, measure another way, or look elsewhere."""
    FAIL = "fail"


IN_THREE: Final[Mapping[VerdictWord, InThree]] = {
    VerdictWord.WITHIN: InThree.PASS,
    VerdictWord.MARGINAL: InThree.MARGINAL,
    VerdictWord.UNUSABLE: InThree.MARGINAL,
    VerdictWord.BELOW: InThree.FAIL,
    VerdictWord.ABOVE: InThree.FAIL,
    VerdictWord.OVER_RANGE: InThree.FAIL,
}
"""What each verdict on a reading is in three words; `dialogs/README.md` has it as a table."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """A word, its reason as one spoken sentence, and what it was judged by.

    `probability_inside` (0 to 1) is the chance that the true value is within the limits; None where the
    reading was no value.
    """

    word: VerdictWord
    reason: str
    limits: Limits
    probability_inside: float | None
    source: str


@dataclass(frozen=True, slots=True)
class _Edges:
    """Where verdicts change: sure inside from `pass_low` to `pass_high`, failed outside the other two."""

    fail_low: Decimal | None
    pass_low: Decimal | None
    pass_high: Decimal | None
    fail_high: Decimal | None


def judge_reading(reading: Reading, limits: Limits, meter: Meter, lead_ohm: Decimal | None) -> Verdict:
    """Return the verdict on a reading; the leads, where their ohms are known, are taken off first.

    Where they are not known they count as an error of up to 0.5 ohm to one side, which may keep a part from
    being condemned. Source: typical leads, a public page on meter accuracy (read).
    """
    refusal = _refusal(reading, limits, lead_ohm)
    if refusal is not None:
        return _verdict(VerdictWord.UNUSABLE, refusal, limits, None)
    if reading.value is None:
        return _over_range(limits)
    if limits.expect_open:
        return _path(reading.value, limits, meter)
    net = _less_leads(reading.value, limits, meter, lead_ohm)
    if net is None:
        return _verdict(
            VerdictWord.UNUSABLE,
            f"{in_words(reading.value, limits.unit)} is less than the leads alone; touch them together again",
            limits,
            None,
        )
    if limits.repeat_below is not None:
        return _absence(net, limits, meter)
    return _value(net, limits, meter, lead_ohm)


def judge_state(state: State, limits: Limits, accepts_beep: bool) -> Verdict:
    """Return the verdict on a word said in place of a reading.

    `accepts_beep` is true for a wire or fuse, which a buzzer passes as continuity without ohms.
    """
    if limits.unit is not Unit.OHM:
        return _verdict(
            VerdictWord.UNUSABLE,
            f"{state.value} is not a reading in {unit_name(limits.unit)}; say what the meter shows",
            limits,
            None,
        )
    if limits.expect_open and state is not State.OPEN:
        reason = f"{_said(state)} {limits.reason}, where the meter must show over range"
        return _verdict(VerdictWord.BELOW, reason, limits, 0.0)
    return _in_place_of_ohms(state, limits, accepts_beep)


def _in_place_of_ohms(state: State, limits: Limits, accepts_beep: bool) -> Verdict:
    has_low_limit = _low(limits) is not None
    match state:
        case State.OPEN:
            return _over_range(limits)
        case State.SHORT if has_low_limit:
            return _verdict(VerdictWord.BELOW, f"a short, where {_span(limits)} belongs {limits.reason}", limits, 0.0)
        case State.BEEP | State.CLOSED | State.SHORT if accepts_beep and not has_low_limit:
            return _verdict(VerdictWord.WITHIN, f"continuity, ohms not taken, {limits.reason}", limits, None)
        case State.BEEP:
            return _verdict(VerdictWord.UNUSABLE, f"{BEEP_IS_NO_RESISTANCE}; read the ohms", limits, None)
        case State.CLOSED | State.SHORT:
            return _verdict(
                VerdictWord.UNUSABLE,
                f"{state.value} does not say how many ohms; {_span(limits)} passes {limits.reason}",
                limits,
                None,
            )
        case _:
            assert_never(state)


def _said(state: State) -> str:
    return {State.BEEP: "a beep", State.SHORT: "a short"}.get(state, state.value)


def _verdict(word: VerdictWord, reason: str, limits: Limits, probability: float | None) -> Verdict:
    return Verdict(word, reason, limits, probability, limits.source)


def _refusal(reading: Reading, limits: Limits, lead_ohm: Decimal | None) -> str | None:
    wanted = unit_name(limits.unit)
    if reading.unit is None and not reading.over_range:
        return f"no unit was given; this wants {wanted}"
    if reading.unit is not None and reading.unit is not limits.unit:
        return f"that was in {unit_name(reading.unit)}; this wants {wanted}"
    if reading.value is None:
        return None if limits.unit is Unit.OHM else f"over range is no value in {wanted}; use a higher range"
    if not reading.value.is_finite() or abs(reading.value) > MOST_SHOWN:
        return "no meter shows that; say what it shows"
    if reading.value < 0 and limits.unit in _NEVER_NEGATIVE:
        return f"{wanted} are never below zero; check the range and that the circuit is dead for ohms"
    if lead_ohm is not None and (not lead_ohm.is_finite() or not 0 <= lead_ohm <= MOST_SHOWN):
        return "the value kept for the leads cannot be right; touch them together again"
    return None


def _over_range(limits: Limits) -> Verdict:
    if limits.expect_open and not limits.open_proves:
        return _verdict(VerdictWord.MARGINAL, f"open {limits.reason}", limits, None)
    if limits.expect_open:
        return _verdict(VerdictWord.WITHIN, f"open {limits.reason}, as it must be", limits, 1.0)
    if limits.high is None:
        return _verdict(VerdictWord.WITHIN, f"open, {_span(limits)} {limits.reason}", limits, 1.0)
    return _verdict(VerdictWord.OVER_RANGE, f"open, where {_span(limits)} belongs {limits.reason}", limits, 0.0)


def _less_leads(value: Decimal, limits: Limits, meter: Meter, lead_ohm: Decimal | None) -> Decimal | None:
    """Return the reading without the leads, or None where the leads alone would read more."""
    if limits.unit is not Unit.OHM or lead_ohm is None or not limits.less_leads:
        return value
    net = value - lead_ohm
    if net >= 0:
        return net
    return Decimal(0) if -net <= uncertainty(value, Unit.OHM, meter).expanded else None


def _path(value: Decimal, limits: Limits, meter: Meter) -> Verdict:
    """Return the verdict on a number where only over range passes."""
    told = f"{in_words(value, limits.unit)} {limits.reason}, where the meter must show over range"
    least = limits.marginal_low
    if least is not None:
        band = uncertainty(least, limits.unit, meter).expanded if limits.safety else Decimal(0)
        if value >= least + band:
            return _verdict(VerdictWord.MARGINAL, told + _hint(value, limits), limits, 0.0)
    return _verdict(VerdictWord.BELOW, told, limits, 0.0)


def _absence(value: Decimal, limits: Limits, meter: Meter) -> Verdict:
    """Return the verdict on one pair of a proof of dead."""
    told = in_words(value, limits.unit)
    if limits.high is None or value <= limits.high:
        return _verdict(
            VerdictWord.WITHIN,
            f"{told} is dead {limits.reason}",
            limits,
            _inside(value, limits, meter, Decimal(0)),
        )
    if not meter.low_impedance and limits.repeat_below is not None and value <= limits.repeat_below:
        return _verdict(
            VerdictWord.MARGINAL,
            f"{told} on a high-impedance meter is no proof of dead or live; repeat on low impedance",
            limits,
            0.0,
        )
    return _verdict(
        VerdictWord.ABOVE, f"{told} is a real source and not dead; stop and find the second feed", limits, 0.0
    )


def _value(net: Decimal, limits: Limits, meter: Meter, lead_ohm: Decimal | None) -> Verdict:
    takes_leads = limits.unit is Unit.OHM and limits.less_leads
    may_hide_leads = takes_leads and lead_ohm is None and limits.guarded and not limits.safety
    lead_room = LEADS_TYPICAL_OHM if may_hide_leads else Decimal(0)
    edges = _edges(limits, meter, lead_room)
    word = _word(net, edges)
    probability = _inside(net, limits, meter, lead_room)
    leads = f", leads of {plain(lead_ohm)} taken off," if takes_leads and lead_ohm is not None else ""
    told = f"{in_words(net, limits.unit)}{leads}"
    match word:
        case VerdictWord.WITHIN:
            return _verdict(word, f"{told} is {_inside_words(limits)} {limits.reason}", limits, probability)
        case VerdictWord.MARGINAL:
            why = _marginal_words(net, limits, probability)
            lead_note = "; the leads are still in it" if lead_room and net > (limits.high or net) else ""
            return _verdict(word, f"{told} {why} {limits.reason}{lead_note}{_hint(net, limits)}", limits, probability)
        case _:
            reason = f"{told} is {word} {_limit(limits)} {limits.reason}{_hint(net, limits)}"
            return _verdict(word, reason, limits, probability)


def _edges(limits: Limits, meter: Meter, lead_room: Decimal) -> _Edges:
    def band(limit: Decimal) -> Decimal:
        return uncertainty(limit, limits.unit, meter).expanded if limits.guarded else Decimal(0)

    low, high = _low(limits), limits.high
    fail_low = fail_high = None
    if low is not None:
        fail_low = low if limits.safety else min(low - band(low), _or(limits.marginal_low, low))
    if high is not None:
        beyond = high if limits.safety else max(high + band(high), _or(limits.marginal_high, high))
        fail_high = beyond + lead_room
    return _Edges(
        fail_low=fail_low,
        pass_low=None if low is None else low + band(low),
        pass_high=None if high is None else high - band(high),
        fail_high=fail_high,
    )


def _or(figure: Decimal | None, otherwise: Decimal) -> Decimal:
    return otherwise if figure is None else figure


def _word(value: Decimal, edges: _Edges) -> VerdictWord:
    if edges.fail_low is not None and value < edges.fail_low:
        return VerdictWord.BELOW
    if edges.fail_high is not None and value > edges.fail_high:
        return VerdictWord.ABOVE
    above_low = edges.pass_low is None or value >= edges.pass_low
    below_high = edges.pass_high is None or value <= edges.pass_high
    return VerdictWord.WITHIN if above_low and below_high else VerdictWord.MARGINAL


def _is_inside(value: Decimal, limits: Limits) -> bool:
    return (limits.low is None or value >= limits.low) and (limits.high is None or value <= limits.high)


def _inside(value: Decimal, limits: Limits, meter: Meter, lead_room: Decimal) -> float:
    """Return the probability that the true value is inside, averaged over leads of 0 to `lead_room`.

    Source: JCGM 106:2012 clause 7 (from memory).
    """
    spread = float(uncertainty(value, limits.unit, meter).standard)
    if spread == 0:
        return 1.0 if _is_inside(value, limits) else 0.0
    low, high = _low(limits), limits.high
    under_high = 1.0 if high is None else _mean_phi(float(high - value), spread, lead_room)
    under_low = 0.0 if low is None else _mean_phi(float(low - value), spread, lead_room)
    return min(1.0, max(0.0, under_high - under_low))


def _mean_phi(distance: float, spread: float, lead_room: Decimal) -> float:
    """Return the normal distribution function at distance / spread, averaged over a shift of 0 to
    `lead_room`."""
    start = distance / spread
    if lead_room == 0:
        return _phi(start)
    end = (distance + float(lead_room)) / spread
    return (_phi_integral(end) - _phi_integral(start)) / (end - start)


def _phi(z: float) -> float:
    return (1 + erf(z / sqrt(2))) / 2


def _phi_integral(z: float) -> float:
    return z * _phi(z) + exp(-min(z * z / 2, 700.0)) / sqrt(2 * pi)


def _low(limits: Limits) -> Decimal | None:
    """Return the lower limit where it is one: nothing can read less than zero ohms."""
    if limits.low is None or (limits.low <= 0 and limits.unit in _NEVER_NEGATIVE):
        return None
    return limits.low


def _span(limits: Limits) -> str:
    low = _low(limits)
    if low is not None and limits.high is not None:
        return between(low, limits.high, limits.unit)
    if limits.high is not None:
        return f"{in_words(limits.high, limits.unit)} or less"
    return "over range" if low is None else f"{in_words(low, limits.unit)} or more"


def _limit(limits: Limits) -> str:
    """Return the limits as something to be beyond: the one figure where there is only one."""
    low = _low(limits)
    if low is None and limits.high is not None:
        return in_words(limits.high, limits.unit)
    if limits.high is None and low is not None:
        return in_words(low, limits.unit)
    return _span(limits)


def _inside_words(limits: Limits) -> str:
    two_sided = _low(limits) is not None and limits.high is not None
    return f"within {_span(limits)}" if two_sided else f"within limits, {_span(limits)},"


def _marginal_words(value: Decimal, limits: Limits, probability: float) -> str:
    in_100 = min(round(100 * probability), 99)
    if _is_inside(value, limits):
        return f"is too close to {_limit(limits)} to be sure, {in_100} in 100 that it is inside,"
    if in_100 >= 1:
        return f"is just outside {_limit(limits)}, {in_100} in 100 that it is inside,"
    return f"is outside {_limit(limits)} but not by enough to fail"


def _hint(value: Decimal, limits: Limits) -> str:
    for hint in limits.hints:
        if hint.low <= value <= hint.high:
            return f"; {hint.words}"
    return ""
