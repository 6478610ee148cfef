"""A job on a simulated range: whatever is wrong with it is found through the real dialogue, and nothing unsafe is done.

A few of the faults, for time; `voicetech rehearse --fault all --json` works them all.
"""

import json
import random
from decimal import Decimal
from functools import cache

import pytest
from typer.testing import CliRunner

from tests.diagnosis.range_circuit import circuit
from tests.dialogue.talker import lexicon, shipped
from voicetech.cli import app
from voicetech.electrical.meter import HANDHELD
from voicetech.language.meaning import Meaning, Question
from voicetech.language.understand import understand
from voicetech.procedure import Measure
from voicetech.rehearsal.appliance_at_hand import AtHand, shown
from voicetech.rehearsal.customer import complaint
from voicetech.rehearsal.rehearsal import Rehearsed, rehearse
from voicetech.units import Unit

SINGLE = (
    "breaker-pole-2-open",
    "cord-1-open",
    "joint-1",
    "surface-open",
    "pole-2-open",
    "receptacle-1-burnt",
    "bake-to-sheath-middle",
    "bake-open-hot",
    "bake-relay-open",
    "sensor-harness-open",
    "setting",
    "strap-left-on",
)
PAIRS = ("bake-open+broil-open", "setting+surface-open", "leg-1-lost+bake-open")


@cache
def understood(line: str, question: Question) -> Meaning:
    return understand(line, question, lexicon())


def with_faults(names: str, connection: str = "cord-4") -> AtHand:
    faults = tuple(circuit().fault(name) for name in names.split("+") if name)
    return AtHand(shipped(), circuit(), faults, {"connection": connection})


def worked(names: str, connection: str = "cord-4") -> Rehearsed:
    return rehearse(understood, with_faults(names, connection), random.Random(7))


@pytest.mark.parametrize("names", [*SINGLE, *PAIRS])
def test_what_is_wrong_is_named_and_nothing_unsafe_is_done(names: str) -> None:
    done = worked(names)
    for name in names.split("+"):
        assert circuit().fault(name).cause in (*done.named, *done.together), done.lines[-3:]
    assert not done.unsafe


@pytest.mark.parametrize(
    ("connection", "name"),
    [
        ("cord-3", "strap-open"),
        ("cord-3", "branch-neutral-open"),
        ("cord-3", "cord-n-open"),
        ("cord-3", "wiring-to-frame-1"),
        ("hard-wired", "supply-ground-open"),
        ("hard-wired", "wiring-to-frame-2"),
        ("hard-wired", "breaker-pole-1-open"),
        ("hard-wired", "bake-to-sheath-middle"),
    ],
)
def test_it_is_found_on_another_connection(connection: str, name: str) -> None:
    done = worked(name, connection)
    assert circuit().fault(name).cause in (*done.named, *done.together), done.lines[-3:]
    assert not done.unsafe


def test_the_same_seed_gives_the_same_job() -> None:
    assert worked("bake-open").lines == worked("bake-open").lines


@pytest.mark.parametrize(
    ("names", "complained_of"),
    [
        ("", "wrong-heat"),
        ("leg-1-lost", "nothing-heats"),
        ("bake-open", "bake"),
        ("broil-open", "broil"),
        ("fuse-open", "oven"),
        ("surface-open", "one-coil"),
        ("supply-low", "wrong-heat"),
        ("bake-blistered", "bake"),
        ("breaker-tripped", "nothing-heats"),
    ],
)
def test_the_customer_complains_of_what_is_cold(names: str, complained_of: str) -> None:
    assert complaint(with_faults(names)) == complained_of


def test_a_meter_stays_within_its_accuracy() -> None:
    """1.0 percent and 3 counts of 0.1 volts at 240 volts: 2.7 volts. Source: as `electrical.meter` states it."""
    chance = random.Random(1)
    values = [shown(240.0, Unit.VOLT, HANDHELD, chance) for _ in range(500)]
    assert all(value is not None and abs(value - 240) <= Decimal("2.75") for value in values)
    assert len(set(values)) > 20
    assert shown(float("inf"), Unit.OHM, HANDHELD, chance) is None
    assert shown(90e6, Unit.OHM, HANDHELD, chance) is None


def test_a_lost_leg_shows_a_ghost_on_a_high_impedance_meter() -> None:
    """Not 0 and not 120: what couples across the cable. Source: public pages on ghost voltages, up to 85 percent."""
    step = shipped().step("supply", "supply-idle")
    assert isinstance(step, Measure)
    at_hand = with_faults("breaker-pole-2-open")
    by_label = {pair.label: at_hand.shows(step, pair, random.Random(2)) for pair in step.pairs}
    ghost = by_label["L2-N"]
    assert ghost is not None
    assert 5 < ghost < 102


def test_what_only_couples_across_is_gone_on_low_impedance() -> None:
    step = shipped().step("supply", "supply-idle")
    assert isinstance(step, Measure)
    at_hand = with_faults("breaker-pole-2-open")
    by_label = {pair.label: at_hand.shows(step, pair, random.Random(2), low_impedance=True) for pair in step.pairs}
    assert by_label["L2-N"] is not None
    assert by_label["L2-N"] < 5
    assert by_label["L1-N"] is not None
    assert 115 < by_label["L1-N"] < 125


