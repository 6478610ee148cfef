"""What is said on paper of a supply's findings, beside what the program makes of readings that show them."""

from decimal import Decimal

import pytest

from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE
from voicetech.electrical.supply import SupplyKind, SupplyReadings, classify_supply
from voicetech.electrical.supply_signs import SIGNS

Volts = tuple[int, int, int]

# Leg to leg and each leg to neutral, as the words of each sign have them.
SHOWN: dict[SupplyKind, list[Volts]] = {
    SupplyKind.SPLIT_PHASE: [(240, 120, 120), (222, 111, 111), (258, 129, 129)],
    SupplyKind.WYE_208: [(208, 120, 120), (196, 113, 113)],
    SupplyKind.LOST_LEG: [(120, 120, 0), (118, 120, 4)],
    SupplyKind.LOST_LEG_BACKFED: [(0, 120, 120), (30, 120, 90)],
    SupplyKind.BOTH_LEGS_DEAD: [(0, 0, 0), (1, 1, 0)],
    SupplyKind.OPEN_NEUTRAL: [(240, 150, 90), (240, 10, 12)],
    SupplyKind.NEUTRAL_SWAPPED: [(120, 240, 120), (120, 120, 240)],
    SupplyKind.LOW_LEG: [(220, 120, 100)],
    SupplyKind.LOW_OVERALL: [(206, 103, 103)],
    SupplyKind.HIGH_OVERALL: [(270, 135, 135)],
    SupplyKind.COUPLED_VOLTAGE: [(40, 40, 30), (80, 120, 55)],
}


def readings(volts: Volts, **more: int) -> SupplyReadings:
    return SupplyReadings(*map(Decimal, volts), **{name: Decimal(value) for name, value in more.items()})


def test_every_finding_has_its_sign() -> None:
    assert set(SIGNS) == set(SupplyKind)
    assert len(set(SIGNS.values())) == len(SIGNS)


@pytest.mark.parametrize(("kind", "volts"), [(kind, volts) for kind, all_volts in SHOWN.items() for volts in all_volts])
def test_readings_as_the_sign_has_them_are_that_finding(kind: SupplyKind, volts: Volts) -> None:
    assert classify_supply(readings(volts), None, HANDHELD).kind is kind


def test_the_signs_that_take_more_than_three_voltages() -> None:
    good = (240, 120, 120)
    unplugged = classify_supply(readings((0, 120, 120)), None, HANDHELD, nothing_connected=True)
    assert unplugged.kind is SupplyKind.ONE_LEG_TWICE
    loaded = readings((208, 120, 88))
    assert classify_supply(readings(good), loaded, HANDHELD).kind is SupplyKind.COLLAPSES_UNDER_LOAD
    low = HANDHELD_LOW_IMPEDANCE
    assert classify_supply(readings((40, 40, 30)), None, low).kind is SupplyKind.UNEXPLAINED_SOURCE
    to_frame = readings((0, 0, 0), l1_frame=110)
    assert classify_supply(to_frame, None, HANDHELD).kind is SupplyKind.UNEXPLAINED_SOURCE
    assert classify_supply(readings(good, n_frame=7), None, HANDHELD).kind is SupplyKind.NEUTRAL_TO_FRAME
    floats = readings(good, l1_frame=20, l2_frame=20)
    assert classify_supply(floats, None, HANDHELD).kind is SupplyKind.FRAME_NOT_GROUNDED
    assert classify_supply(readings((170, 120, 118)), None, low).kind is SupplyKind.UNCLEAR


@pytest.mark.parametrize(
    ("kind", "figures"),
    [
        (SupplyKind.SPLIT_PHASE, ("216", "264", "108", "132")),
        (SupplyKind.WYE_208, ("187.2", "228.8")),
        (SupplyKind.LOST_LEG, ("5 V",)),
        (SupplyKind.LOW_LEG, ("10 V",)),
        (SupplyKind.COLLAPSES_UNDER_LOAD, ("5 percent",)),
        (SupplyKind.NEUTRAL_TO_FRAME, ("3 V",)),
        (SupplyKind.COUPLED_VOLTAGE, ("96 V", "85 percent")),
    ],
)
def test_figures_are_those_of_the_rules(kind: SupplyKind, figures: tuple[str, ...]) -> None:
    assert all(figure in SIGNS[kind] for figure in figures)
