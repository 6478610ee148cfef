"""`voicetech judge`: the limits and the verdict for figures given on the command line.

Pure judging with a way to type it; nothing is recorded and no job is needed.
"""

import json
import re
from collections.abc import Sequence
from decimal import Decimal
from enum import StrEnum
from itertools import zip_longest
from typing import Annotated

import typer

from voicetech.electrical.contact import contact_limits
from voicetech.electrical.cycling import mean_power_w, off_limits, share_on
from voicetech.electrical.element import (
    current_at_a,
    element_limits,
    power_at_w,
    rated_resistance_ohm,
    sheath_limits,
    two_circuit_limits,
)
from voicetech.electrical.limits import Limits
from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE
from voicetech.electrical.ntc import ntc_limits
from voicetech.electrical.sensor import Curve, sensor_limits, temperature_c, to_celsius, to_fahrenheit
from voicetech.electrical.supply import SupplyFinding, SupplyReadings, classify_supply
from voicetech.electrical.words import in_words, plain, rounded
from voicetech.judge import Verdict, judge_reading, judge_state
from voicetech.language.meaning import State
from voicetech.units import Reading, Unit, over_range

app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode="markdown",
    help=(
        "Judge readings without a job: an element, a supply, an oven sensor, a continuity test or the clicks of a "
        "switch.\n\n"
        "Readings are written as the meter shows them: 21.8, OL (over range), 1.1k, 2.2M. Each command "
        "prints the limits, the verdict, the reason and where the figures come from. The maker's service sheet "
        "outranks every figure here."
    ),
)

_OVER_RANGE_WORDS = frozenset({"ol", "o.l", "o.l.", "0l", "o/l", "over", "overload", "infinity", "open"})
_NUMBER = re.compile(r"(?P<number>[+-]?(\d{1,12}(\.\d{0,12})?|\.\d{1,12}))\s*(?P<suffix>[a-zA-ZΩω]*)")
_LONGEST = 40


class TemperatureUnit(StrEnum):
    """How a temperature is given."""

    F = "f"
    C = "c"


class KnobPosition(StrEnum):
    """Where an infinite switch's knob stands while its clicks are timed."""

    LOW = "low"
    MEDIUM = "medium"


class Part(StrEnum):
    """What was tested for continuity."""

    WIRE = "wire"
    FUSE = "fuse"
    SWITCH = "switch"
    THERMOSTAT = "thermostat"
    SHEATH = "sheath"


_SCALES: dict[Unit, dict[str, Decimal]] = {
    Unit.OHM: {
        suffix: Decimal(scale)
        for scale, suffixes in (
            ("1", ("", "ohm", "ohms", "Ω", "ω", "r", "R")),
            ("1e3", ("k", "K", "kohm", "kohms", "kΩ", "kilohm", "kilohms")),
            ("1e6", ("M", "Mohm", "Mohms", "MΩ", "megohm", "megohms")),
        )
        for suffix in suffixes
    },
    Unit.VOLT: {"": Decimal(1), "v": Decimal(1), "V": Decimal(1), "volt": Decimal(1), "volts": Decimal(1)},
    Unit.AMPERE: {"": Decimal(1), "a": Decimal(1), "A": Decimal(1), "amp": Decimal(1), "amps": Decimal(1)},
    Unit.WATT: {
        "": Decimal(1),
        "w": Decimal(1),
        "W": Decimal(1),
        "watts": Decimal(1),
        "k": Decimal(1000),
        "kw": Decimal(1000),
        "kW": Decimal(1000),
    },
    Unit.SECOND: {"": Decimal(1), "s": Decimal(1), "sec": Decimal(1), "seconds": Decimal(1), "min": Decimal(60)},
    Unit.FAHRENHEIT: {"": Decimal(1)},
    Unit.CELSIUS: {"": Decimal(1)},
}


def _reading(text: str, unit: Unit, option: str) -> Reading:
    """Return the reading written in `text`; typer.BadParameter where it is none."""
    written = text.strip()
    if written.lower() in _OVER_RANGE_WORDS:
        return over_range(unit)
    matched = _NUMBER.fullmatch(written) if len(written) <= _LONGEST else None
    scale = _SCALES[unit].get(matched["suffix"]) if matched else None
    if matched is None or scale is None:
        shown = written[:_LONGEST]
        example = "21.8, 1.1k or OL" if unit is Unit.OHM else "a plain number such as 240"
        small_m = "; a small m could be milli or mega, so write M for mega" if shown.endswith("m") else ""
        raise typer.BadParameter(f"{shown!r} is not a reading; write {example}{small_m}", param_hint=option)
    return Reading(Decimal(matched["number"]) * scale, unit)


