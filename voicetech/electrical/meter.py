"""How far a meter's reading may be from the truth.

Half-width a = percent of reading + counts times resolution; standard uncertainty u = a / sqrt(3), a
rectangular distribution; expanded U = 2 u, about 95 percent.

Source: the form of the accuracy figure from a public introduction to multimeter accuracy (read); the
rectangular distribution and coverage factor from JCGM 100:2008 (from memory).
"""

from dataclasses import dataclass, replace
from decimal import Decimal

from voicetech.units import Unit

ROOT_3 = Decimal(3).sqrt()
BUZZER_LOW_OHM = Decimal(35)
"""Lowest resistance at which a continuity buzzer may already be silent. Source: five meter manuals (35, 50,
50, 70 and 100 ohms), read as excerpts."""
BUZZER_HIGH_OHM = Decimal(100)
"""Highest resistance at which a continuity buzzer may still sound. Source: the same manuals."""


@dataclass(frozen=True, slots=True)
class MeterRange:
    """One range: its unit, the largest value it shows, its last digit, and its accuracy."""

    unit: Unit
    full_scale: Decimal
    resolution: Decimal
    percent: Decimal
    counts: int


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter's stated accuracy, whether it loads the circuit, and where its buzzer may sound.

    `ranges` are in order of full scale within each unit; the meter picks the lowest that shows the value.
    """

    name: str
    ranges: tuple[MeterRange, ...]
    low_impedance: bool
    buzzer_low_ohm: Decimal
    buzzer_high_ohm: Decimal
    source: str

    def range_for(self, value: Decimal, unit: Unit) -> MeterRange | None:
        """Return the range that shows the value, the highest where none does, None where no figure is
        stated."""
        fitting = [span for span in self.ranges if span.unit is unit]
        for span in fitting:
            if abs(value) <= span.full_scale:
                return span
        return fitting[-1] if fitting else None


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Half-width, standard and expanded uncertainty, all in the unit of the reading."""

    half_width: Decimal
    standard: Decimal
    expanded: Decimal


def uncertainty(value: Decimal, unit: Unit, meter: Meter) -> Uncertainty:
    """Return how uncertain a reading of `value` is; zero where the meter states no figure for the unit.

    Source: JCGM 100:2008 (from memory).
    """
    span = meter.range_for(value, unit)
    if span is None:
        return Uncertainty(Decimal(0), Decimal(0), Decimal(0))
    half_width = abs(value) * span.percent / 100 + span.counts * span.resolution
    standard = half_width / ROOT_3
    return Uncertainty(half_width, standard, 2 * standard)


def _ranges(unit: Unit, percent: str, spans: tuple[tuple[str, str, int], ...]) -> tuple[MeterRange, ...]:
    return tuple(
        MeterRange(unit, Decimal(full_scale), Decimal(resolution), Decimal(percent), counts)
        for full_scale, resolution, counts in spans
    )


HANDHELD = Meter(
    name="handheld meter, 4000 counts, high impedance",
    ranges=(
        *_ranges(
            Unit.OHM,
            "0.9",
            (
                ("400", "0.1", 2),
                ("4000", "1", 1),
                ("40000", "10", 1),
                ("400000", "100", 1),
                ("4000000", "1000", 1),
                ("40000000", "10000", 5),
            ),
        ),
        *_ranges(Unit.VOLT, "1.0", (("4", "0.001", 3), ("40", "0.01", 3), ("400", "0.1", 3), ("1000", "1", 3))),
        *_ranges(Unit.AMPERE, "2.0", (("40", "0.01", 5), ("400", "0.1", 5))),
        *_ranges(Unit.CELSIUS, "1.0", (("1000", "0.1", 20),)),
        *_ranges(Unit.FAHRENHEIT, "1.0", (("1800", "0.1", 36),)),
        # No meter but a hand on a stopwatch: half a second. Judgement, no source.
        *_ranges(Unit.SECOND, "0", (("3600", "0.1", 5),)),
    ),
    low_impedance=False,
    buzzer_low_ohm=BUZZER_LOW_OHM,
    buzzer_high_ohm=BUZZER_HIGH_OHM,
    source=(
        "ohms 0.9 % + 2 counts and a.c. volts 1.0 % + 3 counts, typical of stated figures for handheld "
        "meters (public accuracy pages and manual excerpts, read); clamp and temperature figures common "
        "practice, no source"
    ),
)
"""The meter assumed until the technician names another."""

HANDHELD_LOW_IMPEDANCE = replace(HANDHELD, name="handheld meter, 4000 counts, low-impedance mode", low_impedance=True)
"""The same meter in its low-impedance (LoZ) mode."""
