"""What the trade wants of a job on a built-in cooktop, with coils or with radiant elements under glass."""

from collections.abc import Iterator
from decimal import Decimal
from functools import cache

import pytest

from voicetech.authoring.procedure_files import load_shipped
from voicetech.diagnosis.predictions import reading
from voicetech.electrical.appliance import Appliance, Fault, Setup, network_of
from voicetech.electrical.network import solve
from voicetech.limit_rules import limits_for
from voicetech.procedure import Inspect, Instruct, Measure, Needs, Phase, Procedure, SafetyRole, Section, Step

COIL = "electric-coil-cooktop-no-heat"
RADIANT = "electric-radiant-cooktop-no-heat"
BOTH = (COIL, RADIANT)


@cache
def job(name: str) -> Procedure:
    return load_shipped(name)


def steps(name: str) -> Iterator[tuple[Section, Step]]:
    for section in job(name).sections:
        for step in section.steps:
            yield section, step


def circuit(name: str) -> Appliance:
    found = job(name).circuit
    assert found is not None
    return found


def reads(name: str, section: str, step_id: str, *faults: str, **plate: str) -> list[float]:
    """Return what each pair of a step reads with these faults."""
    step = job(name).step(section, step_id)
    assert isinstance(step, Measure)
    assert step.setup is not None
    solved = solve(network_of(circuit(name), plate, [circuit(name).fault(each) for each in faults], step.setup))
    return [reading(solved, step, pair) for pair in step.pairs]


def power(element: str, *faults: str, **knobs: str) -> float:
    """Return the watts of an element of the radiant cooktop, hot, with these knobs."""
    setup = Setup(live=True, knobs=tuple(knobs.items()), hot=True)
    found: tuple[Fault, ...] = tuple(circuit(RADIANT).fault(each) for each in faults)
    return solve(network_of(circuit(RADIANT), {"rings": "dual"}, found, setup)).power(element)


@pytest.mark.parametrize("name", BOTH)
class TestBuiltIn:
    def test_nothing_tips_and_the_top_is_lifted_by_two_or_propped(self, name: str) -> None:
        assert "tip-over" not in job(name).warnings
        lifting = [step for _section, step in steps(name) if "top up" in step.prompt.full.lower()]
        assert lifting
        for step in lifting:
            assert step.needs is Needs.DEAD
            assert "lift-top" in step.warnings

    def test_the_top_is_asked_for_once(self, name: str) -> None:
        for _section, step in steps(name):
            if step.id == "top-up":
                assert any(c.field == "top_up" and c.absent and "yes" in c.values for c in step.when)

    def test_a_cooktop_may_be_hard_wired_or_have_a_plug(self, name: str) -> None:
        roles = {step.role for _section, step in steps(name)}
        assert {SafetyRole.ISOLATE_LOCKOUT, SafetyRole.ISOLATE_PLUG} <= roles
        assert circuit(name).usual["connection"] == "hard-wired"

    def test_dead_is_proved_where_the_wires_meet(self, name: str) -> None:
        (pairs,) = [step for _section, step in steps(name) if step.role is SafetyRole.DEAD_PAIRS]
        assert isinstance(pairs, Measure)
        assert len(pairs.pairs) == 6
        assert "box" in pairs.prompt.full.lower()

    def test_a_feed_that_is_open_leaves_two_elements_cold_and_the_others_hot(self, name: str) -> None:
        (complaint,) = [each for each in job(name).complaints.values() if each.id.startswith("some-")]
        assert "neighbor" in complaint.out
        assert max(complaint.weights, key=lambda cause: complaint.weights[cause]) == "bus-open"


class TestCoil:
    def test_it_knows_of_no_glass_and_no_limiter(self) -> None:
        words = " ".join(f"{step.prompt.full} {step.prompt.how}" for _section, step in steps(COIL)).lower()
        assert "radiant" not in words
        assert "glass" not in words
        assert "limiter" not in circuit(COIL).nodes | {part.name for part in circuit(COIL).parts}

    def test_a_coil_is_looked_at_in_its_seat_before_it_comes_out(self) -> None:
        order = [step.id for step in job(COIL).section("receptacle").steps]
        assert order.index("seat-look") < order.index("receptacle-look")

    def test_a_burnt_receptacle_takes_its_coil_along(self) -> None:
        cause = job(COIL).causes["receptacle-burnt"]
        assert any("surface element" in part for part in cause.parts)
        assert "together" in job(COIL).remedies[cause.remedy].say


