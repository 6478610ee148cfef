from dataclasses import replace
from decimal import Decimal
from math import erf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicetech.electrical.contact import (
    contact_drop_limits,
    contact_limits,
    earth_limits,
    lead_limits,
    open_contact_limits,
)
from voicetech.electrical.element import current_limits, element_limits, insulation_limits, sheath_limits
from voicetech.electrical.meter import HANDHELD, HANDHELD_LOW_IMPEDANCE, Meter, MeterRange, uncertainty
from voicetech.electrical.sensor import Curve, sensor_limits
from voicetech.judge import (
    Limits,
    Verdict,
    VerdictWord,
    judge_reading,
    judge_state,
    limits_absent_of_voltage,
    supply_limits,
)
from voicetech.language.meaning import State
from voicetech.units import Reading, Unit, over_range

BAKE = element_limits(Decimal(2600), Decimal(240))
FAHRENHEIT = Unit.FAHRENHEIT


def judged(
    shown: str, limits: Limits, lead: str | None = "0", meter: Meter = HANDHELD, unit: Unit | None = None
) -> Verdict:
    """Judge what a meter shows; OL is over range."""
    reading = over_range(limits.unit) if shown == "OL" else Reading(Decimal(shown), unit or limits.unit)
    return judge_reading(reading, limits, meter, None if lead is None else Decimal(lead))


def test_the_reason_is_one_sentence_of_words_and_numbers() -> None:
    verdict = judged("21.8", BAKE, lead=None)
    assert verdict.word is VerdictWord.WITHIN
    assert verdict.reason == "21.8 ohms is within 19.9 to 24.4 ohms for a 2600 watt element at 240 volts"
    assert verdict.source == BAKE.source


# Range and oven readings after published cases, with figures of our own; the words are the trade's verdicts.
@pytest.mark.parametrize(
    ("shown", "limits", "lead", "word"),
    [
        ("12.7", element_limits(Decimal(4500), Decimal(240)), "0", VerdictWord.WITHIN),
        ("27.7", element_limits(Decimal(2100), Decimal(240)), "0", VerdictWord.WITHIN),
        ("38.0", element_limits(Decimal(1500), Decimal(240)), None, VerdictWord.WITHIN),
        ("46.5", element_limits(Decimal(1250), Decimal(240)), None, VerdictWord.WITHIN),
        ("32.3", element_limits(Decimal(1800), Decimal(240)), None, VerdictWord.WITHIN),
        ("41.0", element_limits(Decimal(2400), Decimal(240)), "0", VerdictWord.ABOVE),
        ("18.1", element_limits(Decimal(2400), Decimal(240)), "0", VerdictWord.BELOW),
        ("OL", element_limits(Decimal(2400), Decimal(240)), "0", VerdictWord.OVER_RANGE),
        ("0.4", element_limits(Decimal(2400), Decimal(240)), "0", VerdictWord.BELOW),
        ("OL", sheath_limits(), "0", VerdictWord.WITHIN),
        ("80000", sheath_limits(), "0", VerdictWord.MARGINAL),
        ("12050", sheath_limits(), "0", VerdictWord.BELOW),
        ("4300", sheath_limits(), "0", VerdictWord.BELOW),
        ("2.3", sheath_limits(), "0", VerdictWord.BELOW),
        ("0.7", contact_limits(), "0.5", VerdictWord.WITHIN),
        ("0.6", contact_limits(), "0.5", VerdictWord.WITHIN),
        ("250", contact_limits(), "0.2", VerdictWord.ABOVE),
        ("OL", contact_limits(), "0.2", VerdictWord.OVER_RANGE),
        ("OL", open_contact_limits(), "0.2", VerdictWord.WITHIN),
        ("0.2", open_contact_limits(), "0.2", VerdictWord.BELOW),
        ("1085", sensor_limits(Decimal(72), FAHRENHEIT), "0.2", VerdictWord.WITHIN),
        ("1192", sensor_limits(Decimal(72), FAHRENHEIT), "0.2", VerdictWord.ABOVE),
        ("1341", sensor_limits(Decimal(75), FAHRENHEIT), "0.2", VerdictWord.ABOVE),
        ("OL", sensor_limits(Decimal(75), FAHRENHEIT), "0.2", VerdictWord.OVER_RANGE),
        ("0.1", earth_limits(with_cord=True), "0", VerdictWord.WITHIN),
        ("OL", earth_limits(with_cord=True), "0", VerdictWord.OVER_RANGE),
        # An insulation tester that goes beyond its range: more ohms than the least that is asked for.
        ("OL", insulation_limits(), None, VerdictWord.WITHIN),
        ("0.4", lead_limits(), None, VerdictWord.WITHIN),
        ("1.3", lead_limits(), None, VerdictWord.ABOVE),
        ("236", supply_limits(Decimal(240)), None, VerdictWord.WITHIN),
        ("182", supply_limits(Decimal(240)), None, VerdictWord.BELOW),
        ("22.0", current_limits(Decimal(5400), Decimal(240), Decimal(236)), None, VerdictWord.WITHIN),
        ("0.0", current_limits(Decimal(2100), Decimal(240), Decimal(239)), None, VerdictWord.BELOW),
        ("0.1", contact_drop_limits(), None, VerdictWord.WITHIN),
        ("0.8", contact_drop_limits(), None, VerdictWord.ABOVE),
        ("238", contact_drop_limits(), None, VerdictWord.ABOVE),
    ],
)
def test_range_and_oven_readings(shown: str, limits: Limits, lead: str | None, word: VerdictWord) -> None:
    assert judged(shown, limits, lead).word is word


