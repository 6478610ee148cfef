"""What the trade wants of a job on a storage water heater."""

from collections.abc import Iterator
from functools import cache
from itertools import combinations

import pytest

from voicetech.authoring.procedure_files import load_shipped
from voicetech.electrical.appliance import Heater
from voicetech.limit_rules import limits_for
from voicetech.procedure import Hold, Measure, Needs, Procedure, SafetyRole, Section, SectionRole, Step


@cache
def job() -> Procedure:
    return load_shipped("electric-water-heater-no-heat")


def steps() -> Iterator[tuple[Section, Step]]:
    for section in job().sections:
        for step in section.steps:
            yield section, step


@pytest.mark.parametrize("role", [SectionRole.GO_LIVE, SectionRole.POWER_UP])
def test_the_tank_is_full_before_power_by_a_hold_of_its_own(role: SectionRole) -> None:
    section = job().by_role(role)
    order = [step.id for step in section.steps]
    full = section.steps[order.index("tank-full")]
    assert isinstance(full, Hold)
    assert not full.when
    power = next(step for step in section.steps if step.role is SafetyRole.POWER_ON)
    assert order.index("tank-full") < order.index(power.id)


def test_dead_is_proved_on_every_pair_there_is_without_a_neutral() -> None:
    (pairs,) = [step for _, step in steps() if step.role is SafetyRole.DEAD_PAIRS]
    assert isinstance(pairs, Measure)
    assert [pair.label for pair in pairs.pairs] == [f"{a}-{b}" for a, b in combinations(("L1", "L2", "frame"), 2)]
    assert all(point.label != "N" for point in job().points.values())


def test_it_is_locked_and_never_unplugged() -> None:
    roles = {step.role for _, step in steps()}
    assert SafetyRole.ISOLATE_LOCKOUT in roles
    assert SafetyRole.ISOLATE_PLUG not in roles


def test_gas_beside_it_is_asked_for_before_power() -> None:
    for role in (SectionRole.GO_LIVE, SectionRole.POWER_UP):
        smell = next(step for step in job().by_role(role).steps if step.id == "gas-smell")
        assert smell.when[0].field == "gas_near"


def test_hot_water_is_warned_of_where_it_comes_out() -> None:
    for section, step in (("repair", "drained"), ("drain", "drain-look"), ("water", "tap-temperature")):
        assert "scald" in job().step(section, step).warnings


def test_the_relief_valve_is_never_plugged_and_a_plugged_one_ends_the_work() -> None:
    seen = job().step("water", "relief-seen")
    asked = job().step("put-back", "relief")
    for step, key in ((seen, "fault"), (asked, "no")):
        assert not isinstance(step, Hold)
        assert step.outcomes[key].hand_over == "relief-valve"
        assert "relief-stays" in step.warnings


def test_elements_are_measured_with_both_wires_off_and_the_tank_as_sheath() -> None:
    circuit = job().circuit
    assert circuit is not None
    heaters = {part.name: part for part in circuit.parts if isinstance(part, Heater)}
    assert set(heaters) == {"upper", "lower"}
    for place in heaters:
        to_tank = job().step(f"{place}-element", f"{place}-to-tank")
        assert isinstance(to_tank, Measure)
        assert to_tank.setup is not None
        assert to_tank.setup.off == {f"{place}-feed", f"{place}-return"}
        assert {pair.second for pair in to_tank.pairs} == {"tank"}


def test_a_usual_element_passes_at_its_ohms() -> None:
    """4500 watts at 240 volts are 12.8 ohms. Source: calculated; a public page quotes the same (read)."""
    step = job().step("lower-element", "lower-ohms")
    assert isinstance(step, Measure)
    limits = limits_for(step.limits, {"lower_watts": "4500", "plate_volts": "240"})
    assert limits.low is not None
    assert limits.high is not None
    assert limits.low < 13 < limits.high


def test_a_thermostat_is_never_asked_to_let_go_of_cold_water() -> None:
    for section, step in (("upper-thermostat", "hand-over-ohms"), ("lower-thermostat", "lower-lets-go")):
        waits = {value for c in job().step(section, step).when if c.field == "complaint" for value in c.values}
        assert waits
        assert "no-hot-water" not in waits


def test_what_a_contact_loses_is_measured_only_under_load() -> None:
    for section, step in steps():
        if isinstance(step, Measure) and step.limits.rule == "contact-drop":
            assert step.needs is Needs.LIVE, (section.id, step.id)