class TestGlass:
    def test_it_is_looked_at_before_any_power_and_a_cracked_one_ends_the_work(self) -> None:
        phases = [section for section in job(RADIANT).sections if section.phase is Phase.SETTINGS]
        first = phases[0].steps[0]
        assert isinstance(first, Inspect)
        assert not phases[0].when
        assert first.needs is Needs.ANY
        assert first.outcomes["fault"].hand_over == "cracked-glass"
        assert "cracked-glass" in first.warnings
        said = job(RADIANT).hand_overs["cracked-glass"].say.lower()
        assert "breaker off" in said
        assert "nobody uses" in said

    def test_it_is_looked_at_again_before_power(self) -> None:
        again = job(RADIANT).step("put-back", "glass-whole")
        assert not isinstance(again, (Inspect, Instruct))

    def test_hot_glass_is_warned_of_where_an_element_is_switched_on(self) -> None:
        for section, step in (("settings", "see-it"), ("radiant-watch", "watch-on"), ("retest", "light-right")):
            assert "hot-glass" in job(RADIANT).step(section, step).warnings

    def test_nothing_is_measured_live_with_an_element_on_under_a_raised_top(self) -> None:
        for section, step in steps(RADIANT):
            if isinstance(step, Measure) and step.needs is Needs.LIVE and "top" in section.access:
                assert step.setup is not None
                assert "burner" not in dict(step.setup.knobs), step.id


class TestLimiter:
    def test_ribbon_and_limiter_are_cleared_by_one_reading_and_split_where_it_is_open(self) -> None:
        """1200 watts at 240 volts are 48 ohms, a few percent less cold. Source: calculated."""
        (sound,) = reads(RADIANT, "inner-ring", "inner-through")
        assert 44 < sound < 48
        assert reads(RADIANT, "inner-ring", "inner-through", "limiter-open") == [float("inf")]
        (ribbon,) = reads(RADIANT, "inner-ring", "inner-alone", "limiter-open")
        assert ribbon == pytest.approx(sound, abs=0.1)
        assert reads(RADIANT, "inner-ring", "inner-limiter", "limiter-open") == [float("inf")]
        assert reads(RADIANT, "inner-ring", "inner-alone", "inner-open") == [float("inf")]

    def test_a_cold_lamp_contact_is_open(self) -> None:
        assert reads(RADIANT, "hot-light", "lamp-cold") == [float("inf")]
        (welded,) = reads(RADIANT, "hot-light", "lamp-cold", "lamp-contact-welded")
        assert welded < 1

    def test_at_the_limit_the_limiter_cuts_both_rings_and_a_welded_one_does_not(self) -> None:
        on = {"burner": "high", "ring": "both"}
        for ring, watts in (("inner", 1200), ("outer", 1300)):
            assert power(ring, **on) == pytest.approx(watts, rel=0.05)
            assert power(ring, **on, glass="limit") == pytest.approx(0, abs=0.01)
            assert power(ring, "limiter-welded", **on, glass="limit") == pytest.approx(watts, rel=0.05)

    def test_the_outer_ring_heats_only_with_both(self) -> None:
        assert power("outer", burner="high") == pytest.approx(0, abs=0.01)
        assert power("outer", "ring-contact-welded", burner="high") == pytest.approx(1300, rel=0.05)
        assert power("inner", "ring-contact-open", burner="high", ring="both") == pytest.approx(1200, rel=0.05)

    def test_a_limiter_that_never_cuts_is_proved_beside_its_twin_and_is_not_used(self) -> None:
        proved = job(RADIANT).step("radiant-watch", "limiter-is-welded")
        assert isinstance(proved, Instruct)
        assert "not to be used" in proved.prompt.full
        assert proved.outcomes["done"].cause == "limiter-welded"

    def test_a_limiter_is_replaced_and_never_bridged(self) -> None:
        for cause in ("limiter-open", "limiter-early", "limiter-welded", "lamp-contact-welded"):
            assert "never bridge" in job(RADIANT).remedies[job(RADIANT).causes[cause].remedy].say.lower()

    @pytest.mark.parametrize(("ring", "watts"), [("inner", 1200), ("outer", 1300), ("inner", 2400)])
    def test_a_ring_is_judged_by_volts_squared_over_watts(self, ring: str, watts: int) -> None:
        step = job(RADIANT).step(f"{ring}-ring", f"{ring}-through")
        assert isinstance(step, Measure)
        limits = limits_for(step.limits, {f"{ring}_watts": str(watts), "plate_volts": "240"})
        assert limits.low is not None
        assert limits.high is not None
        assert limits.low < Decimal(240 * 240) / watts < limits.high