def test_a_208_volt_part_is_said_to_fit_one() -> None:
    assert "fits a 208 volt part" in judged("18.0", element_limits(Decimal(2400), Decimal(240))).reason
    assert "fits a 240 volt part" in judged("24.0", element_limits(Decimal(2400), Decimal(208))).reason


def test_a_sensor_on_the_other_curve_is_said_to_fit_it() -> None:
    # 1775 ohms at 400 degrees Fahrenheit is IEC 60751 (calculated); the published oven table has 1753 (read).
    limits = sensor_limits(Decimal(400), FAHRENHEIT, Curve.PPM_3750)
    other = judged("1775", limits)
    assert other.word is VerdictWord.MARGINAL
    assert "fits the 3850 ppm curve" in other.reason


@pytest.mark.parametrize(
    ("fahrenheit", "ohm"),
    # The published oven table (read).
    [(100, "1143"), (200, "1350"), (300, "1553"), (350, "1654"), (400, "1753"), (500, "1949")],
)
def test_a_sensor_on_the_published_oven_table_passes_hot_and_cold(fahrenheit: int, ohm: str) -> None:
    assert judged(ohm, sensor_limits(Decimal(fahrenheit), FAHRENHEIT), None).word is VerdictWord.WITHIN


def test_leads_are_taken_off_and_said() -> None:
    verdict = judged("0.9", contact_limits(), lead="0.5")
    assert verdict.word is VerdictWord.WITHIN
    assert "0.4 ohms, leads of 0.5 taken off," in verdict.reason


def test_leads_not_taken_off_keep_a_contact_from_being_condemned() -> None:
    assert judged("1.4", contact_limits(), lead="0").word is VerdictWord.ABOVE
    unsure = judged("1.4", contact_limits(), lead=None)
    assert unsure.word is VerdictWord.MARGINAL
    assert "the leads are still in it" in unsure.reason


def test_leads_are_not_taken_off_the_leads() -> None:
    assert judged("0.4", lead_limits(), lead="0.4").reason.startswith("0.4 ohms")


@pytest.mark.parametrize(
    ("shown", "lead", "word"), [("0.2", "0.3", VerdictWord.WITHIN), ("0.2", "5", VerdictWord.UNUSABLE)]
)
def test_a_reading_below_its_leads(shown: str, lead: str, word: VerdictWord) -> None:
    assert judged(shown, contact_limits(), lead).word is word


@pytest.mark.parametrize(
    ("shown", "meter", "word"),
    [
        ("0", HANDHELD_LOW_IMPEDANCE, VerdictWord.WITHIN),
        ("0.4", HANDHELD_LOW_IMPEDANCE, VerdictWord.WITHIN),
        ("1", HANDHELD_LOW_IMPEDANCE, VerdictWord.WITHIN),
        ("1.1", HANDHELD_LOW_IMPEDANCE, VerdictWord.ABOVE),
        ("86", HANDHELD_LOW_IMPEDANCE, VerdictWord.ABOVE),
        ("86", HANDHELD, VerdictWord.MARGINAL),
        ("120", HANDHELD, VerdictWord.ABOVE),
    ],
)
def test_dead_is_one_volt_and_a_high_impedance_reading_is_repeated(shown: str, meter: Meter, word: VerdictWord) -> None:
    assert judged(shown, limits_absent_of_voltage(), None, meter).word is word


