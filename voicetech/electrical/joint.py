"""Voltage drop, the joint behind it and the heat in it; and the drop of sound wire, to compare with."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

WIRE_OHM_PER_1000_FT: Mapping[int, Decimal] = MappingProxyType(
    {
        18: Decimal("7.95"),
        16: Decimal("4.99"),
        14: Decimal("3.14"),
        12: Decimal("1.98"),
        10: Decimal("1.24"),
        8: Decimal("0.778"),
        6: Decimal("0.491"),
        4: Decimal("0.308"),
    }
)
"""Ohms per 1000 ft at 75 degrees Celsius by AWG, uncoated stranded copper.

Source: NEC chapter 9, table 8, as two public pages that agree quote it (read at second hand).
"""
COPPER_PER_K_AT_75_C = Decimal("0.00323")
"""Correction R2 = R1 (1 + 0.00323 (T2 - 75)). Source: note to the same table (from memory)."""


@dataclass(frozen=True, slots=True)
class Joint:
    """What a drop says of the joint it is lost in: volts, amps, ohms and watts of heat."""

    drop_v: Decimal
    current_a: Decimal
    resistance_ohm: Decimal
    heat_w: Decimal


def joint_from_drop(drop_v: Decimal, current_a: Decimal) -> Joint:
    """Return the joint that loses `drop_v` at `current_a`.

    Raises ValueError where the current is not above zero or the drop is negative.
    """
    if not current_a > 0:
        raise ValueError(f"a joint is sized from the current through it; {current_a} amps is not above zero")
    if drop_v < 0:
        raise ValueError(f"a drop cannot be negative ({drop_v} volts); take idle minus loaded")
    return Joint(drop_v, current_a, drop_v / current_a, drop_v * current_a)


def joint_heat_w(resistance_ohm: Decimal, current_a: Decimal) -> Decimal:
    """Return the heat in a joint, I squared R, in watts."""
    return current_a * current_a * resistance_ohm


def wire_ohm_per_1000_ft(awg: int, temperature_c: Decimal = Decimal(75)) -> Decimal:
    """Return the resistance of 1000 ft of stranded copper wire at a temperature.

    Raises ValueError for a size that is not in the table.
    """
    if awg not in WIRE_OHM_PER_1000_FT:
        sizes = ", ".join(str(size) for size in WIRE_OHM_PER_1000_FT)
        raise ValueError(f"no figure for {awg} AWG; the table has {sizes}")
    return WIRE_OHM_PER_1000_FT[awg] * (1 + COPPER_PER_K_AT_75_C * (temperature_c - 75))


def wire_drop_v(awg: int, length_ft: Decimal, current_a: Decimal, temperature_c: Decimal = Decimal(75)) -> Decimal:
    """Return the drop, out and back, of a run `length_ft` long one way.

    Raises ValueError for a size that is not in the table.
    """
    return 2 * length_ft / 1000 * wire_ohm_per_1000_ft(awg, temperature_c) * current_a
