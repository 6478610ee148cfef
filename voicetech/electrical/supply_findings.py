"""What each finding about a supply means, in words and numbers, what to do about it, and who takes over."""

from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import Final

from voicetech.electrical.joint import Joint
from voicetech.electrical.service_voltage import TRADE_SOURCE, AnsiRange, MeasuredAt, ansi_band
from voicetech.electrical.words import in_words, plain, rounded
from voicetech.units import Unit

ELECTRICIAN = "a licensed electrician"
UTILITY = "the utility and a licensed electrician"
_RATIO_SOURCE = "common practice and arithmetic: split phase 2.00, 208Y 1.73"
_LOST_LEG_SOURCE = "common practice, no source; arithmetic of a leg fed through an element"
_JOINT_SOURCE = "a range service manual (read): good idle and bad loaded is a joint, breaker or fuse"
_NEUTRAL_SOURCE = "common practice, no source: leg to leg holds, one leg rises as the other falls"
_COUPLED_SOURCE = "two public pages on ghost voltage (read): up to 85 % of line, gone on low impedance"
_WIRE_PERCENT: Final = Decimal(3)
"""What the wire of a good branch circuit may lose. Source: NFPA 70, note to 210.19, 3 percent, from memory."""


class SupplyKind(StrEnum):
    """What a supply is, or what is wrong with it; the values are the outcome names a procedure uses."""

    SPLIT_PHASE = "split-phase"
    WYE_208 = "208y"
    LOST_LEG = "lost-leg"
    LOST_LEG_BACKFED = "lost-leg-backfed"
    ONE_LEG_TWICE = "one-leg-twice"
    BOTH_LEGS_DEAD = "both-legs-dead"
    OPEN_NEUTRAL = "open-neutral"
    NEUTRAL_SWAPPED = "neutral-swapped"
    LOW_LEG = "low-leg"
    LOW_OVERALL = "low-overall"
    HIGH_OVERALL = "high-overall"
    COLLAPSES_UNDER_LOAD = "collapses-under-load"
    COUPLED_VOLTAGE = "coupled-voltage"
    UNEXPLAINED_SOURCE = "unexplained-source"
    NEUTRAL_TO_FRAME = "neutral-to-frame"
    FRAME_NOT_GROUNDED = "frame-not-grounded"
    UNCLEAR = "unclear"


class Leg(StrEnum):
    """A hot conductor."""

    L1 = "L1"
    L2 = "L2"


@dataclass(frozen=True, slots=True)
class SupplyFinding:
    """One finding about the supply.

    `leg` is the one at fault where the readings tell. `hand_over` names who takes over: at once where
    `stop_work` is true, else when the fault lies upstream of what an appliance technician may open. `ratio`
    is leg to leg over the mean of the legs. `joint` is there where a drop and a current were measured.
    """

    kind: SupplyKind
    meaning: str
    action: str
    stop_work: bool
    hand_over: str | None
    source: str
    leg: Leg | None = None
    ratio: Decimal | None = None
    joint: Joint | None = None
    remarks: tuple[str, ...] = ()

    @property
    def sound(self) -> bool:
        """Return whether the supply is one that an appliance runs on."""
        return self.kind in {SupplyKind.SPLIT_PHASE, SupplyKind.WYE_208}


def _v(volts: Decimal) -> str:
    return in_words(rounded(volts, "0.1"), Unit.VOLT)


def _three(l1: Decimal, l2: Decimal, across: Decimal) -> str:
    return f"{plain(l1)} and {plain(l2)} to neutral, {_v(across)} leg to leg"


def _number(leg: Leg) -> str:
    return "one" if leg is Leg.L1 else "two"


def impossible() -> SupplyFinding:
    """Return that a figure cannot be a voltage on this supply."""
    return SupplyFinding(
        SupplyKind.UNCLEAR,
        "one of these cannot be a voltage here; alternating volts are between 0 and 1000",
        "check that the meter is on a.c. volts and measure again",
        stop_work=False,
        hand_over=None,
        source="common practice, no source",
    )


def legs_not_measured(across: Decimal) -> SupplyFinding:
    """Return that leg to leg alone does not tell."""
    return SupplyFinding(
        SupplyKind.UNCLEAR,
        f"{_v(across)} leg to leg does not tell one supply from another, and 0 would not mean dead",
        "measure each leg to neutral, or to the frame where there is no neutral",
        stop_work=False,
        hand_over=None,
        source=_RATIO_SOURCE,
    )


