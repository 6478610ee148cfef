"""What the trade wants of a job on a built-in oven, and what its circuit reads, checked by hand."""

import math
from functools import cache

import pytest

from voicetech.authoring.procedure_files import load_shipped
from voicetech.diagnosis.predictions import reading
from voicetech.electrical.appliance import Appliance, network_of
from voicetech.electrical.network import solve
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Inspect, Measure, Needs, Phase, Procedure, Section, SectionRole


@cache
def job() -> Procedure:
    return load_shipped("electric-wall-oven-no-heat")


def circuit() -> Appliance:
    found = job().circuit
    assert found is not None
    return found


def sections_at_its_back() -> list[Section]:
    return [section for section in job().sections if section.phase is Phase.TEST and "back" in section.access]


def reads(section: str, step_id: str, *faults: str) -> float:
    """Return what the first pair of the step reads with these faults, without any error of the meter."""
    step = job().step(section, step_id)
    assert isinstance(step, Measure)
    assert step.setup is not None
    at_fault = [circuit().fault(name) for name in faults]
    return reading(solve(network_of(circuit(), {}, at_fault, step.setup)), step, step.pairs[0])


class TestOutOfItsCabinet:
    """It is heavy, and tips once its screws are out."""

    def test_whatever_is_at_its_back_is_done_on_a_stand(self) -> None:
        at_its_back = sections_at_its_back()
        assert len(at_its_back) > 5
        for section in at_its_back:
            first = section.steps[0]
            assert isinstance(first, Ask)
            assert (first.field, first.needs) == ("stands", Needs.DEAD)
            assert "heavy" in first.warnings

    def test_it_is_drawn_out_once(self) -> None:
        for section in sections_at_its_back():
            (asked,) = section.steps[0].when
            assert (asked.field, asked.values, asked.absent) == ("stands", ("on-stand",), True)

    def test_weight_is_warned_of_before_it_moves_at_all(self) -> None:
        reached = job().step(job().by_role(SectionRole.MAKE_SAFE).id, "box-reached")
        assert "heavy" in reached.warnings

    def test_it_is_back_in_place_dead_before_it_is_used_or_left(self) -> None:
        for section, afterwards in (("retest", "original"), ("leave-safe", "said-so")):
            order = [step.id for step in job().section(section).steps]
            assert order.index("slid-back") < order.index(afterwards)
            back = job().step(section, "slid-back")
            assert back.needs is Needs.DEAD
            assert isinstance(back, Ask)
            assert back.outcomes["on-stand"].next == "slid-back"


class TestParts:
    def test_a_motor_is_moved_by_hand_before_its_ohms_and_its_ohms_before_power(self) -> None:
        for motor in ("convection-fan", "cooling-fan", "lock-motor"):
            look, ohms = job().step(motor, f"{motor}-look"), job().step(motor, f"{motor}-ohms")
            order = [step.id for step in job().section(motor).steps]
            assert isinstance(look, Inspect)
            assert order.index(look.id) < order.index(ohms.id)
            assert all(step.needs is not Needs.LIVE for step in job().section(motor).steps)
            assert job().section(motor).cost_min < job().section(f"{motor}-power").cost_min

    @pytest.mark.parametrize(("volts", "ohm"), [("240", 23.04), ("120", 5.76)])
    def test_the_convection_element_is_judged_by_its_own_volts(self, volts: str, ohm: float) -> None:
        step = job().step("convection", "convection-ohms")
        assert isinstance(step, Measure)
        answers = {"convection_watts": "2500", "convection_volts": volts, "plate_volts": "240"}
        limits = limits_for(step.limits, answers)
        assert limits.low is not None
        assert limits.high is not None
        assert float(limits.low) == pytest.approx(ohm * 0.9, rel=0.01)
        assert float(limits.high) == pytest.approx(ohm * 1.1, rel=0.01)

    @pytest.mark.parametrize("cause", ["thermal-fuse-open", "limit-tripped"])
    def test_what_opened_the_cut_out_is_looked_for_while_it_is_dead(self, cause: str) -> None:
        upstream = job().causes[cause].upstream
        assert upstream == ("cooling-fan",)
        assert all(step.needs is Needs.DEAD for step in job().section("cooling-fan").steps)

    def test_a_cut_out_is_never_left_bridged(self) -> None:
        for section, step in (("thermal-fuse", "fuse-back"), ("cooling-air", "limit-back")):
            assert "limits-stay" in job().step(section, step).warnings

    def test_which_oven_of_two_is_asked_at_the_call(self) -> None:
        step = job().step("intake", "cavity")
        assert isinstance(step, Ask)
        assert {choice.key for choice in step.choices} == {"single", "upper", "lower", "both"}
        assert "lost-leg" in step.outcomes["both"].suspects

    def test_a_relay_is_called_welded_only_dead_and_with_its_wire_off(self) -> None:
        welded = {f"{relay}-relay-welded" for relay in ("bake", "broil", "convection")} | {"double-line-welded"}
        for section in job().sections:
            for step in section.steps:
                if not isinstance(step, Measure):
                    continue
                if welded & {outcome.cause for outcome in step.outcomes.values()}:
                    assert (step.needs, step.one_wire_off) == (Needs.DEAD, True), (section.id, step.id)


