"""Where, when and with what a result was read, said behind it: taken with it, and asked about where it is against the
question. The lines are common practice, no source."""

from decimal import Decimal

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Asking, Question, ReadingSaid, State, StateSaid, Unclear
from voicetech.language.understand import understand

OHMS, VOLTS = Question(Asking.RESISTANCE), Question(Asking.VOLTAGE)


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("open with one wire off", State.OPEN),
        ("open right across the element", State.OPEN),
        ("OL either way round", State.OPEN),
        ("open when I wiggle it", State.OPEN),
        ("open after I ran it ten minutes", State.OPEN),
        ("sensor plug contact open", State.OPEN),
        ("closed with the lever pushed in", State.CLOSED),
        ("limit switch closed cold", State.CLOSED),
        ("that one beeps too", State.BEEP),
    ],
)
def test_a_state_is_taken_with_its_circumstances(text: str, state: State, lexicon: Lexicon) -> None:
    said = understand(text, OHMS, lexicon)
    assert isinstance(said, StateSaid), said
    assert said.state is state
    assert not said.confirm


@pytest.mark.parametrize(
    ("text", "value", "asked"),
    [
        ("twenty two point four with the wire off", "22.4", OHMS),
        ("point two after I pushed the button", "0.2", OHMS),
        ("ten eighty at the probe", "1080", OHMS),
        ("two forty out on high", "240", VOLTS),
        ("zero straight across", "0", VOLTS),
        ("one eighteen with nothing plugged in", "118", VOLTS),
        ("point four on low-Z", "0.4", VOLTS),
        ("two thirty eight after ten minutes", "238", VOLTS),
    ],
)
def test_a_number_is_taken_with_its_circumstances(text: str, value: str, asked: Question, lexicon: Lexicon) -> None:
    said = understand(text, asked, lexicon)
    assert isinstance(said, ReadingSaid), said
    assert said.value == Decimal(value)
    assert not said.confirm


@pytest.mark.parametrize(
    "text",
    [
        "two forty on the plate",
        "two forty before",
        "two forty with the breaker at thirty",
        "twenty two but it was hot",
        "open but the sheath is fine",
        "never comes on at five",
        "two forty with one twenty on the other",
    ],
)
def test_what_may_be_a_rating_a_memory_or_a_second_result_is_not_taken(text: str, lexicon: Lexicon) -> None:
    for asked in (OHMS, VOLTS):
        said = understand(text, asked, lexicon)
        assert isinstance(said, Unclear) or getattr(said, "confirm", True), said


@pytest.mark.parametrize(
    ("text", "wording", "confirm"),
    [
        ("open on high", "Knob on high. L one to H one. Ohms?", False),
        ("open on low", "Knob on high. L one to H one. Ohms?", True),
        ("open at off", "Knob off. L one to H one. Ohms?", False),
        ("open with a wire off", "Knob on high. L one to H one. Ohms?", False),
        ("open cold", "Let it get hot. Terminal to terminal. Ohms?", True),
        ("open hot", "Let it get hot. Terminal to terminal. Ohms?", False),
    ],
)
def test_a_circumstance_against_the_question_is_asked_about(
    text: str, wording: str, confirm: bool, lexicon: Lexicon
) -> None:
    said = understand(text, Question(Asking.RESISTANCE, wording), lexicon)
    assert isinstance(said, StateSaid), said
    assert said.confirm is confirm


@pytest.mark.parametrize("text", ["zero on all", "zero on both", "zero on each leg"])
def test_how_many_pairs_is_no_circumstance(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert not isinstance(said, ReadingSaid) or said.label == "leg" or said.confirm, said


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("twelve", "12"),
        ("twelve seconds", "12"),
        ("half a minute", "30"),
        ("a minute and a half", "90"),
        ("one minute twenty", "80"),
        ("two minutes", "120"),
        ("eighteen point five seconds", "18.5"),
    ],
)
def test_a_time_is_read_where_one_is_asked(text: str, seconds: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.DURATION), lexicon)
    assert isinstance(said, ReadingSaid), said
    assert said.value == Decimal(seconds)


def test_a_time_is_no_reading_elsewhere(lexicon: Lexicon) -> None:
    assert not isinstance(understand("twelve seconds", VOLTS, lexicon), ReadingSaid)
