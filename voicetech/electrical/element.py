"""What a heating element may read, from the watts and volts on its plate.

The one rule: rated resistance is volts squared over watts; a cold reading within 10 percent of it passes,
from 10 to 20 percent off is marginal, beyond 20 percent fails. Source: the trade's working limits, no
standard found.

Why that rule and not a tighter one: the power of a sound element may be 5 percent over or 10 percent under
its rating (IEC 60335-1 clause 10.1, from memory), which is 5 percent less to 11 percent more resistance,
and a cold element reads 5 to 10 percent less than a hot one (nickel-chromium, calculated from published
coefficients). Taken together a sound element lies between 13 percent under and 11 percent over the rated
figure: always inside the 20 percent, so no sound element fails, and mostly inside the 10.
"""

from dataclasses import dataclass, replace
from decimal import Decimal

from voicetech.electrical.limits import Hint, Limits
from voicetech.electrical.words import in_words, plain, rounded
from voicetech.units import Unit

PASS_PART = Decimal("0.10")
MARGINAL_PART = Decimal("0.20")
WORKING_LIMITS_SOURCE = "volts squared over watts; trade's working limits: pass within 10 %, marginal to 20 %"
POWER_OVER = Decimal("1.05")
POWER_UNDER = Decimal("0.90")
HOT_OVER_COLD = (Decimal("1.05"), Decimal("1.10"))
SHORTED_BELOW_OHM = Decimal(1)
LARGEST_LEAKAGE_A = Decimal("0.010")
INSULATION_OHM = Decimal(1_000_000)
HEATING_INSULATION_OHM = Decimal(300_000)
"""The largest leakage any range is allowed. Source: IEC 60335-2-6 clause 13.2 (from memory, not
confirmed)."""
SHEATH_FAILS_BELOW_OHM = Decimal(120) / LARGEST_LEAKAGE_A
"""A path to the sheath that would leak more than that at 120 volts to frame: 12 kilohms (calculated)."""
_OTHER_VOLTS_PART = Decimal("0.07")
_MOST_WATTS = Decimal(50_000)
_MOST_VOLTS = Decimal(1_000)
_FIGURE_OF = {"watts": _MOST_WATTS, "volts": _MOST_VOLTS}


@dataclass(frozen=True, slots=True)
class SoundSpan:
    """The lowest and highest cold resistance of a sound element, in ohms."""

    low_ohm: Decimal
    high_ohm: Decimal


def _check(name: str, value: Decimal) -> None:
    most = _FIGURE_OF[name]
    if not value.is_finite() or not 0 < value <= most:
        raise ValueError(f"{name} must be more than 0 and at most {plain(most)}; read the plate again ({value})")


def rated_resistance_ohm(watts: Decimal, volts: Decimal) -> Decimal:
    """Return volts squared over watts.

    Raises ValueError where watts or volts cannot be a plate's.
    """
    _check("watts", watts)
    _check("volts", volts)
    return volts * volts / watts


def sound_span(watts: Decimal, volts: Decimal) -> SoundSpan:
    """Return the cold resistance a sound element can have at the ends of its power tolerance and alloy.

    Source: IEC 60335-1 clause 10.1 (from memory); hot over cold 1.05 to 1.10 (calculated from published
    nickel-chromium coefficients). The high end takes no rise at all, because an element may be cold-rated.
    """
    rated = rated_resistance_ohm(watts, volts)
    return SoundSpan(rated / POWER_OVER / HOT_OVER_COLD[1], rated / POWER_UNDER)


def power_at_w(watts: Decimal, rated_v: Decimal, measured_v: Decimal) -> Decimal:
    """Return the power at the measured voltage, taking the resistance as constant."""
    return measured_v * measured_v / rated_resistance_ohm(watts, rated_v)


def current_at_a(watts: Decimal, rated_v: Decimal, measured_v: Decimal) -> Decimal:
    """Return the current at the measured voltage, taking the resistance as constant."""
    return measured_v / rated_resistance_ohm(watts, rated_v)


def element_limits(watts: Decimal, volts: Decimal) -> Limits:
    """Return what the cold element may read end to end, one wire off, leads nulled.

    The figures are rounded to the last digit of a handheld meter, so that what is said is what is judged.
    Raises ValueError where watts or volts cannot be a plate's.
    """
    rated = rated_resistance_ohm(watts, volts)
    step = "0.1" if rated >= 2 else "0.001"
    low, high = rounded(rated * (1 - PASS_PART), step), rounded(rated * (1 + PASS_PART), step)
    marginal_low = rounded(rated * (1 - MARGINAL_PART), step)
    marginal_high = rounded(rated * (1 + MARGINAL_PART), step)
    return Limits(
        low=low,
        high=high,
        marginal_low=marginal_low,
        marginal_high=marginal_high,
        unit=Unit.OHM,
        safety=False,
        source=WORKING_LIMITS_SOURCE,
        reason=f"for a {plain(watts)} watt element at {in_words(volts, Unit.VOLT)}",
        hints=_element_hints(rated, volts, marginal_low, marginal_high),
    )


@dataclass(frozen=True, slots=True)
class TwoCircuits:
    """What an element of two circuits may read: each from its end to the common terminal, and end to end.

    `end_to_end` is both in a row, as a meter finds them with every wire off; `both_w` is what they make side by side.
    """

    first: Limits
    second: Limits
    end_to_end: Limits
    both_w: Decimal