@pytest.mark.parametrize(
    "reading",
    [
        Reading(Decimal(120), Unit.VOLT),
        Reading(Decimal(22), None),
        Reading(Decimal(-3), Unit.OHM),
        Reading(Decimal("NaN"), Unit.OHM),
        Reading(Decimal("Infinity"), Unit.OHM),
        Reading(Decimal("1E+99999"), Unit.OHM),
        over_range(Unit.VOLT),
    ],
)
def test_a_reading_that_cannot_be_used_says_why(reading: Reading) -> None:
    verdict = judge_reading(reading, BAKE, HANDHELD, None)
    assert verdict.word is VerdictWord.UNUSABLE
    assert verdict.probability_inside is None
    assert len(verdict.reason) > 15


def test_over_range_on_volts_is_no_value() -> None:
    assert judged("OL", supply_limits(Decimal(240))).word is VerdictWord.UNUSABLE


@pytest.mark.parametrize(
    ("state", "limits", "accepts_beep", "word"),
    [
        (State.BEEP, BAKE, False, VerdictWord.UNUSABLE),
        (State.CLOSED, BAKE, False, VerdictWord.UNUSABLE),
        (State.OPEN, BAKE, False, VerdictWord.OVER_RANGE),
        (State.SHORT, BAKE, False, VerdictWord.BELOW),
        (State.BEEP, contact_limits(), True, VerdictWord.WITHIN),
        (State.CLOSED, contact_limits(), True, VerdictWord.WITHIN),
        (State.OPEN, contact_limits(), True, VerdictWord.OVER_RANGE),
        (State.BEEP, contact_limits(), False, VerdictWord.UNUSABLE),
        (State.CLOSED, contact_limits(), False, VerdictWord.UNUSABLE),
        (State.OPEN, sheath_limits(), False, VerdictWord.WITHIN),
        (State.BEEP, sheath_limits(), False, VerdictWord.BELOW),
        (State.CLOSED, sheath_limits(), False, VerdictWord.BELOW),
        (State.SHORT, sheath_limits(), False, VerdictWord.BELOW),
        (State.OPEN, limits_absent_of_voltage(), False, VerdictWord.UNUSABLE),
        (State.CLOSED, supply_limits(Decimal(240)), True, VerdictWord.UNUSABLE),
    ],
)
def test_words_in_place_of_a_reading(state: State, limits: Limits, accepts_beep: bool, word: VerdictWord) -> None:
    verdict = judge_state(state, limits, accepts_beep)
    assert verdict.word is word
    assert verdict.reason


def test_a_beep_says_what_it_is() -> None:
    # Thresholds in five meter manuals (read as excerpts): 35, 50, 50, 70 and 100 ohms.
    assert "35 to 100 ohms" in judge_state(State.BEEP, BAKE, accepts_beep=False).reason
    assert judge_state(State.BEEP, BAKE, False).reason.startswith("a beep is not a resistance")
    assert "continuity, ohms not taken" in judge_state(State.BEEP, contact_limits(), True).reason


# A meter of plus or minus 1 unit flat, so that the published arithmetic can be followed: u = 1 / sqrt 3, U = 1.1547.
FLAT = replace(HANDHELD, ranges=(MeterRange(Unit.OHM, Decimal(10_000), Decimal("0.1"), Decimal(0), 10),))
SPAN = Limits(
    low=Decimal(100),
    high=Decimal(120),
    unit=Unit.OHM,
    safety=False,
    source="test",
    reason="for a test",
    less_leads=True,
)


@pytest.mark.parametrize(
    ("shown", "word"),
    # ILAC-G8:09/2019 pages 8 and 10 (read): pass to TL - U, conditional pass to TL, conditional fail to TL + U, fail.
    [
        ("110", VerdictWord.WITHIN),
        ("118.8", VerdictWord.WITHIN),
        ("118.9", VerdictWord.MARGINAL),
        ("121.1", VerdictWord.MARGINAL),
        ("121.2", VerdictWord.ABOVE),
        ("101.2", VerdictWord.WITHIN),
        ("101.1", VerdictWord.MARGINAL),
        ("98.9", VerdictWord.MARGINAL),
        ("98.8", VerdictWord.BELOW),
    ],
)
def test_guard_bands(shown: str, word: VerdictWord) -> None:
    assert judged(shown, SPAN, meter=FLAT).word is word


@pytest.mark.parametrize("shown", ["99", "100", "101", "110", "119.5", "120", "121.5"])
def test_probability_of_being_inside(shown: str) -> None:
    # JCGM 106 clause 7 (from memory): P = phi((TU - y) / u) - phi((TL - y) / u).
    u = 1 / sqrt(3)
    expected = (erf((120 - float(shown)) / u / sqrt(2)) - erf((100 - float(shown)) / u / sqrt(2))) / 2
    assert judged(shown, SPAN, meter=FLAT).probability_inside == pytest.approx(expected, abs=1e-9)


