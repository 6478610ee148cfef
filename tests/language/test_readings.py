"""Families of spoken and typed readings: what was said, what was asked, what it is."""

from decimal import Decimal

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    Asking,
    CorrectionSaid,
    Flag,
    Question,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    Unclear,
)
from voicetech.language.understand import understand
from voicetech.units import Unit

VOLTS, OHMS, AMPS = Question(Asking.VOLTAGE), Question(Asking.RESISTANCE), Question(Asking.CURRENT)
BEEPER, DEGREES = Question(Asking.CONTINUITY), Question(Asking.TEMPERATURE)
ELEMENT = Question(Asking.RESISTANCE, likely=(Decimal(5), Decimal(100)))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # pairs
        ("two thirty nine", "239"),
        ("one oh one", "101"),
        ("nine ninety nine", "999"),
        ("eleven sixty", "1160"),
        ("sixteen oh five", "1605"),
        # digit by digit
        ("two zero eight", "208"),
        ("triple five", "555"),
        ("niner niner", "99"),
        # cardinals
        ("two hundred and eight", "208"),
        ("hundred and nineteen", "119"),
        ("twelve hundred", "1200"),
        ("nine hundred ninety nine thousand nine hundred ninety nine", "999999"),
        ("two hundred oh eight", "208"),
        ("twenty-6 ohms", "26"),
        # decimals and fractions
        ("zero zero point two", "0.2"),
        ("an ohm and a half", "1.5"),
        ("two ohms and a half", "2.5"),
        ("one point twenty five", "1.25"),
        ("oh point oh five", "0.05"),
        ("hundred and nineteen point five", "119.5"),
        ("three quarters of an ohm", "0.75"),
        ("two and three quarters", "2.75"),
        ("eight tenths of an ohm", "0.8"),
        # what leads in and what trails
        ("R: 24,6", "24.6"),
        ("R=12.3", "12.3"),
        ("burner three reads thirty one", "31"),
        ("left front reads 31", "31"),
        ("the big back coil measures 22", "22"),
        ("twenty four ohms, that is, mate", "24"),
        ("she's pulling eleven and a half", "11.5"),
        ("yeah I'm gettin 24.6 at the dryer plug", "24.6"),
        ("point eight of an ohm", "0.8"),
        ("four and three quarters on the clamp", "4.75"),
        # scale words and notations
        ("three and a half k", "3500"),
        ("half a meg", "500000"),
        ("one k five hundred", "1500"),
        ("470R", "470"),
        ("3M3", "3300000"),
        ("22 kilohms", "22000"),
        ("3 MΩ", "3000000"),
        # words, digits and both
        ("2 hundred and 40", "240"),
        ("2:05", "205"),
        ("02:30 8", "238"),
        ("12,50", "12.50"),
        ("1,080", "1080"),
        ("2½", "2.5"),
        # around it
        ("um, it's reading, like, twenty one point five, okay", "21.5"),
        ("the meter says forty eight", "48"),
        ("no more than five", "5"),
        ("ten ohms, no, kilohms", "10000"),
        ("ten, scratch that, twelve", "12"),
    ],
)
def test_resistance_is_read(text: str, value: str, lexicon: Lexicon) -> None:
    said = understand(text, OHMS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.unit) == (Decimal(value), Unit.OHM)


@pytest.mark.parametrize(
    ("text", "question", "value", "unit"),
    [
        ("238 V AC", VOLTS, "238", Unit.VOLT),
        ("two forty volts a c", VOLTS, "240", Unit.VOLT),
        ("300 mV", VOLTS, "0.3", Unit.VOLT),
        ("minus three point two", VOLTS, "-3.2", Unit.VOLT),
        ("sixty hertz", VOLTS, "60", Unit.HERTZ),
        ("seven point two", AMPS, "7.2", Unit.AMPERE),
        ("21 A", AMPS, "21", Unit.AMPERE),
        ("twelve milliamps", AMPS, "0.012", Unit.AMPERE),
        ("ten degrees below zero", DEGREES, "-10", None),
        ("twenty five degrees c", DEGREES, "25", Unit.CELSIUS),
        ("350 F", DEGREES, "350", Unit.FAHRENHEIT),
        ("five ohms", VOLTS, "5", Unit.OHM),
    ],
)
def test_the_spoken_unit_wins_over_the_asked_one(
    text: str, question: Question, value: str, unit: Unit | None, lexicon: Lexicon
) -> None:
    said = understand(text, question, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.unit) == (Decimal(value), unit)


