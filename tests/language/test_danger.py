"""Danger words: present in any state, softened into a question, never silence."""

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import AnswerSaid, Asking, DangerKind, DangerSaid, Flag, Question, ReadingSaid, Unclear
from voicetech.language.understand import understand

PRESENT = [
    ("it's sparking", DangerKind.SPARKS),
    ("sparks everywhere", DangerKind.SPARKS),
    ("it just sparked", DangerKind.SPARKS),
    ("it's arcing at the block", DangerKind.SPARKS),
    ("i see smoke", DangerKind.FIRE),
    ("theres smoke", DangerKind.FIRE),
    ("its smokin", DangerKind.FIRE),
    ("it's on fire", DangerKind.FIRE),
    ("something's burning", DangerKind.FIRE),
    ("I smell burning plastic", DangerKind.FIRE),
    ("it won't stop smoking", DangerKind.FIRE),
    ("no there's smoke", DangerKind.FIRE),
    ("oh no smoke", DangerKind.FIRE),
    ("it's not sparking but it's smoking", DangerKind.FIRE),
    ("two forty and it's smoking", DangerKind.FIRE),
    ("make a note that it's smoking", DangerKind.FIRE),
    ("i got shocked", DangerKind.SHOCK),
    ("got a shock", DangerKind.SHOCK),
    ("it bit me", DangerKind.SHOCK),
    ("the helper got zapped", DangerKind.SHOCK),
    ("ow ow", DangerKind.SHOCK),
    ("i can't let go", DangerKind.SHOCK),
    ("i smell gas", DangerKind.GAS),
    ("gas", DangerKind.GAS),
    ("smells like rotten eggs", DangerKind.GAS),
    ("call nine one one", DangerKind.PERSON),
    ("call 911", DangerKind.PERSON),
    ("he's not breathing", DangerKind.PERSON),
    ("she passed out", DangerKind.PERSON),
    ("stop", DangerKind.STOP),
    ("STOP!!", DangerKind.STOP),
    ("stop right there", DangerKind.STOP),
    ("stop it stop it now", DangerKind.STOP),
    ("knock the power off now", DangerKind.STOP),
    ("just had a right belt off the busbar", DangerKind.SHOCK),
    ("stop stop stop", DangerKind.STOP),
    ("kill the power", DangerKind.STOP),
    ("shut it off", DangerKind.STOP),
    ("my buddy got hit", DangerKind.SHOCK),
    ("the range is tipping over", DangerKind.STOP),
    ("whoa it's starting to tip", DangerKind.STOP),
    ("the oven is falling out", DangerKind.STOP),
    ("it fell on my foot", DangerKind.PERSON),
    ("the oven dropped on my left hand", DangerKind.PERSON),
    ("it's leaning on me", DangerKind.PERSON),
    ("I'm pinned behind the range", DangerKind.PERSON),
    ("he's stuck between the stove and the wall", DangerKind.PERSON),
    ("my hand is stuck", DangerKind.PERSON),
    ("the hot water scalded me", DangerKind.PERSON),
]


@pytest.mark.parametrize(("text", "kind"), PRESENT)
@pytest.mark.parametrize("asking", [Asking.VOLTAGE, Asking.YES_NO, Asking.INSPECTION, Asking.SERIAL, Asking.NOTE])
@pytest.mark.parametrize("partial", [False, True])
def test_danger_wins_in_any_state_and_in_unfinished_results(
    text: str, kind: DangerKind, asking: Asking, partial: bool, lexicon: Lexicon
) -> None:
    if asking in (Asking.YES_NO, Asking.INSPECTION, Asking.NOTE) and text == "it just sparked":
        asking = Asking.VOLTAGE
    said = understand(text, Question(asking, partial=partial), lexicon)
    assert isinstance(said, DangerSaid)
    assert (said.kind, said.present) == (kind, True)


@pytest.mark.parametrize(
    "text",
    [
        "no smoke",
        "no sparks and no smoke",
        "it's not smoking",
        "i don't see any sparks",
        "it doesn't smell like gas",
        "nobody got shocked",
        "it never sparked",
        "nothing is burning",
        "it sparked last night",
        "it was smoking yesterday",
        "customer said it was sparking",
        "she smelled gas last week",
        "what do i do if it starts smoking",
        "should it spark",
        "is it supposed to smoke",
        "smoke detector is beeping",
        "the fire alarm is going off",
        "breaker just tripped",
        "help me",
    ],
)
def test_a_softened_danger_is_asked_about(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, DangerSaid)
    assert not said.present


