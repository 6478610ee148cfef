"""Platinum oven sensors: ohms from temperature and back.

R(t) = R0 (1 + A t + B t^2), and below 0 degrees Celsius also C (t - 100) t^3 (Callendar-Van Dusen). Nothing
here judges a sensor without a temperature, and the maker's own table outranks these curves.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from voicetech.electrical.limits import Hint, Limits
from voicetech.electrical.words import in_words, rounded
from voicetech.units import Unit

R0_OHM = Decimal(1000)
LOWEST_C = Decimal(-60)
HIGHEST_C = Decimal(650)
PASS_C = Decimal(5)
MARGINAL_C = Decimal(10)
HARNESS_OHM = Decimal(2)
"""What the wires between sensor and board may add. Source: trade, no standard: one or two ohms."""
DRIFT_OHM = Decimal(8)
"""What a sensor may drift between two readings: two degrees Celsius of either curve (calculated)."""


class Curve(StrEnum):
    """Which platinum curve a sensor follows, by its mean coefficient in ppm/K."""

    PPM_3750 = "3750"
    PPM_3850 = "3850"


@dataclass(frozen=True, slots=True)
class Coefficients:
    """A, B and C of a curve, per degree Celsius, and where they come from."""

    a: Decimal
    b: Decimal
    c: Decimal
    source: str


COEFFICIENTS: dict[Curve, Coefficients] = {
    Curve.PPM_3750: Coefficients(
        Decimal("3.8102e-3"),
        Decimal("-6.01888e-7"),
        Decimal(0),
        "3750 ppm/K platinum, one public conversion library (read at second hand), checked against a "
        "published oven table",
    ),
    Curve.PPM_3850: Coefficients(
        Decimal("3.9083e-3"),
        Decimal("-5.775e-7"),
        Decimal("-4.183e-12"),
        "IEC 60751 (coefficients read at second hand in public drivers that name the standard)",
    ),
}
"""The 3750 curve comes without C; below 0 degrees Celsius it is taken as zero, which is 0.1 ohm at -20."""


def to_celsius(temperature: Decimal, unit: Unit) -> Decimal:
    """Return the temperature in degrees Celsius.

    Raises ValueError for a unit that is not a temperature.
    """
    if unit is Unit.CELSIUS:
        return temperature
    if unit is Unit.FAHRENHEIT:
        return (temperature - 32) * 5 / 9
    raise ValueError(f"a sensor is judged by a temperature in Fahrenheit or Celsius, not in {unit.value}")


def to_fahrenheit(temperature_c: Decimal) -> Decimal:
    """Return the temperature in degrees Fahrenheit."""
    return temperature_c * 9 / 5 + 32


def resistance_ohm(temperature_c: Decimal, curve: Curve, r0_ohm: Decimal = R0_OHM) -> Decimal:
    """Return the resistance of a sensor at a temperature.

    Raises ValueError outside -60 to 650 degrees Celsius.
    """
    if not temperature_c.is_finite() or not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise ValueError(
            f"{rounded(temperature_c, '0.1')} degrees Celsius is no oven or room; give the temperature at "
            f"the sensor, {LOWEST_C} to {HIGHEST_C} degrees Celsius"
        )
    k = COEFFICIENTS[curve]
    t = temperature_c
    cold = k.c * (t - 100) * t**3 if t < 0 else Decimal(0)
    return r0_ohm * (1 + k.a * t + k.b * t * t + cold)


def temperature_c(ohm: Decimal, curve: Curve, r0_ohm: Decimal = R0_OHM) -> Decimal | None:
    """Return the temperature at which a sensor reads `ohm`, to a thousandth; None outside -60 to 650
    Celsius."""
    if not ohm.is_finite():
        return None
    low, high = LOWEST_C, HIGHEST_C
    if not resistance_ohm(low, curve, r0_ohm) <= ohm <= resistance_ohm(high, curve, r0_ohm):
        return None
    while high - low > Decimal("0.0005"):
        middle = (low + high) / 2
        if resistance_ohm(middle, curve, r0_ohm) < ohm:
            low = middle
        else:
            high = middle
    return rounded((low + high) / 2, "0.001")


def sensor_limits(temperature: Decimal, unit: Unit, curve: Curve = Curve.PPM_3750) -> Limits:
    """Return what a 1000 ohm class sensor may read at the temperature measured beside it.

    The figures are the curve 5 degrees Celsius either side for a pass and 10 for marginal: room for a
    thermometer and a sensor that are not quite at one temperature and for a handheld meter, whose own
    uncertainty is 3 degrees at room temperature and 5 at 350 Fahrenheit. It is in the figures, so no guard
    band is added; one would leave a perfect sensor nothing to pass by when hot. The tolerance classes of IEC
    60751 are far tighter than such a meter and are not used.

    Source: the curve as stated in `COEFFICIENTS`; 5 and 10 degrees common practice, no source.
    Raises ValueError for a unit that is not a temperature, or outside -50 to 640 degrees Celsius.
    """
    at_c = to_celsius(temperature, unit)

    def at(offset_c: Decimal) -> Decimal:
        return rounded(resistance_ohm(at_c + offset_c, curve), "1")

    return Limits(
        low=at(-PASS_C),
        high=at(PASS_C),
        marginal_low=at(-MARGINAL_C),
        marginal_high=at(MARGINAL_C),
        unit=Unit.OHM,
        safety=False,
        source=f"{COEFFICIENTS[curve].source}; 5 degrees Celsius either side, common practice, no source",
        reason=f"for a {curve} ppm platinum sensor at {in_words(temperature, unit)}",
        guarded=False,
        hints=_sensor_hints(at_c, curve),
    )


def whole_sensor_limits() -> Limits:
    """Return what a 1000 ohm class sensor that is neither open nor shorted may read, whatever its temperature.

    Nothing inside these figures says that a sensor is good: that takes its temperature.

    Source: the 3750 ppm curve from -60 to 650 degrees Celsius (calculated).
    """
    return Limits(
        low=rounded(resistance_ohm(LOWEST_C, Curve.PPM_3750), "1"),
        high=rounded(resistance_ohm(HIGHEST_C, Curve.PPM_3750), "1"),
        unit=Unit.OHM,
        safety=False,
        source=f"calculated from -60 to 650 degrees Celsius; {COEFFICIENTS[Curve.PPM_3750].source}",
        reason="for a platinum sensor that is neither open nor shorted, whatever its temperature",
        guarded=False,
        hints=(Hint(Decimal(0), Decimal(10), "that is a shorted sensor or lead"),),
    )


def sensor_harness_limits(part_ohm: Decimal) -> Limits:
    """Return what the sensor's circuit may read at the board, where the sensor at its own plug reads `part_ohm`.

    Both are readings of one meter with the same leads, so neither leads nor a guard band come into it.

    Source: trade, no standard, for one or two ohms of wire; two degrees of drift are calculated.
    """
    return Limits(
        low=part_ohm - HARNESS_OHM,
        high=part_ohm + HARNESS_OHM,
        marginal_low=part_ohm - DRIFT_OHM,
        marginal_high=part_ohm + DRIFT_OHM,
        unit=Unit.OHM,
        safety=False,
        source="trade, no standard: the harness adds one or two ohms; marginal to two degrees of drift (calculated)",
        reason=f"at the board for a sensor that reads {in_words(part_ohm, Unit.OHM)} at its own plug",
        guarded=False,
        less_leads=False,
        hints=(Hint(Decimal(0), Decimal(10), "that is a shorted lead"),),
    )


def _sensor_hints(at_c: Decimal, curve: Curve) -> tuple[Hint, ...]:
    other = Curve.PPM_3850 if curve is Curve.PPM_3750 else Curve.PPM_3750
    hints = [Hint(Decimal(0), Decimal(10), "that is a shorted sensor or lead")]
    gap = abs(resistance_ohm(at_c, other) - resistance_ohm(at_c, curve))
    if gap > 8:
        expected = resistance_ohm(at_c, other)
        hints.append(Hint(expected - 4, expected + 4, f"it fits the {other} ppm curve: look up the maker's table"))
    hints.append(
        Hint(
            Decimal(10_000),
            Decimal(1_000_000),
            "that may be the kind whose resistance falls with heat: check the diagram",
        )
    )
    return tuple(hints)