@pytest.mark.parametrize("text", ["five ohms", "thirty amps", "ten degrees"])
def test_a_unit_that_was_not_asked_is_never_taken_without_asking(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert said.confirm
    assert Flag.UNIT_MISMATCH in said.flags


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("L one to L two two oh eight", "L1-L2"),
        ("L1-L2: 208", "L1-L2"),
        ("two oh eight line to line", "line-line"),
        ("leg one to neutral is two oh eight", "L1-N"),
        ("pin three to pin four 208", "3-4"),
        ("two oh eight to ground", "ground"),
        ("1-2: 208", "1-2"),
        ("a to b is 208", "A-B"),
        ("2A to 2B reads 208", "2A-2B"),
        ("208 on the red leg", "red"),
    ],
)
def test_terminals_are_labels_and_not_values(text: str, label: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.label) == (Decimal(208), label)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("between one eighteen and one twenty two", 118, 122),
        ("118–122 V", 118, 122),
        ("anywhere from one ten to one twenty", 110, 120),
        ("two to four", 2, 4),
        ("somewhere in the two thirties", 230, 239),
        ("two forty plus or minus two", 238, 242),
    ],
)
def test_a_range_keeps_both_ends(text: str, low: int, high: int, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, RangeSaid)
    assert (said.low, said.high) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("one twenty and one nineteen", (120, 119)),
        ("two hundred and forty and one hundred and twenty", (240, 120)),
        ("leg one one twenty leg two one nineteen", (120, 119)),
        ("it went from two forty to two ten", (240, 210)),
        ("two forty then two ten", (240, 210)),
    ],
)
def test_several_readings_stay_several(text: str, values: tuple[int, ...], lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, SeveralSaid)
    assert [part.value for part in said.parts if isinstance(part, ReadingSaid)] == [Decimal(v) for v in values]


@pytest.mark.parametrize(
    "text", ["all six zero", "zero on all", "all zero", "zero volts on all six", "all pairs read zero"]
)
def test_one_value_of_every_pair_is_asked_to_be_confirmed(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, SeveralSaid)
    assert said.all_pairs
    assert said.confirm
    assert said.parts == (ReadingSaid(Decimal(0), Unit.VOLT),)


@pytest.mark.parametrize(
    ("text", "value", "rival"),
    [("one fifteen", 115, 150), ("one fifty", 150, 115)],
)
def test_teens_and_tens_are_asked_about(text: str, value: int, rival: int, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.rivals, said.confirm) == (Decimal(value), (Decimal(rival),), True)


def test_every_teen_and_ten_names_its_rival_for_the_verdict(lexicon: Lexicon) -> None:
    said = understand("one nineteen", VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.rivals, said.confirm) == ((Decimal(190),), False)


@pytest.mark.parametrize(
    ("text", "first", "other"),
    [("twelve eight", "12.8", "128"), ("two eight", "28", "2.8"), ("forty eight three", "48.3", "483")],
)
def test_a_dropped_point_puts_the_plausible_value_first(text: str, first: str, other: str, lexicon: Lexicon) -> None:
    said = understand(text, ELEMENT, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.rivals, said.confirm) == (Decimal(first), (Decimal(other),), True)


@pytest.mark.parametrize("text", ["twelve six", "two thirty eight six", "two eight", "one nineteen four"])
def test_a_dropped_point_without_a_likely_range_is_asked_with_both_values(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, Unclear)
    assert len(said.candidates) == 2


@pytest.mark.parametrize(
    "text",
    [
        "twelve point",
        "two point five point one",
        "one hundred twenty one nineteen",
        "forty five over five",
        "240 240 240",
        "one two three four five six seven",
        "ten to",
        "not two forty",
        "it's not two forty",
        "nameplate says two forty",
        "should be two forty",
        "it was two forty yesterday",
        "two forty p m",
        "twenty five cents",
        "twenty millimeters",
        "the sixth one",
        "a few volts",
        "two forty bananas",
        "two forty [unk]",
        "five thousand four thousand",
        "1E400",
        "9**9**9",
        "0x10",
        "①②⓪",
        "CXX volts",
        "for",
        "to",
        "oh",
        "k",
    ],
)
def test_nothing_is_picked_out_of_what_is_not_one_reading(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, VOLTS, lexicon), Unclear)


@pytest.mark.parametrize("text", ["there's no voltage", "no power", "no voltage at all", "i'm getting no voltage"])
def test_stated_absence_is_no_reading_until_confirmed(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.confirm) == (Decimal(0), True)


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("it's wide open", State.OPEN),
        ("OL ohms", State.OPEN),
        ("0L", State.OPEN),
        ("still no continuity", State.OPEN),
        ("it isn't beeping", State.OPEN),
        ("the fuse is blown", State.OPEN),
        ("closed circuit", State.CLOSED),
        ("got continuity", State.CLOSED),
        ("solid beep", State.BEEP),
        ("it rings out", State.BEEP),
        ("dead short", State.SHORT),
        ("short", State.SHORT),
    ],
)
def test_states_stay_apart(text: str, state: State, lexicon: Lexicon) -> None:
    said = understand(text, BEEPER, lexicon)
    assert isinstance(said, StateSaid)
    assert said.state is state


def test_a_state_keeps_its_terminals(lexicon: Lexicon) -> None:
    assert understand("L1 to ground open", BEEPER, lexicon) == StateSaid(State.OPEN, "L1-ground")
    assert understand("shorted to the frame", BEEPER, lexicon) == StateSaid(State.SHORT, "frame")


