import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner, Result

from voicetech.cli.judge import app


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments), env={"COLUMNS": "200", "TERM": "dumb", "NO_COLOR": "1"})


def lines(*arguments: str) -> str:
    ran = run(*arguments)
    assert ran.exit_code == 0, ran.output
    return ran.output


def test_element_prints_limits_verdict_reason_and_source() -> None:
    said = lines("element", "--watts", "2600", "--volts", "240", "--reading", "21.8")
    assert "verdict  within" in said
    assert "21.8 ohms is within 19.9 to 24.4 ohms for a 2600 watt element at 240 volts" in said
    assert "19.9 to 24.4 ohms, marginal 17.7 to 26.6 ohms" in said
    assert "source" in said


def test_element_as_json() -> None:
    said = json.loads(lines("element", "--watts", "2.6kW", "--reading", "OL", "--to-sheath", "85k", "--json"))
    assert said["verdict"] == "over_range"
    assert (said["low"], said["high"]) == ("19.9", "24.4")
    assert said["to_sheath"]["verdict"] == "marginal"


def test_element_takes_the_leads_off() -> None:
    said = json.loads(lines("element", "--watts", "2600", "--reading", "22.1", "--leads", "0.3", "--json"))
    assert "21.8 ohms, leads of 0.3 taken off," in said["reason"]


def test_a_beep_on_an_element_is_no_reading() -> None:
    assert "a beep is not a resistance" in lines("element", "--watts", "2600", "--state", "beep")


@pytest.mark.parametrize(
    ("arguments", "finding"),
    [
        (("--l1-l2", "240", "--l1-n", "120", "--l2-n", "120"), "split-phase"),
        (("--l1-l2", "208", "--l1-n", "120", "--l2-n", "120"), "208y"),
        (("--l1-l2", "0", "--l1-n", "121", "--l2-n", "121"), "lost-leg-backfed"),
        (("--l1-l2", "0", "--l1-n", "121", "--l2-n", "121", "--unplugged"), "one-leg-twice"),
        (("--l1-l2", "240", "--l1-n", "141", "--l2-n", "99"), "open-neutral"),
        (("--l1-l2", "240", "--l1-n", "120", "--l2-n", "120", "--n-frame", "7"), "neutral-to-frame"),
        (
            ("--l1-l2", "241", "--l1-n", "121", "--l2-n", "120", "--loaded-l1-l2", "183"),
            "collapses-under-load",
        ),
        (("--l1-l2", "30", "--l1-n", "0", "--l2-n", "30", "--low-impedance"), "unexplained-source"),
    ],
)
def test_supply_findings(arguments: tuple[str, ...], finding: str) -> None:
    assert f"finding  {finding}" in lines("supply", *arguments)
    assert json.loads(lines("supply", *arguments, "--json"))["finding"] == finding


def test_supply_sizes_the_joint() -> None:
    legs = ("--loaded-l1-l2", "183", "--loaded-l1-n", "119", "--loaded-l2-n", "64", "--amps", "20")
    said = json.loads(lines("supply", "--l1-l2", "240", "--l1-n", "120", "--l2-n", "120", *legs, "--json"))
    # By hand: 56 V at 20 A is 2.8 ohms and 1120 W.
    assert said["joint"] == {"drop_v": "56", "resistance_ohm": "2.8", "heat_w": "1120"}
    assert said["leg"] == "L2"


def test_an_open_neutral_says_stop_and_who_takes_over() -> None:
    said = lines("supply", "--l1-l2", "240", "--l1-n", "141", "--l2-n", "99")
    assert "STOP     hand over to the utility and a licensed electrician" in said


def test_cycling_says_what_the_element_makes() -> None:
    """12 of 30 seconds on: two fifths of 2100 watts, 840, at the voltage of the plate (by hand)."""
    said = json.loads(lines("cycling", "--on", "12", "--off", "18", "--watts", "2100", "--json"))
    assert (said["verdict"], said["on"]) == ("within", "40 in 100 of the time")
    assert said["makes"].startswith("840 watts")


def test_cycling_on_all_the_time_is_below() -> None:
    assert "verdict  below" in lines("cycling", "--on", "40", "--off", "4")


