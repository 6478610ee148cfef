"""What the trade wants of a job on an electric clothes dryer."""

from collections.abc import Iterator
from functools import cache
from itertools import combinations

import pytest

from voicetech.authoring.procedure_files import load_shipped
from voicetech.electrical.appliance import Appliance, Heater, Setup, network_of
from voicetech.electrical.network import Solved, solve
from voicetech.limit_rules import limits_for
from voicetech.procedure import (
    Ask,
    Condition,
    Inspect,
    Instruct,
    Measure,
    Needs,
    Outcome,
    Phase,
    Procedure,
    SafetyRole,
    Section,
    SectionRole,
    Step,
)

ONE_SHOT = {"thermal-fuse-open", "cut-out-open"}
"""Parts that open once and for good because something else got too hot."""
AT_SPEED = {"timer": "heat", "drum": "turning"}


@cache
def job() -> Procedure:
    return load_shipped("electric-dryer-no-heat")


def circuit() -> Appliance:
    found = job().circuit
    assert found is not None
    return found


def steps() -> Iterator[tuple[Section, Step]]:
    for section in job().sections:
        for step in section.steps:
            yield section, step


def running(*faults: str, **knobs: str) -> Solved:
    setup = Setup(live=True, knobs=tuple({**AT_SPEED, **knobs}.items()))
    return solve(network_of(circuit(), {}, [circuit().fault(each) for each in faults], setup))


class TestPhysics:
    def test_a_sound_one_takes_its_plate_s_watts_and_five_amperes_for_the_motor(self) -> None:
        solved = running()
        # 5600 watts at 240 volts are 10.3 ohms and 23.3 amperes; 600 at 120 are 5. The supply has a few volts' drop.
        assert abs(solved.current("leg-feed")) == pytest.approx(23.3, rel=0.05)
        assert abs(solved.current("motor-feed")) == pytest.approx(5, rel=0.05)

    def test_neither_motor_nor_heater_has_anything_with_the_neutral_open(self) -> None:
        """The motor would need the neutral to come back by, and the heater the motor to turn."""
        solved = running("branch-neutral-open")
        assert abs(solved.current("motor-feed")) < 0.1
        assert abs(solved.current("leg-feed")) < 0.1

    def test_with_the_second_leg_lost_it_turns_and_does_not_heat(self) -> None:
        solved = running("breaker-pole-2-open")
        assert abs(solved.volts("motor-1", "motor-2")) == pytest.approx(120, rel=0.05)
        assert abs(solved.current("heater")) < 0.1
        # What makes the lost leg look sound: against the frame every terminal of the heater's circuit is live.
        assert abs(solved.volts("heater-2", "frame")) == pytest.approx(120, rel=0.05)

    def test_with_the_first_leg_lost_nothing_turns(self) -> None:
        assert abs(running("breaker-pole-1-open").current("motor-feed")) < 0.1

    def test_across_the_open_switch_of_the_motor_the_whole_supply_stands(self) -> None:
        solved = running("motor-heat-open")
        assert abs(solved.volts("motor-heat-1", "motor-heat-2")) == pytest.approx(240, rel=0.05)
        assert abs(running().volts("motor-heat-1", "motor-heat-2")) < 0.5

    def test_a_coil_on_its_housing_heats_with_the_drum_standing(self) -> None:
        solved = running("heater-to-housing-middle", drum="standing")
        # Half of ten ohms from one leg to the frame.
        assert abs(solved.current("heater")) == pytest.approx(120 / (10.3 / 2 + 0.5), rel=0.1)
        assert abs(running(drum="standing").current("heater")) < 0.1

    def test_two_hundred_eight_volts_make_three_quarters_of_the_heat(self) -> None:
        there, least = running().power("heater"), running("wye-supply").power("heater")
        assert least / there == pytest.approx(0.75, rel=0.02)


def test_a_usual_heater_passes_at_its_ohms() -> None:
    """Source: a public case where 11.6 ohms is called right (read); 5400 watts at 240 volts are 10.7, calculated."""
    step = job().step("heater", "heater-ohms")
    assert isinstance(step, Measure)
    limits = limits_for(step.limits, {"plate_watts": "5400", "plate_volts": "240"})
    assert limits.low is not None
    assert limits.high is not None
    assert limits.low < 10.7 < limits.high
    assert limits.high < 13


def test_dead_is_proved_on_all_six_pairs() -> None:
    (pairs,) = [step for _, step in steps() if step.role is SafetyRole.DEAD_PAIRS]
    assert isinstance(pairs, Measure)
    assert {pair.label for pair in pairs.pairs} == {f"{a}-{b}" for a, b in combinations(("L1", "L2", "N", "frame"), 2)}


def test_the_heater_is_measured_with_both_wires_off_and_its_housing_as_sheath() -> None:
    (heater,) = [part for part in circuit().parts if isinstance(part, Heater)]
    to_housing = job().step("heater", "heater-housing")
    assert isinstance(to_housing, Measure)
    assert to_housing.setup is not None
    assert len(to_housing.setup.off) == 2
    assert {pair.second for pair in to_housing.pairs} == {heater.sheath}
    assert {pair.first for pair in to_housing.pairs} == {heater.first, heater.second}


