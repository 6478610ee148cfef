"""What the voltages at an appliance's terminal block say of its supply.

Told by how the pairs stand to each other (leg to leg is the sum of the legs in a split-phase supply, 1.73
times one leg in a 208Y supply, their difference where both are the same leg), then by how high they are.
Nothing here proves a circuit dead: that is `limits_absent_of_voltage` on every pair.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from voicetech.electrical import supply_findings as say
from voicetech.electrical.joint import Joint, joint_from_drop
from voicetech.electrical.meter import Meter, uncertainty
from voicetech.electrical.service_voltage import (
    LEG_V,
    NEUTRAL_TO_FRAME_HIGH_V,
    SHOCK_V,
    SPLIT_V,
    WYE_V,
    trade_band,
)
from voicetech.electrical.supply_findings import Leg, SupplyFinding, SupplyKind
from voicetech.units import Unit

__all__ = ["Leg", "SupplyFinding", "SupplyKind", "SupplyReadings", "classify_supply"]

DEAD_V = Decimal(1)
ABSENT_LEG_V = Decimal(5)
"""A leg this low beside a live one is taken as gone. Source: common practice, no source."""
COUPLED_PART = Decimal("0.85")
"""What a dead conductor beside a live one may show of its voltage on a high-impedance meter.

Source: two public pages on ghost voltages, 80 to 85 percent (read).
"""
LIVE_LEG_V = Decimal(60)
"""Half of nominal; no supply runs an appliance below it. Source: common practice, no source."""
UNEQUAL_LEGS_V = Decimal(10)
"""Sound legs seldom differ by more. Source: common practice, no source."""
HIGH_LEG_V = Decimal(126)
"""Range A ends here; a bad joint never lifts a leg above it. Source: ANSI C84.1 (read at second hand)."""
LOWEST_SURE_V = Decimal(96)
"""80 percent of 120 volts. Below it a high-impedance meter may be showing a coupled voltage, which reaches
80 to 85 percent of line. Source: two public pages on ghost voltage (read)."""
FIT_PART = Decimal("0.02")
FIT_V = Decimal(3)
SAG_PART = Decimal("0.05")
"""Feeder and branch together. Source: NEC 210.19(A) informational note (read at second hand)."""
SWING_V = Decimal(4)
MOST_V = Decimal(1000)


@dataclass(frozen=True, slots=True)
class SupplyReadings:
    """Volts at the block, None where a pair was not measured.

    On a circuit without a neutral give leg to frame; the legs are then judged to the frame.
    """

    l1_l2: Decimal
    l1_n: Decimal | None
    l2_n: Decimal | None
    n_frame: Decimal | None = None
    l1_frame: Decimal | None = None
    l2_frame: Decimal | None = None

    def given(self) -> tuple[Decimal, ...]:
        """Return every voltage that was measured."""
        pairs = (self.l1_l2, self.l1_n, self.l2_n, self.n_frame, self.l1_frame, self.l2_frame)
        return tuple(volts for volts in pairs if volts is not None)


class _Angle(StrEnum):
    """How the two legs stand to each other."""

    OPPOSITE = "opposite"
    WYE = "wye"
    SAME = "same"
    QUARTER = "quarter"


@dataclass(frozen=True, slots=True)
class _Legs:
    """The three voltages that decide, and what the meter and the circuit allow to conclude."""

    l1: Decimal
    l2: Decimal
    across: Decimal
    may_be_coupled: bool
    nothing_connected: bool
    room_v: Decimal
    to_frame: bool

    @property
    def high(self) -> Decimal:
        return max(self.l1, self.l2)

    @property
    def low(self) -> Decimal:
        return min(self.l1, self.l2)

    @property
    def lower(self) -> Leg:
        return Leg.L1 if self.l1 < self.l2 else Leg.L2

    @property
    def ratio(self) -> Decimal | None:
        mean = (self.l1 + self.l2) / 2
        return None if mean == 0 else self.across / mean


def classify_supply(
    idle: SupplyReadings,
    loaded: SupplyReadings | None,
    meter: Meter,
    current_a: Decimal | None = None,
    nothing_connected: bool = False,
) -> SupplyFinding:
    """Return what the supply is or what is wrong with it; every set of readings returns a finding.

    `current_a` is what the load draws in the loaded readings and sizes the joint. `nothing_connected` says
    that the idle readings were taken with the appliance unplugged, so that no element can feed one leg from
    the other.
    """
    if _impossible(idle) or (loaded is not None and _impossible(loaded)):
        return say.impossible()
    finding = _idle(idle, meter, nothing_connected)
    if loaded is not None:
        finding = _under_load(finding, idle, loaded, meter, current_a)
    return _with_frame(finding, idle, loaded)


def _impossible(readings: SupplyReadings) -> bool:
    return any(not volts.is_finite() or not 0 <= volts <= MOST_V for volts in readings.given())


def _legs(readings: SupplyReadings, meter: Meter, loaded: bool, nothing_connected: bool) -> _Legs | None:
    l1, l2 = readings.l1_n, readings.l2_n
    to_frame = l1 is None or l2 is None
    if to_frame:
        l1, l2 = readings.l1_frame, readings.l2_frame
    if l1 is None or l2 is None:
        return None
    room = sum((uncertainty(volts, Unit.VOLT, meter).expanded for volts in (l1, l2)), Decimal(0))
    may_be_coupled = not loaded and not meter.low_impedance
    return _Legs(l1, l2, readings.l1_l2, may_be_coupled, nothing_connected, FIT_V + room, to_frame)


def _idle(readings: SupplyReadings, meter: Meter, nothing_connected: bool) -> SupplyFinding:
    legs = _legs(readings, meter, loaded=False, nothing_connected=nothing_connected)
    if legs is None:
        return say.legs_not_measured(readings.l1_l2)
    if max(legs.l1, legs.l2, legs.across) <= DEAD_V and max(readings.given()) > DEAD_V:
        return say.live_to_frame(max(readings.given()))
    finding = _from_legs(legs)
    return replace(finding, ratio=legs.ratio)


def _from_legs(legs: _Legs) -> SupplyFinding:
    finding = _by_three(legs)
    return _told_to_frame(finding, legs) if legs.to_frame else finding


def _told_to_frame(finding: SupplyFinding, legs: _Legs) -> SupplyFinding:
    floats = finding.kind is SupplyKind.OPEN_NEUTRAL and legs.high < LIVE_LEG_V
    return say.measured_to_frame(finding, frame_floats=floats)


def _by_three(legs: _Legs) -> SupplyFinding:
    if max(legs.high, legs.across) <= DEAD_V:
        return say.both_dead()
    if legs.across >= 180 and legs.high < LIVE_LEG_V:
        return say.neutral_not_there(legs.across)
    if legs.high < LIVE_LEG_V:
        return _weak(legs)
    if legs.may_be_coupled and legs.high < LOWEST_SURE_V:
        return say.coupled(None, legs.high)
    if legs.low <= ABSENT_LEG_V:
        return _one_leg_absent(legs)
    if _neutral_on_a_leg(legs):
        return say.neutral_swapped(legs.lower, legs.l1, legs.l2, legs.across)
    match _angle(legs):
        case _Angle.SAME:
            return _same_leg(legs)
        case _Angle.OPPOSITE:
            return _split_phase(legs)
        case _Angle.WYE:
            return _wye(legs)
        case _Angle.QUARTER:
            return say.high_leg(legs.high)
        case None:
            if legs.may_be_coupled and legs.low < legs.high * COUPLED_PART and legs.across < legs.high:
                return say.coupled(legs.lower, legs.low)
            return say.unfitting(legs.l1, legs.l2, legs.across, legs.ratio)


def _weak(legs: _Legs) -> SupplyFinding:
    most = max(legs.high, legs.across)
    return say.coupled(None, most) if legs.may_be_coupled else say.unexplained(most)


def _one_leg_absent(legs: _Legs) -> SupplyFinding:
    if legs.high >= 180 and abs(legs.across - legs.high) <= _room(legs):
        return say.open_neutral(legs.l1, legs.l2, legs.across)
    if legs.high > HIGH_LEG_V and legs.across > legs.high:
        # A lamp or a clock ties the floating neutral to one leg, and a meter on low impedance pulls it off again.
        return say.open_neutral(legs.l1, legs.l2, legs.across)
    if legs.across > legs.high + _room(legs):
        return say.unfitting(legs.l1, legs.l2, legs.across, legs.ratio)
    return say.lost_leg(legs.lower, legs.high, legs.low)


def _neutral_on_a_leg(legs: _Legs) -> bool:
    """Return whether leg to leg is where a leg to neutral belongs, and the other way round."""
    leg = trade_band(LEG_V)
    half = all(leg.low_v <= volts <= leg.high_v for volts in (legs.low, legs.across))
    return half and trade_band(WYE_V).low_v <= legs.high <= trade_band(SPLIT_V).high_v


def _room(legs: _Legs) -> Decimal:
    return legs.room_v + FIT_PART * (legs.l1 + legs.l2)


def _angle(legs: _Legs) -> _Angle | None:
    a, b = legs.l1, legs.l2
    expected = {
        _Angle.OPPOSITE: a + b,
        _Angle.WYE: (a * a + b * b + a * b).sqrt(),
        _Angle.SAME: abs(a - b),
        _Angle.QUARTER: (a * a + b * b).sqrt(),
    }
    if not (legs.low * 3 / 2 < legs.high < legs.low * 2 and legs.high > WYE_V * 9 / 10):
        del expected[_Angle.QUARTER]
    nearest = min(expected, key=lambda angle: abs(expected[angle] - legs.across))
    return nearest if abs(expected[nearest] - legs.across) <= _room(legs) else None


def _same_leg(legs: _Legs) -> SupplyFinding:
    if legs.high - legs.low > ABSENT_LEG_V:
        return say.backfed_in_part(legs.lower, legs.high, legs.low, legs.across)
    if legs.nothing_connected:
        return say.one_leg_twice(legs.l1, legs.l2, legs.across)
    return say.backfed(legs.l1, legs.l2, legs.across)


def _split_phase(legs: _Legs) -> SupplyFinding:
    if legs.high - legs.low > UNEQUAL_LEGS_V:
        if _neutral_moved(legs):
            return say.open_neutral(legs.l1, legs.l2, legs.across)
        if legs.may_be_coupled and legs.low < legs.high / 2:
            return say.coupled(legs.lower, legs.low)
        return say.low_leg(legs.lower, legs.high, legs.low, legs.across)
    return _height(legs, SupplyKind.SPLIT_PHASE, SPLIT_V)


def _neutral_moved(legs: _Legs) -> bool:
    off_if_neutral = abs(legs.across / 2 - LEG_V)
    off_if_joint = abs(legs.high - LEG_V)
    return legs.high > HIGH_LEG_V or off_if_neutral <= off_if_joint


def _wye(legs: _Legs) -> SupplyFinding:
    if legs.high - legs.low > UNEQUAL_LEGS_V:
        return say.low_leg(legs.lower, legs.high, legs.low, legs.across)
    return _height(legs, SupplyKind.WYE_208, WYE_V)


def _height(legs: _Legs, kind: SupplyKind, nominal_v: Decimal) -> SupplyFinding:
    across_band, leg_band = trade_band(nominal_v), trade_band(LEG_V)
    if legs.across > across_band.high_v or legs.high > leg_band.high_v:
        return say.high_overall(kind, legs.l1, legs.l2, legs.across, nominal_v)
    if legs.across < across_band.low_v or legs.low < leg_band.low_v:
        return say.low_overall(kind, legs.l1, legs.l2, legs.across, nominal_v)
    return say.sound(kind, legs.l1, legs.l2, legs.across, nominal_v)


def _under_load(
    finding: SupplyFinding,
    idle: SupplyReadings,
    loaded: SupplyReadings,
    meter: Meter,
    current_a: Decimal | None,
) -> SupplyFinding:
    now = _legs(loaded, meter, loaded=True, nothing_connected=False)
    before = _legs(idle, meter, loaded=False, nothing_connected=False)
    if finding.kind is SupplyKind.COUPLED_VOLTAGE and now is not None:
        return say.load_decides(replace(_from_legs(now), ratio=now.ratio))
    if finding.kind is SupplyKind.LOST_LEG and now is not None:
        after = _from_legs(now)
        return after if after.kind is SupplyKind.LOST_LEG_BACKFED and after.leg is finding.leg else finding
    if finding.kind is SupplyKind.UNCLEAR and now is not None:
        after = _from_legs(now)
        return finding if after.sound else replace(after, ratio=now.ratio)
    remark = say.loaded_remark(idle.l1_l2, loaded.l1_l2)
    if finding.kind is SupplyKind.LOW_LEG:
        return replace(finding, remarks=(*finding.remarks, remark))
    if not finding.sound and finding.kind is not SupplyKind.LOW_OVERALL:
        return finding
    if before is not None and now is not None and _swings(before, now):
        found = say.open_neutral_under_load(now.l1, now.l2, now.across)
        return _told_to_frame(found, now) if now.to_frame else found
    sag = _sag(idle.l1_l2, loaded.l1_l2, before, now)
    if sag is not None:
        found = say.collapses(sag.leg, sag.scope, sag.idle_v, sag.loaded_v, _joint(sag, current_a))
        return replace(found, ratio=finding.ratio)
    if not finding.sound:
        return replace(finding, remarks=(*finding.remarks, remark))
    if now is None:
        more = say.loses_more_than_wire(idle.l1_l2, loaded.l1_l2)
        return say.across_alone(finding, remark, more_than_wire=more)
    after = _from_legs(now)
    if after.sound and after.kind is finding.kind:
        return say.holds(finding, remark)
    return replace(after, ratio=finding.ratio, remarks=(*after.remarks, remark))


def _swings(before: _Legs, now: _Legs) -> bool:
    rises = (now.l1 - before.l1, now.l2 - before.l2)
    return max(rises) > SWING_V and min(rises) < -SWING_V


@dataclass(frozen=True, slots=True)
class _Sag:
    """A fall under load that is more than wire explains."""

    leg: Leg | None
    scope: say.SagScope
    idle_v: Decimal
    loaded_v: Decimal


def _sag(idle_across: Decimal, loaded_across: Decimal, before: _Legs | None, now: _Legs | None) -> _Sag | None:
    too_much = idle_across - loaded_across > SAG_PART * idle_across
    if before is None or now is None:
        return _Sag(None, say.SagScope.NOT_KNOWN, idle_across, loaded_across) if too_much else None
    legs = {Leg.L1: (before.l1, now.l1), Leg.L2: (before.l2, now.l2)}
    drops = {leg: idle_v - loaded_v for leg, (idle_v, loaded_v) in legs.items()}
    worse, better = (Leg.L1, Leg.L2) if drops[Leg.L1] > drops[Leg.L2] else (Leg.L2, Leg.L1)
    if too_much and loaded_across <= ABSENT_LEG_V:
        leg = worse if drops[worse] - drops[better] > 1 else None
        return _Sag(leg, say.SagScope.OPENS, idle_across, loaded_across)
    if drops[worse] > SAG_PART * legs[worse][0] and drops[worse] >= 2 * drops[better]:
        return _Sag(worse, say.SagScope.ONE_LEG, *legs[worse])
    return _Sag(None, say.SagScope.BOTH_LEGS, idle_across, loaded_across) if too_much else None


def _joint(sag: _Sag, current_a: Decimal | None) -> Joint | None:
    if current_a is None or not current_a.is_finite() or current_a <= 0:
        return None
    return joint_from_drop(sag.idle_v - sag.loaded_v, current_a)


def _with_frame(finding: SupplyFinding, idle: SupplyReadings, loaded: SupplyReadings | None) -> SupplyFinding:
    if _frame_floats(idle):
        return say.frame_not_grounded(finding)
    neutral = max((r.n_frame for r in (idle, loaded) if r is not None and r.n_frame is not None), default=None)
    if neutral is None or neutral <= NEUTRAL_TO_FRAME_HIGH_V:
        return finding
    return say.neutral_to_frame(finding, neutral, live=neutral > SHOCK_V)


def _frame_floats(readings: SupplyReadings) -> bool:
    legs = (readings.l1_n, readings.l2_n)
    to_frame = (readings.l1_frame, readings.l2_frame)
    return all(volts is not None and volts > LIVE_LEG_V for volts in legs) and all(
        volts is not None and volts < LIVE_LEG_V for volts in to_frame
    )
