"""A job on each simulated appliance of the bench: what is wrong is found, and nothing unsafe is done.

A few of the faults, for time; `voicetech rehearse --procedure NAME --fault all --json` works them all.
"""

import json
import random
from functools import cache

import pytest
from typer.testing import CliRunner

from tests.dialogue.talker import lexicon
from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.cli import app
from voicetech.electrical.appliance import Appliance
from voicetech.language.meaning import Meaning, Question
from voicetech.language.understand import understand
from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults
from voicetech.rehearsal.customer import complaint
from voicetech.rehearsal.rehearsal import Rehearsed, rehearse

WATER = "electric-water-heater-no-heat"
DRYER = "electric-dryer-no-heat"
OVEN = "electric-wall-oven-no-heat"
ONE_OF_EACH: dict[str, tuple[str, ...]] = {
    WATER: (
        "breaker-pole-2-open",
        "same-leg",
        "joint-1",
        "cut-out-tripped",
        "cut-out-1-weak",
        "no-hand-over",
        "lower-welded",
        "upper-open",
        "lower-to-tank-middle",
        "link-open",
        "crossover",
        "setting",
    ),
    DRYER: (
        "breaker-pole-1-open",
        "breaker-pole-2-open",
        "branch-neutral-open",
        "joint-1",
        "block-2-open",
        "heater-open",
        "heater-to-housing-first",
        "heater-to-housing-middle",
        "cut-out-blown",
        "high-limit-stuck",
        "cycling-stuck",
        "cycling-welded",
        "fuse-blown",
        "motor-heat-open",
        "motor-heat-welded",
        "timer-heat-open",
        "start-open",
        "door-welded",
        "motor-stuck",
        "motor-hot",
        "belt-stops-it",
        "drum-drags",
        "leg-feed-open",
        "vent-blocked-unseen",
        "blower-loose",
        "bars-coated",
        "setting",
    ),
}
AT_LEAST = {WATER: 25, DRYER: 40}
"""Faults that can be told apart by name, as the bench is asked to have."""


@cache
def understood(line: str, question: Question) -> Meaning:
    return understand(line, question, lexicon())


def circuit_of(name: str) -> Appliance:
    circuit = load_shipped(name).circuit
    assert circuit is not None
    return circuit


def with_faults(name: str, faults: str, **plate: str) -> AtHand:
    circuit = circuit_of(name)
    at_fault = tuple(circuit.fault(each) for each in faults.split("+") if each)
    return AtHand(load_shipped(name), circuit, at_fault, {**circuit.usual, **plate})


def worked(name: str, faults: str, **plate: str) -> Rehearsed:
    return rehearse(understood, with_faults(name, faults, **plate), random.Random(7))


@pytest.mark.parametrize(("name", "fault"), [(name, fault) for name, faults in ONE_OF_EACH.items() for fault in faults])
def test_what_is_wrong_is_named_and_nothing_unsafe_is_done(name: str, fault: str) -> None:
    done = worked(name, fault)
    assert circuit_of(name).fault(fault).cause in (*done.named, *done.together), done.lines[-3:]
    assert not done.unsafe


@pytest.mark.parametrize("name", [name for name in shipped_names() if name not in ONE_OF_EACH])
def test_the_first_fault_of_each_cause_is_found(name: str) -> None:
    faults = possible_faults(circuit_of(name), circuit_of(name).usual)
    for fault in {fault.cause: fault.id for fault in reversed(faults)}.values():
        done = worked(name, fault)
        assert circuit_of(name).fault(fault).cause in (*done.named, *done.together), (fault, done.lines[-3:])
        assert not done.unsafe, fault


@pytest.mark.parametrize("name", ONE_OF_EACH)
def test_there_is_enough_to_practise_on(name: str) -> None:
    circuit = circuit_of(name)
    assert len({fault.say for fault in possible_faults(circuit, circuit.usual)}) >= AT_LEAST[name]
    assert len({fault.say for fault in circuit.faults}) == len(circuit.faults)


