"""What outcomes say of causes is held to the circuit: one changed outcome of a good procedure is found."""

from dataclasses import replace

import pytest

from voicetech.authoring.checks_physics import outcomes_against_faults
from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.procedure import Hold, Measure, Outcome, Procedure

HEATER = load_shipped("electric-water-heater-no-heat")


def told(procedure: Procedure) -> set[tuple[str, str]]:
    """Return the rules that are broken, each with the step or fault it is told at."""
    return {
        (breach.rule, str(breach.keys[3 if len(breach.keys) > 3 else 2]))
        for breach in outcomes_against_faults(procedure)
    }


def with_outcome(section: str, step: str, result: str, outcome: Outcome) -> Procedure:
    """Return the heater with another outcome for a result."""
    at = HEATER.step(section, step)
    assert not isinstance(at, Hold)
    changed = replace(at, outcomes={**at.outcomes, result: outcome})
    return replace(
        HEATER,
        sections=tuple(
            replace(each, steps=tuple(changed if one is at else one for one in each.steps)) for each in HEATER.sections
        ),
    )


def outcome(section: str, step: str, result: str) -> Outcome:
    at = HEATER.step(section, step)
    assert not isinstance(at, Hold)
    return at.outcomes[result]


@pytest.mark.parametrize("name", shipped_names())
def test_what_comes_with_the_program_agrees_with_its_circuit(name: str) -> None:
    assert told(load_shipped(name)) == set()


@pytest.mark.parametrize("result", ["suspects", "cause"])
def test_a_sound_part_is_not_spoken_against(result: str) -> None:
    against = (
        Outcome(cause="lower-thermostat-open") if result == "cause" else Outcome(suspects=("lower-thermostat-open",))
    )
    found = told(with_outcome("lower-thermostat", "lower-calling", "within", against))
    assert ("sound-condemned", "lower-calling") in found


def test_one_bad_contact_condemns_no_sound_part() -> None:
    found = told(with_outcome("upper-element", "upper-bare", "within", Outcome(cause="upper-element-open")))
    assert ("sound-condemned", "upper-bare") in found


def test_what_rules_a_fault_out_does_not_come_about_with_it() -> None:
    """A contact that gives way under load reads closed at rest."""
    good = outcome("upper-thermostat", "upper-calling", "within")
    weak = replace(good, excludes=(*good.excludes, "upper-thermostat-weak"))
    assert told(with_outcome("upper-thermostat", "upper-calling", "within", weak)) == {
        ("fault-cleared", "upper-calling")
    }


def test_the_test_of_a_cause_finds_each_of_its_faults() -> None:
    bare = outcome("lower-element", "lower-bare", "over_range")
    found = told(
        with_outcome("lower-element", "lower-bare", "over_range", replace(bare, cause=None, next="lower-to-tank"))
    )
    assert ("fault-not-found", "lower-open") in found


def test_the_test_of_a_cause_takes_its_faults_for_no_other() -> None:
    bare = outcome("lower-element", "lower-bare", "over_range")
    found = told(with_outcome("lower-element", "lower-bare", "over_range", replace(bare, cause="lower-element-wrong")))
    assert ("fault-mistaken", "lower-bare") in found


@pytest.mark.parametrize(
    ("section", "step", "result"),
    [
        ("upper-element", "upper-look", "fault"),
        ("upper-thermostat", "upper-stat-look", "fault"),
        ("water", "lukewarm-at-once", "yes"),
    ],
)
def test_what_is_suspected_shows_in_what_was_read_seen_or_told(section: str, step: str, result: str) -> None:
    other = "crossover" if section != "water" else "no-hand-over"
    found = told(with_outcome(section, step, result, Outcome(suspects=(other,))))
    assert ("unfounded", step) in found


def test_an_element_is_measured_to_its_own_sheath() -> None:
    whole = load_shipped("electric-range-no-heat")
    assert whole.circuit is not None
    ends = {end: heater.sheath for heater in whole.circuit.heaters for end in (heater.first, heater.second)}
    sheaths = [sheath for sheath in dict.fromkeys(ends.values()) if sheath != "frame"]
    at = next(
        step
        for section in whole.sections
        for step in section.steps
        if isinstance(step, Measure) and any(ends.get(pair.first) == pair.second in sheaths for pair in step.pairs)
    )
    foreign = next(sheath for sheath in sheaths if sheath not in {pair.second for pair in at.pairs})
    wrong = replace(at, pairs=tuple(replace(pair, second=foreign) for pair in at.pairs))
    sections = tuple(
        replace(each, steps=tuple(wrong if one is at else one for one in each.steps)) for each in whole.sections
    )
    assert ("foreign-sheath", at.id) in told(replace(whole, sections=sections))