def unfitting(l1: Decimal, l2: Decimal, across: Decimal, ratio: Decimal | None) -> SupplyFinding:
    """Return that the three voltages do not belong to one supply."""
    told = "" if ratio is None else f"; leg to leg is {rounded(ratio, '0.01')} times the mean leg, not 2.00 or 1.73"
    return SupplyFinding(
        SupplyKind.UNCLEAR,
        f"these do not fit together: {_three(l1, l2, across)}{told}",
        "take all three again, one after the other, with nothing switched in between",
        stop_work=False,
        hand_over=ELECTRICIAN,
        source=_RATIO_SOURCE,
    )


def high_leg(leg_v: Decimal) -> SupplyFinding:
    """Return that one leg is the high leg of a delta supply."""
    return SupplyFinding(
        SupplyKind.UNCLEAR,
        f"one leg is {_v(leg_v)} to neutral with 240 leg to leg: a high-leg delta supply, wrong for this appliance",
        "switch off at the breaker and leave it off",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source="arithmetic of a four-wire delta, from memory",
    )


def both_dead() -> SupplyFinding:
    """Return that no voltage was found on any pair given."""
    return SupplyFinding(
        SupplyKind.BOTH_LEGS_DEAD,
        "no voltage on either leg; this is a supply finding and no proof of dead",
        "ask whether the breaker is tripped, and measure at the receptacle",
        stop_work=False,
        hand_over=ELECTRICIAN,
        source="common practice, no source",
    )


def live_to_frame(volts: Decimal) -> SupplyFinding:
    """Return that the pairs read nothing while something is live to the frame."""
    return SupplyFinding(
        SupplyKind.UNEXPLAINED_SOURCE,
        f"the legs read 0 to each other and to neutral, yet {_v(volts)} to the frame: it is not dead",
        "touch nothing, switch off at the panel and find what feeds it",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source="common practice, no source: every pair, frame included, decides",
    )


def coupled(leg: Leg | None, volts: Decimal) -> SupplyFinding:
    """Return that the voltage may be coupled or come through an open leg."""
    where = "these legs" if leg is None else f"leg {_number(leg)}"
    return SupplyFinding(
        SupplyKind.COUPLED_VOLTAGE,
        f"{_v(volts)} on {where} is neither live nor dead: a high-impedance meter shows it on an open wire",
        "measure again on low impedance; what stays there is a real source, what goes was coupled",
        stop_work=False,
        hand_over=ELECTRICIAN,
        source=_COUPLED_SOURCE,
        leg=leg,
    )


def unexplained(volts: Decimal) -> SupplyFinding:
    """Return that a low voltage stays on a low-impedance meter."""
    return SupplyFinding(
        SupplyKind.UNEXPLAINED_SOURCE,
        f"{_v(volts)} stays on low impedance: a real source, and no supply an appliance runs on",
        "stop, treat it as live and find the second feed",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source=_COUPLED_SOURCE,
    )


def neutral_not_there(across: Decimal) -> SupplyFinding:
    """Return that both legs are there but neither reads to neutral."""
    return SupplyFinding(
        SupplyKind.OPEN_NEUTRAL,
        f"{_v(across)} leg to leg and next to nothing to neutral: the neutral does not reach this point",
        "check the probe is on the neutral; if it is, switch off at the breaker",
        stop_work=True,
        hand_over=UTILITY,
        source=_NEUTRAL_SOURCE,
    )


def open_neutral(l1: Decimal, l2: Decimal, across: Decimal) -> SupplyFinding:
    """Return that the neutral is open or loose."""
    return SupplyFinding(
        SupplyKind.OPEN_NEUTRAL,
        f"open or loose neutral: leg to leg holds at {_v(across)}, the legs are {plain(l1)} and {plain(l2)}",
        "switch off at the breaker; tell the customer to unplug what runs on 120 volts",
        stop_work=True,
        hand_over=UTILITY,
        source=_NEUTRAL_SOURCE,
    )


def open_neutral_under_load(l1: Decimal, l2: Decimal, across: Decimal) -> SupplyFinding:
    """Return that the neutral lets go under load."""
    found = open_neutral(l1, l2, across)
    return replace(
        found,
        meaning=(
            f"loose neutral: under load one leg rises as the other falls, {plain(l1)} and {_v(l2)}, "
            f"with {_v(across)} leg to leg"
        ),
    )