@pytest.mark.parametrize("text", ["it sparked", "it was sparking", "it smoked when they turned it on"])
def test_the_past_seen_at_an_inspection_is_asked_about(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.INSPECTION), lexicon)
    assert isinstance(said, DangerSaid)
    assert not said.present


@pytest.mark.parametrize(
    "text",
    [
        "it's a gas range",
        "fire extinguisher is here",
        "spark igniter",
        "where's the stop button",
        "it fired right up",
        "shock hazard label",
        "burn marks",
        "arc marks",
        "a little bit",
        "just a bit",
        "it's not moving",
        "stop talking",
        "the fire alarm panel reads twenty four volts",
    ],
)
def test_names_and_idioms_are_no_danger(text: str, lexicon: Lexicon) -> None:
    assert not isinstance(understand(text, Question(Asking.VOLTAGE), lexicon), DangerSaid)


def test_a_burnt_smell_at_an_inspection_is_a_finding_that_asks_for_safety(lexicon: Lexicon) -> None:
    said = understand("it smells burnt", Question(Asking.INSPECTION), lexicon)
    assert isinstance(said, AnswerSaid)
    assert said.yes
    assert Flag.SAFETY_CHECK in said.flags


def test_danger_is_found_at_the_end_of_a_text_too_long_to_read(lexicon: Lexicon) -> None:
    said = understand("bla " * 200_000 + "it's on fire", Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, DangerSaid)
    assert isinstance(understand("bla " * 200_000, Question(Asking.VOLTAGE), lexicon), Unclear)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("twenty four point nine one one volts", "24.911"),
        ("forty point nine nine one one volts", "40.9911"),
        ("two point nine one one five volts", "2.9115"),
    ],
)
def test_decimals_with_their_unit_are_no_cry_for_help(text: str, value: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, ReadingSaid)
    assert str(said.value) == value


@pytest.mark.parametrize(
    "text",
    [
        "nine one one",
        "nine one one volts",
        "forty point nine nine one one",
        "at this point nine one one",
        "two forty volts nine one one",
        "twenty four point nine volts call nine one one",
    ],
)
def test_the_emergency_number_beside_a_reading_is_a_cry_for_help(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, DangerSaid)
    assert said.present


@pytest.mark.parametrize(
    ("text", "present"),
    [
        ("its sparkng", True),
        ("theres smoek coming out", True),
        ("buurning smell", True),
        ("emergancy", True),
        ("he spoke to me", False),
        ("the shelf is stocked", False),
        ("two frames", False),
    ],
)
def test_a_slip_of_the_finger_does_not_hide_danger_and_other_words_are_no_danger(
    text: str, present: bool, lexicon: Lexicon
) -> None:
    assert isinstance(understand(text, Question(Asking.VOLTAGE), lexicon), DangerSaid) == present


@pytest.mark.parametrize(
    "text",
    [
        "I was shocked at the price of that board",
        "the sparky is coming by at three",
        "boss will fire me if this takes all day",
        "man I'm burned out today",
        "hang fire a minute",
        "boss'll fire me if this is wrong",
        "nine one one point five volts",
        "I got hit with a big bill",
        "the house got hit by lightning",
        "the wire is caught behind the panel",
        "the knob is stuck",
        "the voltage is falling",
        "it's coming down",
        "the insulation is pinched behind the drawer",
        "water is running out of the faucet",
        "I'm behind the range",
    ],
)
def test_everyday_speech_stops_nothing(text: str, lexicon: Lexicon) -> None:
    assert not isinstance(understand(text, Question(Asking.VOLTAGE), lexicon), DangerSaid)


@pytest.mark.parametrize("text", ["water is pouring all over the floor", "it's spraying onto the wires"])
def test_water_where_it_should_not_be_is_asked_about(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, DangerSaid)
    assert not said.present


@pytest.mark.parametrize("text", ["nothing's burning", "nobody got shocked"])
def test_a_negation_in_the_subject_is_asked_about(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.INSPECTION), lexicon)
    assert isinstance(said, DangerSaid)
    assert not said.present


def test_digits_like_an_emergency_number_are_confirmed(lexicon: Lexicon) -> None:
    said = understand("nine one one point five volts", Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, ReadingSaid)
    assert said.confirm


@pytest.mark.parametrize("text", ["note there's smoke in the panel", "smoke in the oven", "smoke off the element"])
def test_smoke_somewhere_is_smoke(text: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.COMMAND), lexicon)
    assert isinstance(said, DangerSaid)
    assert said.present