def test_safety_limits_pass_nothing_beyond_the_limit() -> None:
    strict = replace(SPAN, safety=True)
    assert judged("119", strict, meter=FLAT).word is VerdictWord.MARGINAL
    assert judged("120.1", strict, meter=FLAT).word is VerdictWord.ABOVE
    assert judged("120.1", strict, lead=None, meter=FLAT).word is VerdictWord.ABOVE
    assert judged("99.9", strict, meter=FLAT).word is VerdictWord.BELOW


def test_a_pass_is_wrong_less_than_one_time_in_forty() -> None:
    # A guard band of U = 2 u keeps the risk under 2.5 percent (a laboratory's page on decision rules, read).
    edge = judged("118.8", SPAN, meter=FLAT)
    assert edge.word is VerdictWord.WITHIN
    assert edge.probability_inside is not None
    assert edge.probability_inside > 0.975


ORDER = [VerdictWord.BELOW, VerdictWord.MARGINAL, VerdictWord.WITHIN, VerdictWord.MARGINAL, VerdictWord.ABOVE]
LIMITS = st.sampled_from(
    [
        BAKE,
        SPAN,
        replace(SPAN, safety=True),
        contact_limits(),
        earth_limits(with_cord=False),
        sensor_limits(Decimal(70), FAHRENHEIT),
        element_limits(Decimal(350), Decimal(240)),
    ]
)
LEADS = st.sampled_from([None, Decimal(0)])


@given(LIMITS, st.lists(st.decimals(0, 3000, places=1), min_size=2, max_size=12), LEADS)
def test_verdicts_keep_their_order_as_the_reading_rises(
    limits: Limits, shown: list[Decimal], lead: Decimal | None
) -> None:
    words = [judge_reading(Reading(v, Unit.OHM), limits, HANDHELD, lead).word for v in sorted(shown)]
    place = 0
    for word in words:
        while place < len(ORDER) and ORDER[place] is not word:
            place += 1
        assert place < len(ORDER), words


@given(st.decimals(0, 30, places=1))
def test_verdicts_are_symmetric_about_the_middle(offset: Decimal) -> None:
    under, over = (judged(str(110 + sign * offset), SPAN, meter=FLAT) for sign in (-1, 1))
    mirror = {VerdictWord.BELOW: VerdictWord.ABOVE}
    assert mirror.get(under.word, under.word) is over.word
    assert under.probability_inside == pytest.approx(over.probability_inside, abs=1e-9)


ANY_LIMITS = LIMITS | st.sampled_from(
    [sheath_limits(), open_contact_limits(), limits_absent_of_voltage(), contact_drop_limits(), lead_limits()]
)
ANY_DECIMAL = st.decimals(allow_nan=True, allow_infinity=True)


@given(
    st.builds(Reading, ANY_DECIMAL, st.none() | st.sampled_from(Unit)) | st.builds(over_range, st.sampled_from(Unit)),
    ANY_LIMITS,
    st.sampled_from([HANDHELD, HANDHELD_LOW_IMPEDANCE, FLAT, replace(HANDHELD, ranges=())]),
    st.none() | ANY_DECIMAL,
)
def test_no_reading_raises(reading: Reading, limits: Limits, meter: Meter, lead: Decimal | None) -> None:
    verdict = judge_reading(reading, limits, meter, lead)
    assert verdict.reason
    assert verdict.probability_inside is None or 0 <= verdict.probability_inside <= 1


@given(st.decimals(0, 50, places=1))
def test_no_number_passes_where_the_meter_must_show_over_range(value: Decimal) -> None:
    for limits in (sheath_limits(), open_contact_limits()):
        assert judge_reading(Reading(value, Unit.OHM), limits, HANDHELD, None).word is VerdictWord.BELOW


@given(st.decimals("1.0001", 700, places=4))
def test_no_voltage_over_one_volt_counts_as_dead(shown: Decimal) -> None:
    for meter in (HANDHELD, HANDHELD_LOW_IMPEDANCE):
        verdict = judge_reading(Reading(shown, Unit.VOLT), limits_absent_of_voltage(), meter, None)
        assert verdict.word in {VerdictWord.ABOVE, VerdictWord.MARGINAL}


def test_uncertainty_is_taken_at_the_limit() -> None:
    assert BAKE.low is not None
    edge = BAKE.low + uncertainty(BAKE.low, Unit.OHM, HANDHELD).expanded
    assert judged(str(edge), BAKE).word is VerdictWord.WITHIN
    assert judged(str(edge - Decimal("0.001")), BAKE).word is VerdictWord.MARGINAL
