"""The supply told from its voltages, on circuits worked out here by node voltages and on published cases.

The model: two sources of 120 V behind a resistance each, a neutral behind its own, an element across the legs, and
loads from each leg to neutral. An open conductor is 1e9 ohms; the meter is 10 megohms from leg to neutral.
"""

from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE
from voicetech.electrical.supply import Leg, SupplyKind, SupplyReadings, classify_supply

OPEN = 1e9
METER = 10e6
WIRE = 0.05


@dataclass(frozen=True)
class Circuit:
    """Ohms of a supply and what hangs on it."""

    leg_1: float = WIRE
    leg_2: float = WIRE
    neutral: float = WIRE
    element: float = OPEN
    load_1: float = OPEN
    load_2: float = OPEN
    second_v: complex = -120
    house_2: float = OPEN
    """Other loads of the house on leg two, to the neutral of the panel."""

    def read(self) -> SupplyReadings:
        """Return what a meter shows at the block, to a tenth of a volt."""
        y1, y2, yn = 1 / self.leg_1, 1 / self.leg_2, 1 / self.neutral
        ye, ya, yb = 1 / self.element, 1 / self.load_1 + 1 / METER, 1 / self.load_2 + 1 / METER
        yh = 1 / self.house_2
        admittance = np.array(
            [
                [y1 + ye + ya, -ye, -ya],
                [-ye, y2 + ye + yb + yh, -yb],
                [-ya, -yb, yn + ya + yb],
            ],
            dtype=complex,
        )
        a, b, n = np.linalg.solve(admittance, np.array([120 * y1, self.second_v * y2, 0], dtype=complex))
        return SupplyReadings(shown(abs(a - b)), shown(abs(a - n)), shown(abs(b - n)))


def shown(volts: float) -> Decimal:
    return Decimal(f"{volts:.1f}")


WYE_SECOND_V = 120 * np.exp(2j * np.pi / 3)
GOOD = Circuit(load_1=144, load_2=288)
ON = 18.0


def kind_of(idle: Circuit, loaded: Circuit | None = None, **more: object) -> SupplyKind:
    found = classify_supply(
        idle.read(),
        None if loaded is None else loaded.read(),
        HANDHELD,
        nothing_connected=bool(more.get("nothing_connected", False)),
    )
    return found.kind


def test_the_model_gives_the_lost_leg_figures_worked_by_hand() -> None:
    # Calculated by hand as a divider: a 24 ohm element feeding the dead half with 60 W, 300 W and 1 kW of lamps.
    for lamps_w, volts in ((60, 109), (300, 80), (1000, 45)):
        lamps_ohm = 120 * 120 / lamps_w
        read = Circuit(leg_1=1e-6, leg_2=OPEN, neutral=1e-6, element=24, house_2=lamps_ohm).read()
        assert read.l2_n is not None
        assert float(read.l2_n) == pytest.approx(volts, abs=1)


@pytest.mark.parametrize(
    ("circuit", "kind"),
    [
        (GOOD, SupplyKind.SPLIT_PHASE),
        (replace(GOOD, element=ON), SupplyKind.SPLIT_PHASE),
        (replace(GOOD, second_v=WYE_SECOND_V), SupplyKind.WYE_208),
        (replace(GOOD, second_v=WYE_SECOND_V, element=ON), SupplyKind.WYE_208),
        (replace(GOOD, leg_2=OPEN), SupplyKind.LOST_LEG),
        (replace(GOOD, leg_2=OPEN, load_2=OPEN, element=ON), SupplyKind.LOST_LEG_BACKFED),
        (replace(GOOD, leg_2=OPEN, element=24, house_2=48), SupplyKind.LOST_LEG_BACKFED),
        (
            replace(GOOD, second_v=WYE_SECOND_V, leg_2=OPEN, load_2=OPEN, element=ON),
            SupplyKind.LOST_LEG_BACKFED,
        ),
        (replace(GOOD, leg_1=OPEN, leg_2=OPEN), SupplyKind.BOTH_LEGS_DEAD),
        (replace(GOOD, neutral=OPEN), SupplyKind.OPEN_NEUTRAL),
        (replace(GOOD, neutral=OPEN, load_2=OPEN), SupplyKind.OPEN_NEUTRAL),
        (replace(GOOD, neutral=20, load_1=10, load_2=60), SupplyKind.OPEN_NEUTRAL),
        (replace(GOOD, leg_2=5, element=ON), SupplyKind.LOW_LEG),
        (replace(GOOD, leg_1=2, leg_2=2, element=ON), SupplyKind.LOW_OVERALL),
    ],
)
def test_each_fault_of_the_model_is_named(circuit: Circuit, kind: SupplyKind) -> None:
    assert kind_of(circuit) is kind