def lost_leg(leg: Leg, other_v: Decimal, volts: Decimal) -> SupplyFinding:
    """Return that one leg is gone."""
    return SupplyFinding(
        SupplyKind.LOST_LEG,
        f"leg {_number(leg)} is lost: {_v(volts)} to neutral, with {_v(other_v)} on the other leg",
        "work back from block to cord, receptacle and breaker, measuring each; the other leg is still live",
        stop_work=False,
        hand_over=UTILITY,
        source=_LOST_LEG_SOURCE,
        leg=leg,
    )


def backfed(l1: Decimal, l2: Decimal, across: Decimal) -> SupplyFinding:
    """Return that one leg is lost and comes back through a closed element."""
    return SupplyFinding(
        SupplyKind.LOST_LEG_BACKFED,
        f"one leg is lost and comes back through a closed element: {_three(l1, l2, across)}; not dead",
        "switch every element off: the leg that falls is the lost one; if neither falls with the plug out, "
        "both hots are on one leg",
        stop_work=False,
        hand_over=ELECTRICIAN,
        source=_LOST_LEG_SOURCE,
    )


def backfed_in_part(leg: Leg, good_v: Decimal, volts: Decimal, across: Decimal) -> SupplyFinding:
    """Return that a lost leg is fed through an element and shares it with other loads on that leg."""
    return SupplyFinding(
        SupplyKind.LOST_LEG_BACKFED,
        f"leg {_number(leg)} is lost: its {_v(volts)} comes from the other leg, {plain(good_v)}, "
        f"with {_v(across)} across; other loads hang on it, so it is lost ahead of the panel",
        "switch off the appliance and every 240 volt load at the breaker; nothing here mends it",
        stop_work=True,
        hand_over=UTILITY,
        source=_LOST_LEG_SOURCE,
        leg=leg,
        remarks=("a coupled voltage looks like this too; low impedance tells them apart",),
    )


def one_leg_twice(l1: Decimal, l2: Decimal, across: Decimal) -> SupplyFinding:
    """Return that both hot wires are on the same leg."""
    return SupplyFinding(
        SupplyKind.ONE_LEG_TWICE,
        f"both hots are on the same leg: {_three(l1, l2, across)}, with nothing plugged in",
        "switch off; the circuit must be put on both legs at the panel",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source="common practice, no source: same potential with no path between them",
    )


def neutral_swapped(leg: Leg, l1: Decimal, l2: Decimal, across: Decimal) -> SupplyFinding:
    """Return that the neutral and a leg are on each other's terminals: `leg` names the one that holds the neutral."""
    return SupplyFinding(
        SupplyKind.NEUTRAL_SWAPPED,
        f"the neutral and leg {_number(leg)} are on each other's terminals: {_three(l1, l2, across)}; the neutral "
        "terminal is live, and so is a frame that is strapped to it",
        "switch off at the breaker and leave it off; cord and outlet have to be wired right before anything is touched",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source="arithmetic: one leg reads to the neutral terminal what belongs leg to leg, and the others half",
        leg=leg,
    )


def low_leg(leg: Leg, good_v: Decimal, volts: Decimal, across: Decimal) -> SupplyFinding:
    """Return that one leg is low by a joint."""
    return SupplyFinding(
        SupplyKind.LOW_LEG,
        f"leg {_number(leg)} is low, {plain(volts)} against {_v(good_v)}, and leg to leg is down with it at "
        f"{_v(across)}: a bad joint on that leg",
        "dead, look at the terminals of that leg at block, cord and receptacle; then measure under load",
        stop_work=False,
        hand_over=ELECTRICIAN,
        source=_JOINT_SOURCE,
        leg=leg,
        remarks=_wye_open_neutral(across),
    )


def _wye_open_neutral(across: Decimal) -> tuple[str, ...]:
    if Decimal(200) <= across <= Decimal(215):
        return ("in a 208 volt building these readings would be an open neutral: ask before going on",)
    return ()


def _height(word: str, l1: Decimal, l2: Decimal, across: Decimal, nominal_v: Decimal) -> str:
    return (
        f"the whole supply is {word}: {_three(l1, l2, across)}; the trade allows {plain(nominal_v)} and 120 "
        "plus or minus 10 percent"
    )


def low_overall(kind: SupplyKind, l1: Decimal, l2: Decimal, across: Decimal, nominal_v: Decimal) -> SupplyFinding:
    """Return that both legs are below the trade's limits."""
    return SupplyFinding(
        SupplyKind.LOW_OVERALL,
        _height("low", l1, l2, across, nominal_v),
        "measure at the receptacle too; if it is low there as well, report it to the utility",
        stop_work=False,
        hand_over=UTILITY,
        source=TRADE_SOURCE,
        remarks=_wye_open_neutral(across) if kind is SupplyKind.SPLIT_PHASE else (),
    )