class TestByHand:
    """Readings of the circuit beside arithmetic: 240 volts, bake 2600 watts or 22.15 ohms, broil 3000 or 19.2."""

    def test_of_a_sound_oven(self) -> None:
        # 10.7 amperes through service, panel, cable and whip, some 0.15 ohms in all, and two contacts.
        assert reads("oven-relay", "bake-volts") == pytest.approx(240 - 10.7 * 0.25, abs=2)
        assert reads("relay-drop", "bake-drop") == pytest.approx(10.7 * 0.02, rel=0.05)
        assert reads("relay-drop", "line-drop") == pytest.approx(10.7 * 0.01, rel=0.05)
        assert reads("convection-fan", "convection-fan-ohms") == 37
        assert reads("lock", "lock-open-ohms") == math.inf
        assert reads("lock", "lock-closed-ohms") == pytest.approx(0.02)
        assert reads("let-go", "off-to-second") == pytest.approx(0, abs=0.5)

    def test_of_an_open_cut_out(self) -> None:
        assert reads("thermal-fuse", "fuse-ohms", "fuse-open") == math.inf
        assert reads("oven-relay", "bake-volts", "fuse-open") == pytest.approx(0, abs=0.5)
        assert reads("oven-relay", "both-output", "fuse-open") == pytest.approx(240, rel=0.01)
        assert reads("double-line", "line-input", "fuse-open") == pytest.approx(0, abs=0.5)

    def test_of_an_open_double_line_relay(self) -> None:
        assert reads("double-line", "line-volts", "double-line-open") == pytest.approx(0, abs=0.5)
        assert reads("double-line", "line-called", "double-line-open") == pytest.approx(240, rel=0.01)
        assert reads("double-line", "line-input", "double-line-open") == pytest.approx(240, rel=0.01)

    def test_a_button_closes_a_cut_out_that_tripped_and_not_one_that_is_open(self) -> None:
        assert reads("thermal-fuse", "limit-pressed", "limit-tripped") < 1
        assert reads("thermal-fuse", "limit-pressed", "fuse-open") == math.inf

    @pytest.mark.parametrize("relay", ["bake", "broil", "convection"])
    def test_a_welded_relay_puts_its_leg_on_every_element(self, relay: str) -> None:
        fault = f"{relay}-relay-welded"
        assert reads("let-go", "off-to-second", fault) == pytest.approx(240, rel=0.01)
        for other in ("bake", "broil", "convection"):
            ohm = reads("let-go", f"{other}-contact-ohms", fault)
            assert ohm == (pytest.approx(0.02) if other == relay else math.inf)

    def test_a_welded_double_line_relay_leaves_the_other_leg(self) -> None:
        assert reads("let-go", "off-to-first", "double-line-welded") == pytest.approx(240, rel=0.01)
        assert reads("let-go", "off-to-second", "double-line-welded") == pytest.approx(0, abs=0.5)
        assert reads("let-go", "line-contact-ohms", "double-line-welded") == pytest.approx(0.01)

    def test_a_path_to_the_sheath_leaves_one_leg_at_most(self) -> None:
        # With every contact open, the frame's 0 volts through 300 ohms: 120 volts to either leg.
        assert reads("let-go", "off-to-second", "bake-to-sheath-middle") == pytest.approx(120, rel=0.02)

    def test_of_a_worn_contact(self) -> None:
        # 240 volts over 22.15 + 0.6 + 0.2 ohms are 10.46 amperes: 6.5 volts in the contact, 68 watts.
        assert reads("relay-drop", "bake-drop", "bake-relay-worn") == pytest.approx(10.46 * 0.62, rel=0.03)
        assert reads("relay-drop", "bake-under-load", "bake-relay-worn") > 220

    def test_of_a_fan_without_its_relay_and_without_a_wire(self) -> None:
        power, fan = "cooling-fan-power", "cooling-fan"
        assert reads(power, f"{fan}-volts") == pytest.approx(120, rel=0.02)
        assert reads(power, f"{fan}-contact", f"{fan}-relay-open") == pytest.approx(120, rel=0.02)
        assert reads(power, f"{fan}-output", f"{fan}-feed-open") == pytest.approx(120, rel=0.02)
        assert reads(power, f"{fan}-wire", f"{fan}-feed-open") == pytest.approx(0, abs=0.5)
        assert reads(power, f"{fan}-wire", f"{fan}-return-open") == pytest.approx(120, rel=0.02)

    def test_a_missing_first_leg_comes_back_through_an_element_that_is_called(self) -> None:
        # L two through the element lights what hangs on the first: a clock that wakes while bake is called.
        dark = reads("whip", "whip-ohms", "whip-1-open")
        assert dark == math.inf or dark > 1000
        assert reads("cooling-fan-power", "cooling-fan-volts", "whip-1-open") == pytest.approx(115, rel=0.1)

    def test_of_the_sensor(self) -> None:
        """1083.5 ohms at 22 degrees Celsius, by 1000 (1 + 3.8102e-3 t - 6.01888e-7 t t)."""
        assert reads("oven-sensor", "sensor-ohms") == pytest.approx(1000 * (1 + 3.8102e-3 * 22 - 6.01888e-7 * 22 * 22))
        assert 1 <= reads("oven-sensor", "board-ohms") - reads("oven-sensor", "sensor-ohms") <= 2