def test_the_lost_leg_is_named() -> None:
    for lost, circuit in (
        (Leg.L1, replace(GOOD, leg_1=OPEN)),
        (Leg.L2, replace(GOOD, leg_2=OPEN)),
    ):
        assert classify_supply(circuit.read(), None, HANDHELD).leg is lost


def test_both_hots_on_one_leg_needs_the_plug_out() -> None:
    same_leg = replace(GOOD, second_v=120)
    assert kind_of(same_leg) is SupplyKind.LOST_LEG_BACKFED
    assert kind_of(same_leg, nothing_connected=True) is SupplyKind.ONE_LEG_TWICE
    assert classify_supply(same_leg.read(), None, HANDHELD, nothing_connected=True).stop_work


@pytest.mark.parametrize(
    ("idle", "loaded", "kind", "leg"),
    [
        (GOOD, replace(GOOD, element=ON), SupplyKind.SPLIT_PHASE, None),
        (
            replace(GOOD, second_v=WYE_SECOND_V),
            replace(GOOD, second_v=WYE_SECOND_V, element=ON),
            SupplyKind.WYE_208,
            None,
        ),
        (replace(GOOD, leg_2=5), replace(GOOD, leg_2=5, element=ON), SupplyKind.COLLAPSES_UNDER_LOAD, Leg.L2),
        (replace(GOOD, leg_1=3), replace(GOOD, leg_1=3, element=ON), SupplyKind.COLLAPSES_UNDER_LOAD, Leg.L1),
        (
            replace(GOOD, leg_1=1, leg_2=1),
            replace(GOOD, leg_1=1, leg_2=1, element=ON),
            SupplyKind.COLLAPSES_UNDER_LOAD,
            None,
        ),
        (
            replace(GOOD, leg_2=400, load_2=OPEN),
            replace(GOOD, leg_2=400, load_2=OPEN, element=ON),
            SupplyKind.COLLAPSES_UNDER_LOAD,
            Leg.L2,
        ),
        (
            replace(GOOD, neutral=3),
            replace(GOOD, neutral=3, load_1=12),
            SupplyKind.OPEN_NEUTRAL,
            None,
        ),
        (
            replace(GOOD, leg_2=OPEN),
            replace(GOOD, leg_2=OPEN, element=ON),
            SupplyKind.LOST_LEG_BACKFED,
            Leg.L2,
        ),
    ],
)
def test_load_finds_what_idle_hides(idle: Circuit, loaded: Circuit, kind: SupplyKind, leg: Leg | None) -> None:
    found = classify_supply(idle.read(), loaded.read(), HANDHELD)
    assert (found.kind, found.leg) == (kind, leg)


@pytest.mark.parametrize(
    ("loaded_v", "told"), [("236", "it holds under load"), ("239", "it holds under load"), ("231.5", "which one falls")]
)
def test_leg_to_leg_alone_under_load_is_not_told_as_idle(loaded_v: str, told: str) -> None:
    """Nobody is sent to load once more what was just measured under load."""
    idle = SupplyReadings(Decimal(239), Decimal(119), Decimal(120))
    found = classify_supply(idle, SupplyReadings(Decimal(loaded_v), None, None), HANDHELD)
    assert found.sound
    assert told in found.action
    assert "good idle" in classify_supply(idle, None, HANDHELD).action


def test_the_joint_is_sized_from_drop_and_current() -> None:
    idle, loaded = replace(GOOD, leg_2=0.05 + 2.5), replace(GOOD, leg_2=0.05 + 2.5, element=ON)
    read = loaded.read()
    current_a = Decimal(f"{float(read.l1_l2) / ON:.1f}")
    found = classify_supply(idle.read(), read, HANDHELD, current_a)
    assert found.joint is not None
    assert float(found.joint.resistance_ohm) == pytest.approx(2.5, rel=0.1)
    assert float(found.joint.heat_w) == pytest.approx(float(current_a) ** 2 * 2.5, rel=0.1)


def volts(*figures: str | None) -> SupplyReadings:
    return SupplyReadings(Decimal(figures[0] or 0), *(None if f is None else Decimal(f) for f in figures[1:]))