@pytest.mark.parametrize(
    ("name", "fault", "complained_of"),
    [
        (WATER, "leg-1-lost", "no-hot-water"),
        (WATER, "upper-open", "no-hot-water"),
        (WATER, "lower-open", "runs-out"),
        (WATER, "no-hand-over", "runs-out"),
        (WATER, "supply-low", "not-hot-enough"),
        (WATER, "lower-welded", "too-hot"),
        (DRYER, "breaker-pole-1-open", "does-not-start"),
        (DRYER, "breaker-pole-2-open", "no-heat"),
        (DRYER, "branch-neutral-open", "does-not-start"),
        (DRYER, "cut-out-blown", "no-heat"),
        (DRYER, "joint-2", "dries-slowly"),
        (DRYER, "belt-broken", "drum-still"),
        (DRYER, "motor-hot", "stops-midway"),
        (DRYER, "cycling-welded", "too-hot"),
        # What is out is louder than what only dries slowly.
        (DRYER, "vent-blocked+fuse-blown", "does-not-start"),
        (DRYER, "fuse-blown+vent-blocked", "does-not-start"),
        # What a fault says of itself stays, where nothing else is out.
        (DRYER, "motor-stuck+vent-blocked", "does-not-start"),
        (OVEN, "leg-1-lost", "nothing"),
        (OVEN, "leg-2-lost", "oven"),
        (OVEN, "branch-neutral-open", "nothing"),
        (OVEN, "sensor-open", "oven"),
        (OVEN, "convection-feed-open", "convection"),
        (OVEN, "convection-fan-relay-open", "fan"),
        (OVEN, "cooling-fan-feed-open", "quits"),
        (OVEN, "vent-blocked", "quits"),
        (OVEN, "lock-motor-winding-open", "locked"),
        (OVEN, "bake-208", "wrong-heat"),
    ],
)
def test_the_customer_complains_of_what_it_does(name: str, fault: str, complained_of: str) -> None:
    assert complaint(with_faults(name, fault)) == complained_of


class TestOneElement:
    """A tank with one thermostat and one element."""

    def test_its_element_gives_no_hot_water_at_all(self) -> None:
        assert complaint(with_faults(WATER, "lower-open", elements="single")) == "no-hot-water"

    @pytest.mark.parametrize("fault", ["lower-open", "lower-no-call", "cut-out-2-open", "common-open"])
    def test_it_is_found(self, fault: str) -> None:
        done = worked(WATER, fault, elements="single")
        assert circuit_of(WATER).fault(fault).cause in (*done.named, *done.together)
        assert not done.unsafe
        assert not any(line.startswith(("upper-element/", "upper-thermostat/")) for line in done.lines)

    def test_faults_of_the_other_one_are_not_there(self) -> None:
        arguments = ["--procedure", "water", "--names", "--fitted", "elements=single"]
        listed = CliRunner().invoke(app, ["rehearse", *arguments]).output
        assert "lower-open" in listed
        assert "upper-open" not in listed

    @pytest.mark.parametrize(
        ("arguments", "told"),
        [
            (["--fitted", "elements=three"], "dual, single"),
            (["--fitted", "wheels=two"], "a question's field"),
            (["--fitted", "elements=single", "--fault", "upper-open"], "--fitted elements=dual"),
            (["--connection", "cord-4"], "leave --connection out"),
        ],
    )
    def test_what_it_never_is_is_told(self, arguments: list[str], told: str) -> None:
        result = CliRunner().invoke(app, ["rehearse", "--procedure", "water", *arguments])
        assert result.exit_code == 2
        assert told in " ".join(result.output.replace("│", " ").split())

    def test_a_line_of_json_says_which_it_was(self) -> None:
        arguments = ["--procedure", "water heater", "--fault", "lower-open", "--json", "--fitted", "elements=single"]
        result = CliRunner().invoke(app, ["rehearse", *arguments])
        record = json.loads(result.output)
        assert (record["found"], record["unsafe_steps"], record["connection"]) == (True, 0, None)


class TestWhatBlewIt:
    """On a dryer a fuse, a limit or a coil fails because of something else, and that is found in the same visit."""

    @pytest.mark.parametrize(
        ("faults", "control"),
        [
            ("fuse-blown+vent-blocked", "timer"),
            ("fuse-blown+vent-blocked-unseen", "timer"),
            ("fuse-blown+lint-inside", "timer"),
            ("fuse-blown+blower-loose", "timer"),
            ("fuse-blown+cycling-welded", "timer"),
            ("cut-out-blown+heater-to-housing-middle", "timer"),
            ("cut-out-blown+vent-blocked-unseen", "timer"),
            ("cut-out-blown+cycling-welded", "timer"),
            ("high-limit-stuck+lint-inside", "timer"),
            ("heater-open+vent-blocked", "timer"),
            ("motor-stuck+drum-drags", "timer"),
            ("fuse-blown+thermistor-cold", "electronic"),
            ("cut-out-blown+heat-relay-welded", "electronic"),
        ],
    )
    def test_both_are_proved_in_one_visit(self, faults: str, control: str) -> None:
        done = worked(DRYER, faults, control=control)
        assert {circuit_of(DRYER).fault(each).cause for each in faults.split("+")} <= set(done.named)
        assert done.visits == 1
        assert not done.unsafe

    def test_a_fuse_is_named_before_what_blew_it(self) -> None:
        assert worked(DRYER, "fuse-blown+vent-blocked").named[:2] == ["thermal-fuse-open", "vent-blocked"]


