from decimal import Decimal

import pytest

from voicetech.electrical.service_voltage import (
    AnsiRange,
    MeasuredAt,
    ansi_band,
    ansi_supply_limits,
    limits_absent_of_voltage,
    supply_limits,
)


@pytest.mark.parametrize(
    ("nominal", "ansi_range", "measured_at", "low", "high"),
    # ANSI C84.1 (per-unit figures read at second hand, volts calculated; range B utilization minimum from memory).
    [
        (120, AnsiRange.A, MeasuredAt.SERVICE, 114, 126),
        (240, AnsiRange.A, MeasuredAt.SERVICE, 228, 252),
        (208, AnsiRange.A, MeasuredAt.SERVICE, 198, 218),
        (120, AnsiRange.A, MeasuredAt.UTILIZATION, 108, 126),
        (240, AnsiRange.A, MeasuredAt.UTILIZATION, 216, 252),
        (120, AnsiRange.B, MeasuredAt.SERVICE, 110, 127),
        (240, AnsiRange.B, MeasuredAt.SERVICE, 220, 254),
        (208, AnsiRange.B, MeasuredAt.SERVICE, 191, 220),
        (120, AnsiRange.B, MeasuredAt.UTILIZATION, 104, 127),
        (240, AnsiRange.B, MeasuredAt.UTILIZATION, 208, 254),
    ],
)
def test_ansi_bands(nominal: int, ansi_range: AnsiRange, measured_at: MeasuredAt, low: int, high: int) -> None:
    band = ansi_band(Decimal(nominal), ansi_range, measured_at)
    assert (band.low_v, band.high_v) == (Decimal(low), Decimal(high))
    limits = ansi_supply_limits(Decimal(nominal), ansi_range, measured_at)
    assert (limits.low, limits.high) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize(("nominal", "low", "high"), [(240, 216, 264), (120, 108, 132)])
def test_trade_rule_at_the_terminal_block(nominal: int, low: int, high: int) -> None:
    # Public trade page on checking outlets (read): plus or minus 10 percent.
    limits = supply_limits(Decimal(nominal))
    assert (limits.low, limits.high) == (Decimal(low), Decimal(high))


def test_range_b_is_the_wider() -> None:
    for nominal in (Decimal(120), Decimal(208), Decimal(240)):
        for measured_at in MeasuredAt:
            a, b = (ansi_band(nominal, ansi_range, measured_at) for ansi_range in AnsiRange)
            assert b.low_v <= a.low_v < a.high_v <= b.high_v


def test_dead_is_one_volt() -> None:
    limits = limits_absent_of_voltage()
    assert limits.high == 1
    assert limits.safety


@pytest.mark.parametrize("nominal", ["0", "-240", "NaN"])
def test_a_nominal_voltage_that_cannot_be_is_refused(nominal: str) -> None:
    with pytest.raises(ValueError, match="nominal voltage"):
        supply_limits(Decimal(nominal))