def high_overall(kind: SupplyKind, l1: Decimal, l2: Decimal, across: Decimal, nominal_v: Decimal) -> SupplyFinding:
    """Return that the supply is above the trade's limits."""
    return SupplyFinding(
        SupplyKind.HIGH_OVERALL,
        _height("high", l1, l2, across, nominal_v),
        "switch off at the breaker; do not run the appliance on it",
        stop_work=True,
        hand_over=UTILITY,
        source=TRADE_SOURCE,
        remarks=("the legs stand as in a three-phase supply",) if kind is SupplyKind.WYE_208 else (),
    )


def sound(kind: SupplyKind, l1: Decimal, l2: Decimal, across: Decimal, nominal_v: Decimal) -> SupplyFinding:
    """Return that the supply is right as far as these readings tell."""
    if kind is SupplyKind.WYE_208:
        meaning = f"a 208 volt supply, not a low 240: {_three(l1, l2, across)}; power is 75 percent of that at 240"
    else:
        meaning = f"a 240 volt supply with both legs there: {_three(l1, l2, across)}"
    return SupplyFinding(
        kind,
        meaning,
        "measure again under load: a good idle reading does not clear the joints",
        stop_work=False,
        hand_over=None,
        source=f"{_RATIO_SOURCE}; {TRADE_SOURCE}",
        remarks=(_ansi_remark(across, nominal_v),),
    )


def _ansi_remark(across: Decimal, nominal_v: Decimal) -> str:
    for ansi_range in AnsiRange:
        band = ansi_band(nominal_v, ansi_range, MeasuredAt.UTILIZATION)
        if band.holds(across):
            return (
                f"leg to leg is in ANSI C84.1 range {ansi_range} for utilization, "
                f"{plain(band.low_v)} to {_v(band.high_v)}"
            )
    return "leg to leg is outside ANSI C84.1 ranges A and B for utilization: report it to the utility"


class SagScope(StrEnum):
    """How much of the supply falls under load."""

    ONE_LEG = "one-leg"
    BOTH_LEGS = "both-legs"
    OPENS = "opens"
    NOT_KNOWN = "not-known"


_SAG_ACTION = {
    SagScope.ONE_LEG: "switch off, prove dead, look for heat marks from block to breaker; ohms do not show it",
    SagScope.BOTH_LEGS: "switch off; both legs fall together, so look at the breaker and upstream of it",
    SagScope.OPENS: "switch off, prove every pair dead, and look at both hots from block to breaker",
    SagScope.NOT_KNOWN: "measure each leg to neutral under load to tell which one falls",
}


def collapses(
    leg: Leg | None, scope: SagScope, idle_v: Decimal, loaded_v: Decimal, joint: Joint | None
) -> SupplyFinding:
    """Return that the supply falls under load, with the joint sized where the current is known."""
    where = f"leg {_number(leg)}" if leg is not None and scope is SagScope.ONE_LEG else "leg to leg"
    opens = "; one leg opens and comes back through the element" if scope is SagScope.OPENS else ""
    return SupplyFinding(
        SupplyKind.COLLAPSES_UNDER_LOAD,
        f"good idle and bad loaded: {where} falls from {plain(rounded(idle_v, '0.1'))} to {_v(loaded_v)}"
        f"{opens}{_sized(joint)}; a bad joint, breaker or fuse",
        _SAG_ACTION[scope],
        stop_work=False,
        hand_over=ELECTRICIAN,
        source=_JOINT_SOURCE,
        leg=leg,
        joint=joint,
    )


def _sized(joint: Joint | None) -> str:
    if joint is None:
        return ""
    ohms = in_words(rounded(joint.resistance_ohm, "0.01"), Unit.OHM)
    watts = in_words(rounded(joint.heat_w, "1"), Unit.WATT)
    return f"; {_v(joint.drop_v)} lost at {in_words(joint.current_a, Unit.AMPERE)} is {ohms}, {watts} of heat"


def holds(finding: SupplyFinding, remark: str) -> SupplyFinding:
    """Return the sound finding, proved under load."""
    return replace(
        finding,
        action="the supply is good idle and loaded",
        remarks=(*finding.remarks, remark),
    )


def across_alone(finding: SupplyFinding, remark: str, *, more_than_wire: bool) -> SupplyFinding:
    """Return the sound finding with what leg to leg alone shows under load."""
    legs = "under load measure each leg to neutral too, to tell which one falls"
    action = legs if more_than_wire else "it holds under load, leg to leg"
    return replace(finding, action=action, remarks=(*finding.remarks, remark))