def two_circuit_limits(first_w: Decimal, second_w: Decimal, volts: Decimal) -> TwoCircuits:
    """Return the limits of an element with two circuits and a common terminal: dual ring, or inner and outer coil.

    Raises ValueError where watts or volts cannot be a plate's. Source: volts squared over watts for each; ohms in a
    row add (arithmetic).
    """
    first, second = element_limits(first_w, volts), element_limits(second_w, volts)

    def added(one: Decimal | None, other: Decimal | None) -> Decimal | None:
        return None if one is None or other is None else one + other

    row = replace(
        first,
        low=added(first.low, second.low),
        high=added(first.high, second.high),
        marginal_low=added(first.marginal_low, second.marginal_low),
        marginal_high=added(first.marginal_high, second.marginal_high),
        reason=f"for both circuits in a row, {plain(first_w)} and {plain(second_w)} watts at "
        f"{in_words(volts, Unit.VOLT)}",
        hints=(Hint(Decimal(0), SHORTED_BELOW_OHM, "the two ends are joined: a shorted element or a wrong terminal"),),
    )
    return TwoCircuits(first, second, row, first_w + second_w)


def _element_hints(rated: Decimal, volts: Decimal, marginal_low: Decimal, marginal_high: Decimal) -> tuple[Hint, ...]:
    hints = [
        Hint(Decimal(0), min(SHORTED_BELOW_OHM, rated / 2), "that is a shorted element"),
        *_other_voltage(rated, volts),
        Hint(Decimal(0), marginal_low, "check that one wire is off, then the plate"),
        Hint(
            marginal_high,
            Decimal(1_000_000_000),
            "elements burn open rather than drift up: check that one wire is off, then the plate",
        ),
    ]
    return tuple(hints)


def _other_voltage(rated: Decimal, volts: Decimal) -> tuple[Hint, ...]:
    if Decimal(230) <= volts <= Decimal(250):
        other = Decimal(208)
    elif Decimal(200) <= volts <= Decimal(216):
        other = Decimal(240)
    else:
        return ()
    part_ohm = rated * other * other / (volts * volts)
    return (
        Hint(
            part_ohm * (1 - _OTHER_VOLTS_PART),
            part_ohm * (1 + _OTHER_VOLTS_PART),
            f"that fits a {plain(other)} volt part",
        ),
    )


def current_limits(watts: Decimal, rated_v: Decimal, measured_v: Decimal) -> Limits:
    """Return what the element may draw at the measured voltage, by the same rule as its resistance.

    Raises ValueError where watts or volts cannot be a plate's.
    """
    _check("volts", measured_v)
    current = current_at_a(watts, rated_v, measured_v)
    return Limits(
        low=rounded(current * (1 - PASS_PART), "0.1"),
        high=rounded(current * (1 + PASS_PART), "0.1"),
        marginal_low=rounded(current * (1 - MARGINAL_PART), "0.1"),
        marginal_high=rounded(current * (1 + MARGINAL_PART), "0.1"),
        unit=Unit.AMPERE,
        safety=False,
        source=WORKING_LIMITS_SOURCE,
        reason=f"for a {plain(watts)} watt element with {in_words(measured_v, Unit.VOLT)} across it",
        hints=(
            Hint(
                Decimal(0),
                Decimal("0.1") * current,
                "voltage across it and no current means the element is open, even if only when hot",
            ),
        ),
    )


def sheath_limits_when_cold() -> Limits:
    """Return what a terminal may read to the sheath of an element that trips its breaker only once it is hot.

    Over range is marginal: a handheld meter's few volts do not show a path that opens up with heat and at working
    voltage. Source: a practitioner's report of such an element (read), open cold and found at 500 volts.
    """
    return replace(
        sheath_limits(),
        open_proves=False,
        reason=(
            "from a terminal to the sheath, which clears nothing here: a path that trips only when hot hides from "
            "a meter's few volts"
        ),
    )


def insulation_limits() -> Limits:
    """Return what an insulation tester at 500 volts d.c. has to show from a terminal to the sheath.

    Source: three public pages on in-service tests (read): 1 megohm, for heating appliances 0.3 megohm. They differ on
    whether the lower figure is for less or for more than 3 kilowatts, so what lies between is marginal.
    """
    return Limits(
        low=INSULATION_OHM,
        high=None,
        marginal_low=HEATING_INSULATION_OHM,
        unit=Unit.OHM,
        safety=False,
        source="public pages on in-service tests (read): 1 megohm at 500 volts d.c., heating appliances 0.3 megohm",
        reason="from a terminal to the sheath at 500 volts",
        guarded=False,
        less_leads=False,
    )


def sheath_limits() -> Limits:
    """Return what a terminal may read to the sheath or frame: over range only.

    From 12 kilohms up a number is marginal (damp elements recover: dry it out and repeat); below, a path
    that would leak more than any range is allowed, it fails. A handheld meter applies a few volts, so over
    range does not prove the insulation at working voltage.

    Source: common practice, no source, for "must read open"; IEC 60335-2-6 clause 13.2 (from memory, not
    confirmed) for 10 milliamps.
    """
    return Limits(
        low=None,
        high=None,
        marginal_low=SHEATH_FAILS_BELOW_OHM,
        unit=Unit.OHM,
        expect_open=True,
        safety=True,
        source=(
            "common practice, no source: terminal to sheath must be open; 12 kilohms is 10 milliamps at "
            "120 volts, IEC 60335-2-6 clause 13.2 (from memory)"
        ),
        reason="from a terminal to the sheath",
        hints=(
            Hint(
                SHEATH_FAILS_BELOW_OHM,
                Decimal(1_000_000_000_000),
                "dry it out and measure again, or have it tested at 500 volts",
            ),
        ),
    )