def _number(text: str, unit: Unit, option: str) -> Decimal:
    reading = _reading(text, unit, option)
    if reading.value is None:
        raise typer.BadParameter("over range is no number here; give the figure", param_hint=option)
    return reading.value


def _optional(text: str | None, unit: Unit, option: str) -> Decimal | None:
    return None if text is None else _number(text, unit, option)


LeadsOption = Annotated[
    str | None,
    typer.Option("--leads", metavar="OHMS", help="What the leads read touched together, in ohms; taken off."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of lines.")]
LowImpedanceOption = Annotated[
    bool, typer.Option("--low-impedance", help="The meter was on its low-impedance (LoZ) input.")
]


@app.command()
def element(
    watts: Annotated[str, typer.Option(metavar="W", help="Watts on the plate, such as 2600 or 2.6kW.")],
    volts: Annotated[str, typer.Option(metavar="V", help="Volts on the plate.")] = "240",
    reading: Annotated[
        str | None, typer.Option(metavar="OHMS", help="Ohms end to end, one wire off: 21.8, OL, 1.1k.")
    ] = None,
    state: Annotated[State | None, typer.Option(case_sensitive=False, help="What was said instead of ohms.")] = None,
    leads: LeadsOption = None,
    to_sheath: Annotated[
        str | None, typer.Option(metavar="OHMS", help="Ohms from a terminal to the sheath as well; must be OL.")
    ] = None,
    second_watts: Annotated[
        str | None,
        typer.Option(metavar="W", help="Watts of the second circuit of a dual element, with a common terminal."),
    ] = None,
    second_reading: Annotated[
        str | None, typer.Option(metavar="OHMS", help="Ohms from its end to the common terminal.")
    ] = None,
    end_to_end: Annotated[
        str | None, typer.Option(metavar="OHMS", help="Ohms from one end to the other, both in a row.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Judge a heating element by the watts and volts on its plate.

    Passes within 10 percent of volts squared over watts, is marginal to 20 percent, fails beyond. A hole,
    blister or burn condemns an element whatever it reads.

    Example: voicetech judge element --watts 2600 --volts 240 --reading 21.8

    A dual ring: voicetech judge element --watts 1000 --reading 57 --second-watts 1400 --second-reading 41
    """
    rated_w, rated_v = _number(watts, Unit.WATT, "--watts"), _number(volts, Unit.VOLT, "--volts")
    try:
        limits = element_limits(rated_w, rated_v)
    except ValueError as wrong:
        raise typer.BadParameter(str(wrong), param_hint="--watts / --volts") from None
    verdict = _judge_either(reading, state, limits, leads, accepts_beep=False)
    facts = {"rated": in_words(rounded(rated_resistance_ohm(rated_w, rated_v), "0.1"), Unit.OHM)}
    for at_v in (rated_v, Decimal(208)):
        power = in_words(rounded(power_at_w(rated_w, rated_v, at_v), "1"), Unit.WATT)
        current = in_words(rounded(current_at_a(rated_w, rated_v, at_v), "0.1"), Unit.AMPERE)
        facts[f"at {plain(at_v)} V"] = f"{power}, {current}"
    verdicts = [verdict]
    if to_sheath is not None:
        sheath = _reading(to_sheath, Unit.OHM, "--to-sheath")
        verdicts.append(judge_reading(sheath, sheath_limits(), HANDHELD, None))
    names = ["", *(["to_sheath"] if to_sheath is not None else [])]
    if second_watts is not None:
        try:
            both = two_circuit_limits(rated_w, _number(second_watts, Unit.WATT, "--second-watts"), rated_v)
        except ValueError as wrong:
            raise typer.BadParameter(str(wrong), param_hint="--second-watts") from None
        lead_ohm = _optional(leads, Unit.OHM, "--leads")
        for name, option, text, wanted in (
            ("second_circuit", "--second-reading", second_reading, both.second),
            ("end_to_end", "--end-to-end", end_to_end, both.end_to_end),
        ):
            if text is not None:
                taken = _reading(text, Unit.OHM, option)
                verdicts.append(judge_reading(taken, wanted, HANDHELD, lead_ohm))
                names.append(name)
        facts["both on"] = in_words(rounded(both.both_w, "1"), Unit.WATT)
    elif second_reading is not None or end_to_end is not None:
        raise typer.BadParameter("give the watts of the second circuit too", param_hint="--second-watts")
    _print_verdicts(verdicts, facts, as_json, names)


@app.command()
def supply(
    l1_l2: Annotated[str, typer.Option("--l1-l2", metavar="V", help="Volts leg to leg, idle.")],
    l1_n: Annotated[str | None, typer.Option("--l1-n", metavar="V", help="Volts leg one to neutral.")] = None,
    l2_n: Annotated[str | None, typer.Option("--l2-n", metavar="V", help="Volts leg two to neutral.")] = None,
    n_frame: Annotated[str | None, typer.Option("--n-frame", metavar="V", help="Volts neutral to frame.")] = None,
    l1_frame: Annotated[str | None, typer.Option("--l1-frame", metavar="V", help="Volts leg one to frame.")] = None,
    l2_frame: Annotated[str | None, typer.Option("--l2-frame", metavar="V", help="Volts leg two to frame.")] = None,
    loaded_l1_l2: Annotated[
        str | None, typer.Option("--loaded-l1-l2", metavar="V", help="Volts leg to leg, one element on high.")
    ] = None,
    loaded_l1_n: Annotated[
        str | None, typer.Option("--loaded-l1-n", metavar="V", help="Volts leg one to neutral under load.")
    ] = None,
    loaded_l2_n: Annotated[
        str | None, typer.Option("--loaded-l2-n", metavar="V", help="Volts leg two to neutral under load.")
    ] = None,
    amps: Annotated[str | None, typer.Option(metavar="A", help="Current of the load, to size a bad joint.")] = None,
    unplugged: Annotated[
        bool, typer.Option("--unplugged", help="Idle readings were at the outlet with nothing plugged in.")
    ] = False,
    low_impedance: LowImpedanceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say what the supply at the terminal block is, or what is wrong with it.

    Told by how the pairs stand to each other: 240/120/120 is split phase, 208/120/120 is 208Y, 0/120/120 is
    a lost leg coming back through an element. 0 volts leg to leg is never proof of dead.

    Example: voicetech judge supply --l1-l2 241 --l1-n 121 --l2-n 120 --loaded-l1-l2 183 --loaded-l1-n 119
    --loaded-l2-n 64 --amps 21.7
    """

    def volts(text: str | None, option: str) -> Decimal | None:
        return _optional(text, Unit.VOLT, option)

    idle = SupplyReadings(
        _number(l1_l2, Unit.VOLT, "--l1-l2"),
        volts(l1_n, "--l1-n"),
        volts(l2_n, "--l2-n"),
        volts(n_frame, "--n-frame"),
        volts(l1_frame, "--l1-frame"),
        volts(l2_frame, "--l2-frame"),
    )
    under_load = (volts(loaded_l1_n, "--loaded-l1-n"), volts(loaded_l2_n, "--loaded-l2-n"))
    loaded = None
    if loaded_l1_l2 is not None:
        loaded = SupplyReadings(_number(loaded_l1_l2, Unit.VOLT, "--loaded-l1-l2"), *under_load)
    elif under_load != (None, None):
        raise typer.BadParameter("give leg to leg under load too", param_hint="--loaded-l1-l2")
    current_a = _optional(amps, Unit.AMPERE, "--amps")
    if current_a is not None and current_a <= 0:
        raise typer.BadParameter("the load's current is above zero", param_hint="--amps")
    meter = HANDHELD_LOW_IMPEDANCE if low_impedance else HANDHELD
    _print_finding(classify_supply(idle, loaded, meter, current_a, unplugged), as_json)


@app.command()
def sensor(
    ohms: Annotated[str, typer.Option(metavar="OHMS", help="What the sensor reads: 1086, 1.086k, OL.")],
    temperature: Annotated[str, typer.Option(metavar="DEGREES", help="Temperature measured beside the sensor.")],
    unit: Annotated[TemperatureUnit, typer.Option(help="Unit of the temperature.")] = TemperatureUnit.F,
    curve: Annotated[
        Curve, typer.Option(help="Platinum curve in ppm/K: 3750 fits oven tables, 3850 is IEC 60751.")
    ] = Curve.PPM_3750,
    table: Annotated[
        str | None,
        typer.Option(
            metavar="TABLE", help="A thermistor's points instead, temperature=ohms in the same unit: 77=10000,212=680."
        ),
    ] = None,
    leads: LeadsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Judge an oven sensor at the temperature it is at: 1000 ohm platinum, or a thermistor by its maker's table.

    Passes within 5 degrees Celsius of the curve and is marginal to 10. Never judged without a temperature;
    the maker's table wins over either curve.

    Example: voicetech judge sensor --ohms 1086 --temperature 75 --unit f

    A thermistor: voicetech judge sensor --ohms 5.2k --temperature 104 --table 77=10k,122=3.6k
    """
    temperature_unit = Unit.FAHRENHEIT if unit is TemperatureUnit.F else Unit.CELSIUS
    at = _number(temperature, temperature_unit, "--temperature")
    points = None if table is None else _points(table, temperature_unit)
    try:
        limits = (
            sensor_limits(at, temperature_unit, curve) if points is None else ntc_limits(points, at, temperature_unit)
        )
    except ValueError as wrong:
        hint = "--temperature" if points is None else "--table / --temperature"
        raise typer.BadParameter(str(wrong), param_hint=hint) from None
    reading = _reading(ohms, Unit.OHM, "--ohms")
    verdict = judge_reading(reading, limits, HANDHELD, _optional(leads, Unit.OHM, "--leads"))
    at_c = None if reading.value is None or points is not None else temperature_c(reading.value, curve)
    facts = {} if at_c is None else {"reads as": _both_temperatures(at_c)}
    _print_verdicts([verdict], facts, as_json)


def _points(table: str, unit: Unit) -> dict[Decimal, Decimal]:
    """Return the ohms by degrees Celsius written in `table`; typer.BadParameter where it is none."""
    points: dict[Decimal, Decimal] = {}
    for piece in table.split(","):
        at, equals, ohm = piece.partition("=")
        if not equals:
            raise typer.BadParameter(f"{piece.strip()!r} is no point; write 77=10000,212=680", param_hint="--table")
        points[to_celsius(_number(at, unit, "--table"), unit)] = _number(ohm, Unit.OHM, "--table")
    return points


def _both_temperatures(at_c: Decimal) -> str:
    fahrenheit = in_words(rounded(to_fahrenheit(at_c), "1"), Unit.FAHRENHEIT)
    return f"{fahrenheit}, {plain(rounded(at_c, '0.1'))} Celsius"


@app.command()
def continuity(
    reading: Annotated[str | None, typer.Option(metavar="OHMS", help="Ohms: 0.4, OL.")] = None,
    state: Annotated[State | None, typer.Option(case_sensitive=False, help="What was said instead of ohms.")] = None,
    part: Annotated[Part, typer.Option(help="What was tested, one wire off.")] = Part.FUSE,
    leads: LeadsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Judge a continuity test: closed is under 1 ohm with the leads nulled.

    A beep is not a resistance (buzzers sound anywhere under 35 to 100 ohms): it passes a wire or fuse as
    continuity only. Ohms never prove a contact under load.

    Example: voicetech judge continuity --reading 0.6 --leads 0.5 --part switch
    """
    limits = sheath_limits() if part is Part.SHEATH else contact_limits()
    verdict = _judge_either(reading, state, limits, leads, accepts_beep=part in {Part.WIRE, Part.FUSE})
    _print_verdicts([verdict], {}, as_json)


@app.command()
def cycling(
    on: Annotated[str, typer.Option("--on", metavar="SECONDS", help="Seconds from the click on to the click off: 12.")],
    off: Annotated[
        str, typer.Option("--off", metavar="SECONDS", help="Seconds from that click off to the next click on: 18.")
    ],
    knob: Annotated[KnobPosition, typer.Option(help="Where the knob stands.")] = KnobPosition.MEDIUM,
    watts: Annotated[
        str | None, typer.Option(metavar="W", help="Watts of the element, to work out what it makes.")
    ] = None,
    volts: Annotated[str, typer.Option(metavar="V", help="Volts on the plate.")] = "240",
    measured: Annotated[
        str | None, typer.Option(metavar="V", help="Volts measured across the element while it is on.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Judge an infinite switch by the times of its clicks on low or medium.

    Time the second cycle: the first is long, because the switch is cold. On high it does not click.

    Example: voicetech judge cycling --on 12 --off 18 --watts 2100
    """
    on_s, off_s = _number(on, Unit.SECOND, "--on"), _number(off, Unit.SECOND, "--off")
    try:
        share = share_on(on_s, off_s)
        limits = off_limits(on_s, low_position=knob is KnobPosition.LOW)
        facts = {"on": f"{rounded(100 * share, '1')} in 100 of the time"}
        if watts is not None:
            rated_w, rated_v = _number(watts, Unit.WATT, "--watts"), _number(volts, Unit.VOLT, "--volts")
            measured_v = _optional(measured, Unit.VOLT, "--measured") or rated_v
            mean_w = mean_power_w(rated_w, rated_v, measured_v, on_s, off_s)
            facts["makes"] = f"{in_words(rounded(mean_w, '1'), Unit.WATT)} over whole cycles"
    except ValueError as wrong:
        raise typer.BadParameter(str(wrong)) from None
    _print_verdicts([judge_reading(Reading(off_s, Unit.SECOND), limits, HANDHELD, None)], facts, as_json)


def _judge_either(
    reading: str | None, state: State | None, limits: Limits, leads: str | None, accepts_beep: bool
) -> Verdict:
    lead_ohm = _optional(leads, Unit.OHM, "--leads")
    if reading is not None and state is None:
        return judge_reading(_reading(reading, Unit.OHM, "--reading"), limits, HANDHELD, lead_ohm)
    if state is not None and reading is None:
        return judge_state(state, limits, accepts_beep)
    raise typer.BadParameter("give either --reading or --state", param_hint="--reading / --state")


def _print_verdicts(
    verdicts: list[Verdict], facts: dict[str, str], as_json: bool, names: Sequence[str] = ("",)
) -> None:
    """Print the verdicts, the first as the command's own and the others under their names."""
    if as_json:
        objects = [_verdict_object(verdict) for verdict in verdicts]
        others = dict(zip(names[1:], objects[1:], strict=False))
        typer.echo(json.dumps({**objects[0], **facts, **others}, ensure_ascii=False, indent=2))
        return
    for name, verdict in zip_longest(names, verdicts, fillvalue=""):
        if isinstance(verdict, str):
            continue
        if name:
            typer.echo(f"\n{name.replace('_', ' ')}")
        typer.echo(f"verdict  {verdict.word.replace('_', ' ')}")
        typer.echo(f"reason   {verdict.reason}")
        typer.echo(f"limits   {_limits_line(verdict.limits)}")
        if verdict.probability_inside is not None:
            typer.echo(f"inside   {100 * verdict.probability_inside:.0f} in 100")
        typer.echo(f"source   {verdict.source}")
    for name, fact in facts.items():
        typer.echo(f"{name:8} {fact}")


def _limits_line(limits: Limits) -> str:
    if limits.expect_open:
        return "over range (OL) only"
    parts = []
    if limits.low is not None and limits.high is not None:
        parts.append(f"{plain(limits.low)} to {in_words(limits.high, limits.unit)}")
    if limits.marginal_low is not None and limits.marginal_high is not None:
        marginal = f"{plain(limits.marginal_low)} to {in_words(limits.marginal_high, limits.unit)}"
        parts.append(f"marginal {marginal}")
    return ", ".join(parts)


def _figure(value: Decimal | None) -> str | None:
    return None if value is None else plain(value)


def _verdict_object(verdict: Verdict) -> dict[str, object]:
    limits = verdict.limits
    return {
        "verdict": str(verdict.word),
        "reason": verdict.reason,
        "low": _figure(limits.low),
        "high": _figure(limits.high),
        "marginal_low": _figure(limits.marginal_low),
        "marginal_high": _figure(limits.marginal_high),
        "unit": str(limits.unit),
        "expect_open": limits.expect_open,
        "probability_inside": verdict.probability_inside,
        "source": verdict.source,
    }


def _print_finding(finding: SupplyFinding, as_json: bool) -> None:
    ratio = None if finding.ratio is None else plain(rounded(finding.ratio, "0.01"))
    if as_json:
        joint = finding.joint
        sized = None
        if joint is not None:
            sized = {
                "drop_v": plain(rounded(joint.drop_v, "0.1")),
                "resistance_ohm": plain(rounded(joint.resistance_ohm, "0.01")),
                "heat_w": plain(rounded(joint.heat_w, "1")),
            }
        found = {
            "finding": str(finding.kind),
            "leg": None if finding.leg is None else str(finding.leg),
            "sound": finding.sound,
            "meaning": finding.meaning,
            "action": finding.action,
            "stop_work": finding.stop_work,
            "hand_over": finding.hand_over,
            "ratio": ratio,
            "joint": sized,
            "remarks": list(finding.remarks),
            "source": finding.source,
        }
        typer.echo(json.dumps(found, ensure_ascii=False, indent=2))
        return
    leg = "" if finding.leg is None else f" ({finding.leg})"
    typer.echo(f"finding  {finding.kind}{leg}")
    typer.echo(f"meaning  {finding.meaning}")
    typer.echo(f"do       {finding.action}")
    if finding.stop_work:
        typer.echo(f"STOP     hand over to {finding.hand_over}")
    elif finding.hand_over is not None:
        typer.echo(f"upstream {finding.hand_over}")
    if ratio is not None:
        typer.echo(f"ratio    {ratio} (2.00 split phase, 1.73 208Y)")
    for remark in finding.remarks:
        typer.echo(f"note     {remark}")
    typer.echo(f"source   {finding.source}")