@pytest.mark.parametrize(
    ("readings", "kind", "leg"),
    [
        # After published range and dryer cases, with other figures: a leg lost ahead of the panel.
        (volts("38", "122", "84"), SupplyKind.LOST_LEG_BACKFED, Leg.L2),
        # A leg that a 10 megohm meter shows through an open wire, leg to leg floating.
        (volts("60", "119", "28"), SupplyKind.COUPLED_VOLTAGE, Leg.L2),
        # 30 volts on a leg, neither live nor dead.
        (volts("151", "121", "31"), SupplyKind.COUPLED_VOLTAGE, Leg.L2),
        # Locked-out conductor beside a live one: 85 volts on 10 megohms.
        (volts("0", "85", "85"), SupplyKind.COUPLED_VOLTAGE, None),
        (volts("85", "85", "0"), SupplyKind.COUPLED_VOLTAGE, None),
        # One published case of 240 / 120 / 7 V (read): the neutral slot was not connected.
        (volts("240", "120", "120", "7"), SupplyKind.NEUTRAL_TO_FRAME, None),
        (volts("240", "120", "120", "1.4"), SupplyKind.SPLIT_PHASE, None),
        # 208 volt suite.
        (volts("207", "120", "119"), SupplyKind.WYE_208, None),
        # 240 that sags to 207 keeps the ratio 2.00.
        (volts("207", "104", "103"), SupplyKind.LOW_OVERALL, None),
        # Between the two ratios nothing is guessed.
        (volts("222", "120", "120"), SupplyKind.UNCLEAR, None),
        (volts("266", "133", "133"), SupplyKind.HIGH_OVERALL, None),
        # A bad joint never lifts a leg above nominal: an open neutral in a 208 volt building.
        (volts("208", "130", "78"), SupplyKind.OPEN_NEUTRAL, None),
        (volts("241", "241", "0.4"), SupplyKind.OPEN_NEUTRAL, None),
        # The same with a lamp from one leg to the loose neutral, off which a meter of 3 kilohms pulls it.
        (volts("240", "180", "0.03"), SupplyKind.OPEN_NEUTRAL, None),
        (volts("240", None, None), SupplyKind.UNCLEAR, None),
        (volts("240", "208", "120"), SupplyKind.UNCLEAR, None),
        # No neutral at the appliance: judged to the frame.
        (volts("240", None, None, None, "120", "121"), SupplyKind.SPLIT_PHASE, None),
        # Ungrounded frame.
        (volts("240", "120", "120", "40", "2", "3"), SupplyKind.FRAME_NOT_GROUNDED, None),
        (volts("240", "120", "120", None, "2", "3"), SupplyKind.FRAME_NOT_GROUNDED, None),
        # Every pair reads 0 but the frame does not.
        (volts("0", "0", "0", None, "120", "120"), SupplyKind.UNEXPLAINED_SOURCE, None),
    ],
)
def test_published_kinds_of_readings(readings: SupplyReadings, kind: SupplyKind, leg: Leg | None) -> None:
    found = classify_supply(readings, None, HANDHELD)
    assert found.kind is kind
    assert found.leg is leg


def test_what_stays_on_low_impedance_is_a_source() -> None:
    readings = volts("30", "0", "30")
    assert classify_supply(readings, None, HANDHELD).kind is SupplyKind.COUPLED_VOLTAGE
    stays = classify_supply(readings, None, HANDHELD_LOW_IMPEDANCE)
    assert stays.kind is SupplyKind.UNEXPLAINED_SOURCE
    assert stays.stop_work


def test_two_hundred_eight_tells_of_the_power() -> None:
    found = classify_supply(volts("208", "120", "120"), None, HANDHELD)
    assert "75 percent" in found.meaning
    assert found.ratio == Decimal(208) / 120


def test_zero_across_is_said_not_to_be_dead() -> None:
    assert "not dead" in classify_supply(volts("0", "120", "120"), None, HANDHELD).meaning
    assert "no proof of dead" in classify_supply(volts("0", "0", "0"), None, HANDHELD).meaning


def test_an_open_neutral_and_a_leg_lost_ahead_of_the_panel_stop_the_work() -> None:
    for readings in (volts("240", "141", "99"), volts("41", "121", "80")):
        found = classify_supply(readings, None, HANDHELD)
        assert found.stop_work
        assert found.hand_over is not None


AMOUNTS = st.decimals(0, 300, places=1) | st.sampled_from([Decimal(0), Decimal(120), Decimal(208), Decimal(240)])
ODD = st.decimals(allow_nan=True, allow_infinity=True)
READINGS = st.builds(
    SupplyReadings,
    AMOUNTS | ODD,
    st.none() | AMOUNTS | ODD,
    st.none() | AMOUNTS,
    st.none() | AMOUNTS | ODD,
    st.none() | AMOUNTS,
    st.none() | AMOUNTS,
)
METERS = st.sampled_from([HANDHELD, HANDHELD_LOW_IMPEDANCE])