@pytest.mark.parametrize(("text", "question"), [("open", VOLTS), ("OL", VOLTS), ("it's closed", AMPS)])
def test_a_state_is_no_answer_where_a_number_is_owed(text: str, question: Question, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, question, lexicon), Unclear)


def test_an_unfinished_result_is_never_a_reading(lexicon: Lexicon) -> None:
    said = understand("two thirty", Question(Asking.VOLTAGE, partial=True), lexicon)
    assert isinstance(said, Unclear)
    assert Flag.PARTIAL in said.flags


@pytest.mark.parametrize(
    "text", ["one point two three", "zero point one", "two hundred thirty eight point six", "0.3", "119.4"]
)
def test_values_are_exact_decimals(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert isinstance(said.value, Decimal)
    assert len(str(said.value)) <= 5


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("three to four k", 3000, 4000),
        ("between 1.1 and 1.2 k", 1100, 1200),
        ("1 to 2 meg", 1_000_000, 2_000_000),
        ("900 to 1.2 k", 900, 1200),
    ],
)
def test_both_ends_of_a_range_share_its_scale_word(text: str, low: int, high: int, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.RESISTANCE), lexicon)
    assert isinstance(said, RangeSaid)
    assert (said.low, said.high) == (Decimal(low), Decimal(high))


@pytest.mark.parametrize("text", ["1.1 and 1.2 k", "1.1, 1.2 k"])
def test_readings_of_which_one_has_a_scale_word_are_asked_for_one_by_one(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, Question(Asking.RESISTANCE), lexicon), Unclear)


@pytest.mark.parametrize(
    "text", ["zero L", "oh dot ell", "OL OL", "it goes to infinity", "a one with nothing after it", "OL megohms"]
)
def test_over_range_in_other_words_is_never_a_number(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.RESISTANCE), lexicon)
    assert isinstance(said, StateSaid)
    assert said.state is State.OPEN


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("L1 to H1 open, L2 to H2 closed", [("L1-H1", State.OPEN), ("L2-H2", State.CLOSED)]),
        ("first one's open second one's fine", [("first", State.OPEN), ("second", State.CLOSED)]),
        ("H1 to H2 forty two ohms, H1 to case open", [("H1-H2", 42), ("H1-case", State.OPEN)]),
        ("left one is open, the right one is twenty two point five", [("left", State.OPEN), ("right", "22.5")]),
        ("one side is 120 ohms the other is 118", [("one side", 120), ("other", 118)]),
        ("inner coil eighteen ohms, outer coil twenty seven", [("inner coil", 18), ("outer coil", 27)]),
        ("1-2: 19.6, 3-4: 20.1", [("1-2", "19.6"), ("3-4", "20.1")]),
        ("one's open and the other's twenty four ohms", [(None, State.OPEN), ("other", 24)]),
    ],
)
def test_several_results_in_one_breath(text: str, parts: list[tuple[str, State | str | int]], lexicon: Lexicon) -> None:
    said = understand(text, BEEPER, lexicon)
    assert isinstance(said, SeveralSaid)
    for part, (label, expected) in zip(said.parts, parts, strict=True):
        assert part.label == label
        if isinstance(part, StateSaid):
            assert part.state is expected
        else:
            assert part.value == Decimal(expected)
    assert said.confirm == any(label in (None, "other", "one side") or "fine" in text for label, _ in parts)


@pytest.mark.parametrize(
    "text",
    [
        "first is open",
        "the second one",
        "first one's open second one's purple",
        "um well first open second closed maybe",
    ],
)
def test_what_is_not_whole_results_for_each_place_is_asked_about(text: str, lexicon: Lexicon) -> None:
    assert not isinstance(understand(text, BEEPER, lexicon), SeveralSaid)


@pytest.mark.parametrize("text", ["it beeps, point three ohms", "beeps and it reads 0.3", "it's beeping 0.3 ohms"])
def test_a_number_beside_a_beep_is_the_result(text: str, lexicon: Lexicon) -> None:
    said = understand(text, BEEPER, lexicon)
    assert isinstance(said, ReadingSaid)
    assert said.value == Decimal("0.3")
    assert Flag.BEEP in said.flags


@pytest.mark.parametrize("text", ["it should be two forty", "that should be two oh eight"])
def test_what_should_be_read_is_no_reading_but_may_correct_one(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, Unclear)
    assert Flag.NOT_MEASURED in said.flags
    assert isinstance(understand(text, Question(Asking.VOLTAGE, after_read_back=True), lexicon), CorrectionSaid)


@pytest.mark.parametrize("text", ["wide open on all three", "um so yeah it's open", "open on both legs"])
def test_open_in_other_words(text: str, lexicon: Lexicon) -> None:
    said = understand(text, BEEPER, lexicon)
    assert isinstance(said, StateSaid)
    assert said.state is State.OPEN