def test_sensor_says_what_it_reads_as() -> None:
    said = json.loads(lines("sensor", "--ohms", "1.193k", "--temperature", "72", "--json"))
    assert said["verdict"] == "above"
    # By the 3750 curve 1193 ohms is about 51 degrees Celsius, 124 Fahrenheit (calculated).
    assert said["reads as"].startswith("124 degrees Fahrenheit, 51.1")


def test_a_dual_element_by_both_circuits() -> None:
    said = json.loads(lines("element", "--watts", "1000", "--reading", "57", "--second-watts", "1400",
                            "--second-reading", "OL", "--json"))  # fmt: skip
    assert said["verdict"] == "within"
    assert said["second_circuit"]["verdict"] == "over_range"
    assert said["both on"] == "2400 watts"


def test_a_second_circuit_that_cannot_be_is_told_by_its_option() -> None:
    for arguments, option in (
        (("--second-watts", "0"), "--second-watts"),
        (("--second-watts", "1400", "--second-reading", "x"), "--second-reading"),
        (("--second-watts", "1400", "--end-to-end", "x"), "--end-to-end"),
    ):
        result = run("element", "--watts", "1000", "--reading", "57", *arguments)
        assert result.exit_code == 2, result.output
        assert option in result.output


def test_a_thermistor_by_its_table() -> None:
    table = ("--table", "77=10k,122=3.588k")
    assert "verdict  within" in lines("sensor", "--ohms", "10.1k", "--temperature", "77", *table)
    assert "verdict  below" in lines("sensor", "--ohms", "5k", "--temperature", "77", *table)


def test_sensor_by_either_curve_and_unit() -> None:
    # IEC 60751 (coefficients read at second hand): 1097.35 ohms at 25 degrees Celsius.
    said = lines("sensor", "--ohms", "1097", "--temperature", "25", "--unit", "c", "--curve", "3850")
    assert "verdict  within" in said


@pytest.mark.parametrize(
    ("arguments", "verdict"),
    [
        (("--reading", "0.4"), "within"),
        (("--reading", "OL"), "over range"),
        (("--reading", "0.9", "--leads", "0.5", "--part", "switch"), "within"),
        (("--state", "beep"), "within"),
        (("--state", "beep", "--part", "switch"), "unusable"),
        (("--reading", "85k", "--part", "sheath"), "marginal"),
        (("--reading", "ol", "--part", "sheath"), "within"),
    ],
)
def test_continuity(arguments: tuple[str, ...], verdict: str) -> None:
    assert f"verdict  {verdict}" in lines("continuity", *arguments)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("element", "--watts", "2600", "--reading", "21,8"), "is not a reading"),
        (("element", "--watts", "2600", "--reading", "about twenty"), "is not a reading"),
        (("element", "--watts", "2600", "--reading", "2m"), "write M for mega"),
        (("element", "--watts", "0", "--reading", "21.8"), "read the plate again"),
        (("element", "--watts", "OL", "--reading", "21.8"), "give the figure"),
        (("element", "--watts", "2600"), "either --reading or --state"),
        (("element", "--watts", "2600", "--reading", "9" * 500), "is not a reading"),
        (("supply", "--l1-l2", "1.1k", "--l1-n", "120", "--l2-n", "120"), "is not a reading"),
        (("supply", "--l1-l2", "OL"), "give the figure"),
        (("supply", "--l1-l2", "240", "--loaded-l1-n", "110"), "leg to leg under load"),
        (("supply", "--l1-l2", "240", "--amps", "0"), "above zero"),
        (("sensor", "--ohms", "1086", "--temperature", "9999"), "give the temperature at"),
        (("continuity",), "either --reading or --state"),
        (("continuity", "--state", "maybe"), "maybe"),
    ],
)
def test_bad_figures_get_a_message_and_exit_code_2(arguments: tuple[str, ...], says: str) -> None:
    ran = run(*arguments)
    assert ran.exit_code == 2
    assert says in ran.output
    assert "Traceback" not in ran.output


@given(st.text(max_size=60).filter(lambda text: not text.startswith("-")))
def test_no_text_raises(text: str) -> None:
    ran = run("element", "--watts", "2600", "--reading", text)
    assert ran.exit_code in (0, 2)
    assert ran.exception is None or isinstance(ran.exception, SystemExit)


@pytest.mark.parametrize("command", ["element", "supply", "sensor", "continuity"])
def test_help_has_an_example(command: str) -> None:
    assert f"voicetech judge {command}" in lines(command, "--help")