def load_decides(finding: SupplyFinding) -> SupplyFinding:
    """Return the finding under load, said to be what the load has shown of a doubtful idle reading."""
    return replace(finding, remarks=(*finding.remarks, "told by the readings under load"))


def loses_more_than_wire(idle_across: Decimal, loaded_across: Decimal) -> bool:
    """Return whether leg to leg falls further under load than the wire of a good branch circuit explains."""
    return idle_across > 0 and _fall_percent(idle_across, loaded_across) > _WIRE_PERCENT


def _fall_percent(idle_across: Decimal, loaded_across: Decimal) -> Decimal:
    return rounded(100 * (idle_across - loaded_across) / idle_across, "0.1")


def loaded_remark(idle_across: Decimal, loaded_across: Decimal) -> str:
    """Return how far leg to leg falls under load, and whether wire explains it."""
    drop_v = idle_across - loaded_across
    if drop_v <= 0 or idle_across == 0:
        return f"under load leg to leg holds at {_v(loaded_across)}"
    more = loses_more_than_wire(idle_across, loaded_across)
    told = "more than a good branch circuit; find out why" if more else "what wire alone can lose"
    part = plain(_fall_percent(idle_across, loaded_across))
    return f"under load leg to leg falls {_v(drop_v)}, {part} percent: {told}"


def neutral_to_frame(finding: SupplyFinding, volts: Decimal, live: bool) -> SupplyFinding:
    """Return the finding with the voltage between neutral and frame, as the finding itself where all else
    is right."""
    told = f"{_v(volts)} between neutral and frame, where a couple of volts at most belong"
    if not finding.sound and not live:
        return replace(finding, remarks=(*finding.remarks, told))
    if not finding.sound:
        return replace(
            finding,
            stop_work=True,
            hand_over=finding.hand_over or ELECTRICIAN,
            remarks=(*finding.remarks, f"{told}: the frame or the neutral is live"),
        )
    return replace(
        finding,
        kind=SupplyKind.NEUTRAL_TO_FRAME,
        meaning=f"{told}: {'the frame or the neutral is live' if live else 'the neutral may be loose'}",
        action="touch neither, and switch off at the breaker" if live else "check the neutral at cord and receptacle",
        stop_work=live,
        hand_over=ELECTRICIAN,
        source="public page on dryer outlets and one published case of 7 volts (read)",
    )


def measured_to_frame(finding: SupplyFinding, *, frame_floats: bool) -> SupplyFinding:
    """Return the finding as it is said of a supply without a neutral, its legs being measured to the frame.

    `frame_floats` says that neither leg reads to it: what would be a missing neutral is a frame that hangs on nothing.
    Legs that read uneven to it are the house's own neutral, which the frame is joined to at the panel.
    """
    if finding.kind is SupplyKind.NEUTRAL_SWAPPED or frame_floats:
        told = "a leg is on the frame's terminal" if not frame_floats else "the legs do not read to the frame"
        return replace(
            finding,
            kind=SupplyKind.FRAME_NOT_GROUNDED,
            meaning=f"{told}: it is not grounded, and may be live",
            action="touch nothing of it, switch off, and do not run it until frame and ground are joined",
            stop_work=True,
            hand_over=ELECTRICIAN,
            source="common practice, no source: without a neutral each leg reads half of leg to leg to the frame",
        )
    if finding.kind is SupplyKind.OPEN_NEUTRAL:
        return replace(
            finding,
            meaning=f"{finding.meaning} to the frame: the house's neutral is open, or the frame hangs on nothing",
        )
    return replace(finding, meaning=finding.meaning.replace("to neutral", "to the frame"))


def frame_not_grounded(finding: SupplyFinding) -> SupplyFinding:
    """Return that the legs are there to neutral and not to the frame, beside whatever else was found."""
    told = "both legs read to neutral and not to the frame: the frame is not grounded"
    if not finding.sound:
        return replace(
            finding,
            stop_work=True,
            hand_over=finding.hand_over or ELECTRICIAN,
            remarks=(*finding.remarks, told),
        )
    return replace(
        finding,
        kind=SupplyKind.FRAME_NOT_GROUNDED,
        meaning=told,
        action="switch off and do not run it until frame and ground are joined",
        stop_work=True,
        hand_over=ELECTRICIAN,
        source="common practice, no source: each leg reads the same to frame as to neutral",
    )
