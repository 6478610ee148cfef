"""How far a supply may be from its nominal voltage: the trade's rule, and ANSI C84.1's ranges."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from voicetech.electrical.limits import Limits
from voicetech.electrical.words import in_words, plain, rounded
from voicetech.units import Unit

TRADE_PART = Decimal("0.10")
TRADE_SOURCE = "appliance trade: nominal volts plus or minus 10 % at the terminal block (public trade page, read)"
ABSENT_V = Decimal(1)
COUPLED_AT_MOST_V = Decimal(102)
"""A coupled voltage can show up to 85 percent of a 120 volt line on a high-impedance meter. Source: two
public pages on ghost voltage (read)."""

SPLIT_V = Decimal(240)
WYE_V = Decimal(208)
LEG_V = Decimal(120)
LEG_NAMES = frozenset({"L1", "L2", "X", "Y"})
"""How the hot ends of a pair are called, at a block and at an outlet. Source: NEMA markings (from memory)."""
NEUTRAL_TO_FRAME_HIGH_V = Decimal(3)
"""Source: a public page on dryer outlets (read): tenths idle, up to a couple of volts with a load."""
SHOCK_V = Decimal(30)
"""From here on it is a shock hazard. Source: common practice, no source."""


class AnsiRange(StrEnum):
    """A is what a system is built for; B is for short times, outside it correct promptly."""

    A = "A"
    B = "B"


class MeasuredAt(StrEnum):
    """Service is where the utility delivers; utilization is at the appliance."""

    SERVICE = "service"
    UTILIZATION = "utilization"


@dataclass(frozen=True, slots=True)
class Band:
    """The lowest and highest voltage, in volts."""

    low_v: Decimal
    high_v: Decimal

    def holds(self, volts: Decimal) -> bool:
        """Return whether the voltage is inside, ends included."""
        return self.low_v <= volts <= self.high_v


_PER_UNIT: dict[tuple[AnsiRange, MeasuredAt], tuple[Decimal, Decimal]] = {
    (AnsiRange.A, MeasuredAt.SERVICE): (Decimal("0.95"), Decimal("1.05")),
    (AnsiRange.A, MeasuredAt.UTILIZATION): (Decimal("0.90"), Decimal("1.05")),
    (AnsiRange.B, MeasuredAt.SERVICE): (Decimal("0.917"), Decimal("1.058")),
    (AnsiRange.B, MeasuredAt.UTILIZATION): (Decimal("0.867"), Decimal("1.058")),
}
ANSI_SOURCE = {
    AnsiRange.A: "ANSI C84.1 range A, per-unit figures (read at second hand), volts calculated",
    AnsiRange.B: "ANSI C84.1 range B, service figures read at second hand, utilization minimum from memory",
}


def trade_band(nominal_v: Decimal) -> Band:
    """Return the trade's plus or minus 10 percent of the nominal voltage."""
    return Band(nominal_v * (1 - TRADE_PART), nominal_v * (1 + TRADE_PART))


def ansi_band(nominal_v: Decimal, ansi_range: AnsiRange, measured_at: MeasuredAt) -> Band:
    """Return the ANSI C84.1 band for the nominal voltage, rounded to whole volts.

    Source: ANSI C84.1, table 1; see `ANSI_SOURCE` for how each figure was read.
    """
    low, high = _PER_UNIT[ansi_range, measured_at]
    return Band(rounded(nominal_v * low, "1"), rounded(nominal_v * high, "1"))


def supply_limits(nominal_v: Decimal) -> Limits:
    """Return the trade's limits for one pair of a supply: 240 and 208 leg to leg, 120 leg to neutral.

    Raises ValueError where the nominal voltage is not above zero.
    """
    return _limits(nominal_v, trade_band(_nominal(nominal_v)), TRADE_SOURCE)


def ansi_supply_limits(nominal_v: Decimal, ansi_range: AnsiRange, measured_at: MeasuredAt) -> Limits:
    """Return ANSI C84.1's limits for one pair of a supply.

    Raises ValueError where the nominal voltage is not above zero.
    """
    band = ansi_band(_nominal(nominal_v), ansi_range, measured_at)
    return _limits(nominal_v, band, ANSI_SOURCE[ansi_range])


def _nominal(nominal_v: Decimal) -> Decimal:
    if not nominal_v.is_finite() or nominal_v <= 0:
        raise ValueError(f"a nominal voltage is above zero, such as 240; got {nominal_v}")
    return nominal_v


def _limits(nominal_v: Decimal, band: Band, source: str) -> Limits:
    return Limits(
        low=band.low_v,
        high=band.high_v,
        unit=Unit.VOLT,
        safety=False,
        source=source,
        reason=f"for a {plain(nominal_v)} volt supply",
    )


def supply_pair_limits(first: str, second: str) -> Limits:
    """Return what one pair at a terminal block or outlet may read by itself, its ends named L1, L2, N, frame, X, Y, W.

    Leg to leg it runs from a 208 volt supply's lowest to a 240 volt supply's highest. What the pairs mean together is
    `supply.classify_supply`'s to say. Source: the trade's plus or minus 10 percent; for neutral to frame a public page
    on dryer outlets (read): tenths idle, up to a couple of volts with a load.
    """
    ends = {first, second}
    if not ends & LEG_NAMES:
        return Limits(
            low=Decimal(0),
            high=NEUTRAL_TO_FRAME_HIGH_V,
            unit=Unit.VOLT,
            safety=False,
            source="public page on dryer outlets (read): tenths of a volt idle, a couple with a load",
            reason="between neutral and frame",
            guarded=False,
        )
    leg_to_leg = ends <= LEG_NAMES
    band = Band(trade_band(WYE_V).low_v, trade_band(SPLIT_V).high_v) if leg_to_leg else trade_band(LEG_V)
    return Limits(
        low=band.low_v,
        high=band.high_v,
        unit=Unit.VOLT,
        safety=False,
        source=TRADE_SOURCE,
        reason="leg to leg" if leg_to_leg else "from a leg to neutral or frame",
        guarded=False,
    )


def touch_voltage_limits() -> Limits:
    """Return what the frame may read to a known earth or to other metal in reach.

    Source: common practice, no source: a couple of volts; from 30 volts on it is a shock hazard and never marginal.
    """
    return Limits(
        low=Decimal(0),
        high=NEUTRAL_TO_FRAME_HIGH_V,
        marginal_high=SHOCK_V,
        unit=Unit.VOLT,
        safety=False,
        source="common practice, no source: a couple of volts at most, 30 volts and more is a shock hazard",
        reason="between metal parts that can be touched",
        guarded=False,
    )


def limits_absent_of_voltage() -> Limits:
    """Return what each pair may read to count as dead, on a low-impedance meter: 1 volt or less.

    1 volt is what the meter must show, so no band is added to it. One pair proves nothing by itself.

    Source: common practice, no source, for 1 volt.
    """
    return Limits(
        low=Decimal(0),
        high=ABSENT_V,
        unit=Unit.VOLT,
        safety=True,
        source="common practice, no source: 1 volt or less on every pair with a low-impedance meter",
        reason=f"on this pair; {in_words(ABSENT_V, Unit.VOLT)} is the most",
        guarded=False,
        repeat_below=COUPLED_AT_MOST_V,
    )