@given(READINGS, st.none() | READINGS, METERS, st.none() | AMOUNTS | ODD, st.booleans())
def test_every_set_of_readings_returns_a_finding(
    idle: SupplyReadings, loaded: SupplyReadings | None, meter: object, amps: Decimal | None, unplugged: bool
) -> None:
    assert meter in (HANDHELD, HANDHELD_LOW_IMPEDANCE)
    chosen = HANDHELD if meter == HANDHELD else HANDHELD_LOW_IMPEDANCE
    found = classify_supply(idle, loaded, chosen, amps, unplugged)
    assert found.meaning
    assert found.action
    assert found.source
    assert found.hand_over is not None or not found.stop_work


@given(AMOUNTS, AMOUNTS, AMOUNTS)
def test_swapping_the_legs_swaps_only_the_leg(across: Decimal, l1: Decimal, l2: Decimal) -> None:
    one = classify_supply(SupplyReadings(across, l1, l2), None, HANDHELD)
    other = classify_supply(SupplyReadings(across, l2, l1), None, HANDHELD)
    assert one.kind is other.kind
    if one.leg is not None and l1 != l2:
        assert other.leg is not one.leg


@given(st.floats(0.01, 0.2), st.floats(0.01, 0.2), st.floats(60, 2000), st.floats(60, 2000))
def test_a_sound_supply_with_any_small_loads_is_sound(r1: float, r2: float, load_1: float, load_2: float) -> None:
    circuit = Circuit(leg_1=r1, leg_2=r2, load_1=load_1, load_2=load_2)
    for second_v, kind in ((-120, SupplyKind.SPLIT_PHASE), (WYE_SECOND_V, SupplyKind.WYE_208)):
        supply = replace(circuit, second_v=second_v)
        assert kind_of(supply) is kind
        assert kind_of(supply, replace(supply, element=24)) is kind


@given(st.floats(1.2, 50), st.floats(12, 60))
def test_any_bad_joint_that_matters_is_found_under_load(joint: float, element: float) -> None:
    idle = replace(GOOD, leg_2=joint, load_2=2000)
    loaded = replace(idle, element=element)
    drop_part = joint * 240 / (joint + element) / 120
    found = classify_supply(idle.read(), loaded.read(), HANDHELD)
    assert found.sound is False or drop_part < 0.06


def to_frame(across: str, leg_1: str, leg_2: str) -> SupplyReadings:
    """Return readings of a supply of two legs and ground only, as a water heater has it."""
    return SupplyReadings(Decimal(across), None, None, l1_frame=Decimal(leg_1), l2_frame=Decimal(leg_2))


class TestWithoutANeutral:
    """Two legs and a ground: the legs are judged to the frame, and told so."""

    @pytest.mark.parametrize(
        ("readings", "kind"),
        [
            (("240", "120", "120"), SupplyKind.SPLIT_PHASE),
            (("208", "120", "120"), SupplyKind.WYE_208),
            (("0", "0", "0"), SupplyKind.BOTH_LEGS_DEAD),
            (("120", "120", "0.4"), SupplyKind.LOST_LEG),
            (("0", "120", "120"), SupplyKind.LOST_LEG_BACKFED),
            (("198", "120", "78"), SupplyKind.LOW_LEG),
            (("240", "8", "9"), SupplyKind.FRAME_NOT_GROUNDED),
            (("240", "190", "52"), SupplyKind.OPEN_NEUTRAL),
            (("120", "240", "120"), SupplyKind.FRAME_NOT_GROUNDED),
        ],
    )
    def test_what_the_pairs_mean(self, readings: tuple[str, str, str], kind: SupplyKind) -> None:
        finding = classify_supply(to_frame(*readings), None, HANDHELD_LOW_IMPEDANCE)
        assert finding.kind is kind, finding.meaning
        assert "to neutral" not in finding.meaning

    def test_a_joint_that_gives_way_is_told_by_the_leg_that_falls(self) -> None:
        finding = classify_supply(to_frame("240", "120", "120"), to_frame("190", "119", "71"), HANDHELD_LOW_IMPEDANCE)
        assert (finding.kind, finding.leg) == (SupplyKind.COLLAPSES_UNDER_LOAD, Leg.L2)

    def test_a_frame_that_hangs_on_nothing_stops_the_work(self) -> None:
        finding = classify_supply(to_frame("240", "8", "9"), None, HANDHELD_LOW_IMPEDANCE)
        assert finding.stop_work
        assert finding.hand_over is not None
