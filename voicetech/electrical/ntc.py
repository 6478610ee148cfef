"""Sensors whose resistance falls with temperature (NTC thermistors), judged by the table on their maker's sheet.

Between two points of a table a thermistor follows R = R1 exp(B (1/T - 1/T1)) with T in kelvin: the logarithm of its
resistance is straight over the reciprocal of its temperature. Source: the B equation of IEC 60539-1 (from memory).
"""

from collections.abc import Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Final

from voicetech.electrical.limits import Hint, Limits
from voicetech.electrical.sensor import MARGINAL_C, PASS_C, to_celsius
from voicetech.electrical.words import in_words, plain, rounded
from voicetech.units import Unit

ZERO_C_IN_K: Final = Decimal("273.15")
_COLDEST_C: Final = Decimal(-60)
_HOTTEST_C: Final = Decimal(650)
_FEWEST: Final = 2

Table = Mapping[Decimal, Decimal]
"""Ohms by degrees Celsius, as the maker's sheet gives them."""


def ntc_ohm(table: Table, at_c: Decimal) -> Decimal:
    """Return the resistance at a temperature, in ohms: between two points, or beyond the ends by the nearest two.

    Raises ValueError for a table with fewer than two points, one that does not fall, or a temperature outside -60 to
    650 degrees Celsius.
    """
    points = _points(table)
    if not _COLDEST_C <= at_c <= _HOTTEST_C:
        raise ValueError(f"{plain(at_c)} degrees Celsius is no temperature of an appliance's sensor; measure it again")
    upper = next((n for n, (point_c, _) in enumerate(points) if point_c >= at_c), len(points) - 1)
    (first_c, first_ohm), (second_c, second_ohm) = points[max(upper, 1) - 1], points[max(upper, 1)]
    along = (1 / _kelvin(at_c) - 1 / _kelvin(first_c)) / (1 / _kelvin(second_c) - 1 / _kelvin(first_c))
    return first_ohm * ((second_ohm / first_ohm).ln() * along).exp()


def ntc_limits(table: Table, temperature: Decimal, unit: Unit) -> Limits:
    """Return what the sensor may read at the temperature measured beside it.

    As for platinum sensors: the table 5 degrees Celsius either side for a pass, 10 for marginal. Raises ValueError as
    `ntc_ohm` does, and for a unit that is not a temperature.
    """
    at_c = to_celsius(temperature, unit)

    def at(offset_c: Decimal) -> Decimal:
        ohm = ntc_ohm(table, at_c + offset_c)
        return rounded(ohm, "1" if ohm >= 100 else "0.1")

    return Limits(
        low=at(PASS_C),
        high=at(-PASS_C),
        marginal_low=at(MARGINAL_C),
        marginal_high=at(-MARGINAL_C),
        unit=Unit.OHM,
        safety=False,
        source="the maker's table as given; 5 degrees Celsius either side, common practice, no source",
        reason=f"for this thermistor at {in_words(temperature, unit)}",
        guarded=False,
        hints=(Hint(Decimal(0), Decimal(10), "that is a shorted sensor or lead"),),
    )


def _kelvin(celsius: Decimal) -> Decimal:
    return celsius + ZERO_C_IN_K


def _points(table: Table) -> list[tuple[Decimal, Decimal]]:
    points = sorted(table.items())
    if len(points) < _FEWEST:
        raise ValueError("the table needs at least two points; give two temperatures with their ohms")
    if any(not ohm.is_finite() or ohm <= 0 for _, ohm in points) or any(not at.is_finite() for at, _ in points):
        raise ValueError("the table has a figure that cannot be; ohms are above zero")
    if any(not _COLDEST_C <= at <= _HOTTEST_C for at, _ in points):
        raise ValueError("the table has a temperature outside -60 to 650 degrees Celsius; look at its unit")
    if any(warmer[1] >= colder[1] for colder, warmer in pairwise(points)):
        raise ValueError(
            "the ohms have to fall as it gets warmer; a sensor whose ohms rise is no thermistor of this kind"
        )
    return points
