"""How each finding about a supply shows in its readings, for whoever has to tell it without the program.

What `supply.classify_supply` weighs with the meter's own uncertainty is said here in round figures; where readings fit
two of these, the program tells them apart and paper does not.
"""

from collections.abc import Mapping
from typing import Final

from voicetech.electrical.service_voltage import LEG_V, NEUTRAL_TO_FRAME_HIGH_V, SPLIT_V, WYE_V, trade_band
from voicetech.electrical.supply import (
    ABSENT_LEG_V,
    COUPLED_PART,
    DEAD_V,
    LIVE_LEG_V,
    LOWEST_SURE_V,
    SAG_PART,
    UNEQUAL_LEGS_V,
)
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.electrical.words import plain

_LEG, _SPLIT, _WYE = trade_band(LEG_V), trade_band(SPLIT_V), trade_band(WYE_V)


def _span(low: object, high: object) -> str:
    return f"{low} to {high} V"


_LEG_SPAN: Final = _span(plain(_LEG.low_v), plain(_LEG.high_v))

SIGNS: Final[Mapping[SupplyKind, str]] = {
    SupplyKind.SPLIT_PHASE: (
        f"leg to leg is both legs added, {_span(plain(_SPLIT.low_v), plain(_SPLIT.high_v))}; each leg {_LEG_SPAN}"
    ),
    SupplyKind.WYE_208: (
        f"leg to leg is 1.73 times a leg, {_span(plain(_WYE.low_v), plain(_WYE.high_v))}; each leg {_LEG_SPAN}"
    ),
    SupplyKind.LOST_LEG: f"one leg at most {plain(ABSENT_LEG_V)} V to neutral beside a live one",
    SupplyKind.LOST_LEG_BACKFED: "both legs to neutral, and leg to leg only what they differ by, next to nothing",
    SupplyKind.ONE_LEG_TWICE: ("with nothing plugged in: both legs alike to neutral, next to nothing leg to leg"),
    SupplyKind.BOTH_LEGS_DEAD: f"at most {plain(DEAD_V)} V on every pair; this is no proof of dead",
    SupplyKind.OPEN_NEUTRAL: (
        "leg to leg holds, and one leg is as far above its half as the other is below it; or leg to leg is there and "
        f"both legs are under {plain(LIVE_LEG_V)} V to neutral"
    ),
    SupplyKind.NEUTRAL_SWAPPED: "one leg reads to neutral what belongs leg to leg; the other leg and leg to leg half",
    SupplyKind.LOW_LEG: f"one leg more than {plain(UNEQUAL_LEGS_V)} V lower, and leg to leg lower by as much",
    SupplyKind.LOW_OVERALL: (
        f"legs alike, and below the trade's 10 percent: leg to leg under {plain(_SPLIT.low_v)} V (208 supply: "
        f"{plain(_WYE.low_v)} V), or a leg under {plain(_LEG.low_v)} V"
    ),
    SupplyKind.HIGH_OVERALL: (
        f"legs alike, and above the trade's 10 percent: leg to leg over {plain(_SPLIT.high_v)} V (208 supply: "
        f"{plain(_WYE.high_v)} V), or a leg over {plain(_LEG.high_v)} V"
    ),
    SupplyKind.COLLAPSES_UNDER_LOAD: (
        f"good idle, and under load a leg or leg to leg falls by more than {plain(SAG_PART * 100)} percent"
    ),
    SupplyKind.COUPLED_VOLTAGE: (
        f"on a high-impedance meter: the higher leg under {plain(LOWEST_SURE_V)} V, or a leg at up to "
        f"{plain(COUPLED_PART * 100)} percent of the other that fits nothing else; gone on low impedance"
    ),
    SupplyKind.UNEXPLAINED_SOURCE: (
        f"under {plain(LIVE_LEG_V)} V that stays on low impedance; or nothing between legs and neutral, and volts to "
        "the frame"
    ),
    SupplyKind.NEUTRAL_TO_FRAME: (
        f"all else right, and more than {plain(NEUTRAL_TO_FRAME_HIGH_V)} V from neutral to frame"
    ),
    SupplyKind.FRAME_NOT_GROUNDED: (
        f"each leg over {plain(LIVE_LEG_V)} V to neutral and under {plain(LIVE_LEG_V)} V to the frame"
    ),
    SupplyKind.UNCLEAR: "fits none of these",
}
