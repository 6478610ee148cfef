from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.joint import (
    WIRE_OHM_PER_1000_FT,
    joint_from_drop,
    joint_heat_w,
    wire_drop_v,
    wire_ohm_per_1000_ft,
)


@pytest.mark.parametrize(
    ("awg", "length_ft", "current_a", "drop_v"),
    # Worked from NEC chapter 9 table 8 figures at 75 degrees Celsius (read at second hand).
    [(6, 40, 40, "1.57"), (8, 40, 40, "2.49"), (10, 40, 24, "2.38")],
)
def test_wire_drop_examples(awg: int, length_ft: int, current_a: int, drop_v: str) -> None:
    drop = wire_drop_v(awg, Decimal(length_ft), Decimal(current_a))
    assert round(drop, 2) == Decimal(drop_v)


@pytest.mark.parametrize(
    ("awg", "ohm_at_20_c"),
    # 20 degree column: 0.822 of the 75 degree table, the factor read at second hand on a public drop calculator.
    [(18, "6.54"), (14, "2.58"), (12, "1.63"), (10, "1.02"), (8, "0.640"), (6, "0.404"), (4, "0.253")],
)
def test_cold_wire(awg: int, ohm_at_20_c: str) -> None:
    assert float(wire_ohm_per_1000_ft(awg, Decimal(20))) == pytest.approx(float(ohm_at_20_c), rel=0.005)


def test_each_size_has_about_the_copper_its_gauge_gives() -> None:
    # ASTM B258 (from memory): diameter 0.127 mm x 92^((36 - n) / 39). IEC 60028 (from memory): 1.7241e-8 ohm metre at
    # 20 degrees; 0.00393 per kelvin. Stranding adds about 2 percent.
    for awg, tabulated in WIRE_OHM_PER_1000_FT.items():
        diameter_m = 0.000127 * 92 ** ((36 - awg) / 39)
        area_m2 = 3.141592653589793 * diameter_m**2 / 4
        solid = 1.7241e-8 * (1 + 0.00393 * 55) * 304.8 / area_m2
        assert 1.0 < float(tabulated) / solid < 1.04


@pytest.mark.parametrize(
    ("ohm", "current_a", "watts"),
    # I squared R by hand.
    [("0.1", "21.7", 47), ("0.5", "8.75", 38), ("0.5", "21.7", 235), ("0.2", "40", 320)],
)
def test_joint_heat_examples(ohm: str, current_a: str, watts: int) -> None:
    assert round(joint_heat_w(Decimal(ohm), Decimal(current_a))) == watts


@given(st.decimals("0.01", 240, places=2), st.decimals("0.1", 100, places=1))
def test_drop_and_current_give_the_joint_back(drop_v: Decimal, current_a: Decimal) -> None:
    joint = joint_from_drop(drop_v, current_a)
    assert float(joint_heat_w(joint.resistance_ohm, current_a)) == pytest.approx(float(joint.heat_w))


def test_a_size_not_in_the_table_says_which_are() -> None:
    with pytest.raises(ValueError, match="the table has 18, 16"):
        wire_ohm_per_1000_ft(5)


@pytest.mark.parametrize(("drop", "amps"), [("1", "0"), ("-1", "5"), ("1", "-3")])
def test_a_drop_or_current_that_cannot_be_is_refused(drop: str, amps: str) -> None:
    with pytest.raises(ValueError, match=r"not above zero|cannot be negative"):
        joint_from_drop(Decimal(drop), Decimal(amps))