def test_a_stopwatch_shows_how_long_the_switch_is_on() -> None:
    on, off = shipped().step("switch-clicks", "clicks-on"), shipped().step("switch-clicks", "clicks-off")
    assert isinstance(on, Measure)
    assert isinstance(off, Measure)
    for names, longer in (("setting", False), ("cycling-too-long", True)):
        at_hand = with_faults(names)
        on_s = at_hand.shows(on, on.pairs[0], random.Random(1))
        off_s = at_hand.shows(off, off.pairs[0], random.Random(1))
        assert on_s is not None
        assert off_s is not None
        assert (on_s > off_s) is longer


def test_two_faults_that_no_supply_has_at_once_are_no_pair() -> None:
    circuit = shipped().circuit
    assert circuit is not None
    assert circuit.fault("supply-low").contradicts(circuit.fault("supply-high"))
    assert not circuit.fault("supply-low").contradicts(circuit.fault("bake-open"))


def test_json_has_one_line_for_each_fault() -> None:
    result = CliRunner().invoke(app, ["rehearse", "--fault", "bake-open+setting", "--json", "--seed", "3"])
    assert result.exit_code == 0, result.output
    (line,) = result.output.splitlines()
    record = json.loads(line)
    assert {"fault", "found", "tests", "named", "unsafe_steps"} <= set(record)
    assert (record["fault"], record["found"], record["unsafe_steps"]) == ("bake-open+setting", True, 0)


def test_a_fault_that_is_not_there_is_told_with_where_to_look() -> None:
    result = CliRunner().invoke(app, ["rehearse", "--fault", "gremlins"])
    assert result.exit_code == 2
    assert "--names" in result.output


def test_each_practice_has_another_fault_unless_a_seed_repeats_it() -> None:
    def hidden(*arguments: str) -> str:
        result = CliRunner().invoke(app, ["rehearse", "--plain", *arguments], input="give up\n")
        return next(line for line in result.output.splitlines() if line.startswith("it was: "))

    assert len({hidden() for _ in range(8)}) > 1
    assert hidden("--seed", "5") == hidden("--seed", "5")


def named(*arguments: str) -> set[str]:
    result = CliRunner().invoke(app, ["rehearse", "--names", *arguments])
    assert result.exit_code == 0, result.output
    return {line.split(":")[0] for line in result.output.splitlines()}


def test_only_the_faults_of_the_connection_are_listed() -> None:
    hard_wired, cord_3, cord_4 = (named("--connection", how) for how in ("hard-wired", "cord-3", "cord-4"))
    assert cord_4 == named(), "a four wire cord is usual"
    assert {"cord-1-open", "plug-1-burnt", "strap-left-on"} <= cord_4 - hard_wired
    assert {"ground-open", "strap-left-on"} <= cord_4 - cord_3
    assert cord_3 - cord_4 == {"strap-open"}
    assert "bake-open" in hard_wired & cord_3 & cord_4


def test_a_connection_that_the_procedure_does_not_ask_for_is_told_with_those_it_does() -> None:
    result = CliRunner().invoke(app, ["rehearse", "--connection", "wireless"])
    assert result.exit_code == 2
    assert all(how in result.output for how in ("wireless", "cord-4", "cord-3", "hard-wired"))


def test_a_fault_of_another_connection_is_told_with_where_it_exists() -> None:
    result = CliRunner().invoke(app, ["rehearse", "--connection", "hard-wired", "--fault", "bake-open+cord-1-open"])
    told = " ".join(result.output.replace("│", " ").split())
    assert result.exit_code == 2
    assert "cord-1-open (the first leg of the cord is open)" in told
    assert "only with cord-4 or cord-3" in told
    assert "--names" in told


@pytest.mark.parametrize("which", ["random", "all", "pairs"])
def test_what_chance_chooses_exists_on_the_connection(which: str, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[str] = []

    def worked(_understood: object, at_hand: AtHand, _chance: object) -> Rehearsed:
        drawn.extend(fault.id for fault in at_hand.faults)
        return Rehearsed()

    monkeypatch.setattr("voicetech.rehearsal.rehearsal.rehearse", worked)
    arguments = ["rehearse", "--connection", "hard-wired", "--fault", which, "--json"]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    assert drawn
    assert set(drawn) <= named("--connection", "hard-wired")
    assert json.loads(result.output.splitlines()[0])["connection"] == "hard-wired"


def test_practice_shows_what_is_found_and_tells_at_the_end() -> None:
    lines = "no\nbake\nshow\ngive up\n"
    result = CliRunner().invoke(app, ["rehearse", "--fault", "bake-open", "--plain"], input=lines)
    assert result.exit_code == 0, result.output
    assert "you find: at once" in result.output
    assert "it was: the bake element is open" in result.output
    assert "safety: kept" in result.output


def test_who_gives_up_or_quits_is_told_which_tests_show_the_fault() -> None:
    for end in ("give up", "quit"):
        told = CliRunner().invoke(app, ["rehearse", "--plain", "--fault", "bake-open"], input=f"no\nbake\n{end}\n")
        (shown,) = (line for line in told.output.splitlines() if line.startswith("shown by: "))
        assert "bake" in shown.removeprefix("shown by: ").split(", ")
        assert "infinite switch" not in shown