class TestElectronic:
    """A dryer whose control is a board."""

    @pytest.mark.parametrize(
        "fault", ["thermistor-open", "thermistor-warm", "thermistor-lead-open", "heat-relay-open", "motor-relay-open"]
    )
    def test_it_is_found(self, fault: str) -> None:
        done = worked(DRYER, fault, control="electronic")
        assert circuit_of(DRYER).fault(fault).cause in done.named
        assert not done.unsafe
        assert not any(line.startswith(("timer/", "cycling/", "start/")) for line in done.lines)

    def test_a_relay_is_not_blamed_for_a_thermistor(self) -> None:
        """An open thermistor makes a sound control hold its relay open."""
        assert "heat-relay-open" not in worked(DRYER, "thermistor-open", control="electronic").named


@pytest.mark.parametrize(
    ("told", "faults", "cause"),
    [
        # After cases that people have reported (read), with figures of the simulated dryer.
        ("turns, wet after an hour, timer stands; the second leg is gone", "breaker-pole-2-open", "lost-leg"),
        ("tumbles, no heat; a hot terminal of the outlet is corroded through", "cable-2-open", "lost-leg"),
        ("dead; the outlet is good, a stud of the block burnt off", "block-1-open", "terminal-block-burnt"),
        ("dead again; the fuse blown a second time, the chute half full", "fuse-blown+lint-inside", "lint-inside"),
        ("warm, long dry times; volts and amps right, hardly any air", "vent-blocked", "vent-blocked"),
    ],
)
def test_reported_cases_come_to_their_cause(told: str, faults: str, cause: str) -> None:
    done = worked(DRYER, faults)
    assert cause in done.named, told
    assert not done.unsafe


def test_where_the_air_is_to_blame_nothing_electric_is() -> None:
    done = worked(DRYER, "vent-blocked")
    assert done.named == ["vent-blocked"]
    assert not done.together


class TestWiredInABox:
    """A wall oven, hard wired with four wires or with three, or on a cord."""

    @pytest.mark.parametrize(
        ("connection", "fault"),
        [
            ("hard-wired", "ground-open"),
            ("hard-wired-3", "strap-open"),
            ("hard-wired-3", "bake-to-sheath-middle"),
            ("cord-4", "cord-1-open"),
            ("cord-3", "plug-2-burnt"),
        ],
    )
    def test_it_is_found(self, connection: str, fault: str) -> None:
        done = worked(OVEN, fault, connection=connection)
        assert circuit_of(OVEN).fault(fault).cause in (*done.named, *done.together)
        assert not done.unsafe

    @pytest.mark.parametrize(
        ("connection", "isolated_by"),
        [("hard-wired", "lock-out"), ("hard-wired-3", "lock-out"), ("cord-4", "unplug"), ("cord-3", "unplug")],
    )
    def test_it_is_isolated_as_it_is_connected(self, connection: str, isolated_by: str) -> None:
        lines = worked(OVEN, "bake-open", connection=connection).lines
        by = {line.split(":")[0].removeprefix("make-safe/") for line in lines if line.startswith("make-safe/")}
        assert by & {"lock-out", "lock-out-both", "unplug"} == {isolated_by}

    def test_a_usual_one_is_hard_wired_and_has_no_plug(self) -> None:
        listed = CliRunner().invoke(app, ["rehearse", "--procedure", "wall oven", "--names"]).output
        assert "whip-1-open" in listed
        assert "cord-1-open" not in listed

    def test_it_is_drawn_out_once_and_slid_back_once(self) -> None:
        lines = worked(OVEN, "cooling-fan-relay-open", connection="hard-wired").lines
        assert sum("/drawn-out:" in line for line in lines) == 1
        assert sum("/slid-back:" in line for line in lines) == 1