def test_the_motor_s_heater_switch_is_judged_only_at_speed_and_clipped_on_dead() -> None:
    section = job().section("motor-switch")
    order = [step.id for step in section.steps]
    (drop,) = [step for step in section.steps if isinstance(step, Measure) and step.limits.rule == "contact-drop"]
    assert drop.needs is Needs.LIVE
    assert drop.setup is not None
    assert dict(drop.setup.knobs) == AT_SPEED
    clipped = section.steps[order.index(drop.id) - 1]
    assert isinstance(clipped, Instruct)
    assert clipped.needs is Needs.DEAD


def test_what_a_contact_loses_is_measured_only_under_load() -> None:
    for section, step in steps():
        if isinstance(step, Measure) and step.limits.rule == "contact-drop":
            assert step.needs is Needs.LIVE, (section.id, step.id)


class TestWhatBlewIt:
    @pytest.mark.parametrize("cause", sorted(ONE_SHOT | {"high-limit-open", "heater-open", "heater-to-housing"}))
    def test_the_air_is_looked_at_once_a_part_is_found_that_weak_air_kills(self, cause: str) -> None:
        upstream = job().causes[cause].upstream
        assert {"airflow", "blower"} <= set(upstream)

    def test_looking_upstream_never_brings_power_on(self) -> None:
        """The part that was found open is out of its circuit, or about to be."""
        for cause in job().causes.values():
            for name in cause.upstream:
                for step in job().section(name).steps:
                    powered = step.needs.power_on and not _asks_for(step.when, "does-not-start")
                    assert not powered, (cause.id, name, step.id)

    def test_a_part_that_blew_is_never_mended_alone(self) -> None:
        for cause in ONE_SHOT:
            assert "vent" in job().remedies[job().causes[cause].remedy].say

    def test_after_every_repair_the_air_is_measured_and_what_is_wrong_leads_back(self) -> None:
        after = job().step("retest", "exhaust-after")
        assert isinstance(after, Measure)
        for out in ("below", "above"):
            assert after.outcomes[out].next == "more-tests"
            assert after.outcomes[out].repeat


def _asks_for(conditions: tuple[Condition, ...], complaint: str) -> bool:
    return any(c.field == "complaint" and complaint in c.values and not c.absent for c in conditions)


class TestCautions:
    def test_lint_is_warned_of_wherever_it_lies(self) -> None:
        for section, step in (("airflow", "duct-look"), ("airflow", "chute-look"), ("blower", "blower-look"),
                              ("heater", "heater-look"), ("put-back", "vent-clear")):  # fmt: skip
            assert "lint-burns" in job().step(section, step).warnings

    def test_nobody_starts_it_open_without_being_told_of_belt_and_drum(self) -> None:
        for section, step in steps():
            starts = isinstance(step, (Instruct, Measure)) and step.needs is Needs.LIVE and section.phase is Phase.TEST
            if starts and "hands out" in step.prompt.full.lower() and ("start" in step.prompt.full.lower()):
                assert "moving-parts" in step.warnings, (section.id, step.id)

    def test_a_motor_s_capacitor_is_spoken_of_before_its_plug_is_touched(self) -> None:
        for section in ("motor-string", "motor", "stops"):
            first = next(step for step in job().section(section).steps if "motor's plug" in step.prompt.full.lower())
            assert "capacitor" in first.warnings, section

    @pytest.mark.parametrize("role", [SectionRole.GO_LIVE, SectionRole.POWER_UP])
    def test_gas_beside_it_is_asked_for_before_power(self, role: SectionRole) -> None:
        smell = next(step for step in job().by_role(role).steps if step.id == "gas-smell")
        assert smell.when[0].field == "gas_near"
        assert isinstance(smell, Ask)
        assert smell.outcomes["yes"].danger is not None

    def test_it_is_slid_and_not_lifted(self) -> None:
        assert "heavy" in job().step("put-back", "vent-on").warnings

    def test_a_door_that_does_not_stop_it_leads_back_to_testing(self) -> None:
        again = job().step("retest", "door-again")
        assert isinstance(again, Ask)
        assert again.outcomes["no"].next == "more-tests"


def test_what_cannot_start_is_not_called_good_under_load() -> None:
    """A supply that nothing could load says nothing of its joints."""
    section = job().section("supply")
    order = [step.id for step in section.steps]
    waits = job().step("supply", "cannot-load")
    assert order.index("supply-idle") < order.index("cannot-load") < order.index("load-on")
    assert isinstance(waits, Instruct)
    assert waits.outcomes["done"] == Outcome(next="end")
    assert _asks_for(waits.when, "does-not-start")


def test_every_blown_part_is_looked_at_for_a_bypass() -> None:
    for name in ("fuse", "cut-out", "high-limit", "cycling"):
        look = next(step for step in job().section(name).steps if isinstance(step, Inspect))
        assert "bridged" in look.prompt.full
