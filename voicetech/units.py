"""Readings and their units.

A reading is what a meter showed: a decimal number with its unit, or over range (a meter shows OL).
This module converts nothing and reads no text; `language` does that.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Unit(StrEnum):
    """Units a step can ask for or a technician can say; values are UCUM codes.

    Source: the UCUM standard, ucum.org (codes from memory).
    """

    VOLT = "V"
    AMPERE = "A"
    OHM = "Ohm"
    CELSIUS = "Cel"
    FAHRENHEIT = "[degF]"
    HERTZ = "Hz"
    FARAD = "F"
    WATT = "W"
    KILOWATT = "kW"
    SECOND = "s"


class Quantity(StrEnum):
    """What is measured; words of JCGM 200 (from memory)."""

    VOLTAGE = "voltage"
    RESISTANCE = "resistance"
    CURRENT = "current"
    CONTINUITY = "continuity"
    TEMPERATURE = "temperature"
    POWER = "power"
    DURATION = "duration"


UNITS_OF: dict[Quantity, tuple[Unit, ...]] = {
    Quantity.VOLTAGE: (Unit.VOLT,),
    Quantity.RESISTANCE: (Unit.OHM,),
    Quantity.CURRENT: (Unit.AMPERE,),
    Quantity.CONTINUITY: (Unit.OHM,),
    Quantity.TEMPERATURE: (Unit.FAHRENHEIT, Unit.CELSIUS),
    Quantity.POWER: (Unit.WATT, Unit.KILOWATT),
    Quantity.DURATION: (Unit.SECOND,),
}


READ_OFF: frozenset[Quantity] = frozenset({Quantity.DURATION, Quantity.TEMPERATURE})
"""What no meter on a circuit shows: a stopwatch's seconds, a thermometer's degrees."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What the meter showed.

    `value` is in the base unit `unit` (ohms, not kilohms) and keeps the digits that were given;
    None with `over_range` true is OL. `unit` is None where nobody said or asked for one.
    """

    value: Decimal | None
    unit: Unit | None
    over_range: bool = False

    def __post_init__(self) -> None:
        if (self.value is None) != self.over_range:
            raise ValueError("a reading is either a number or over range")


def over_range(unit: Unit | None = Unit.OHM) -> Reading:
    """Return the reading a meter shows as OL."""
    return Reading(None, unit, over_range=True)
