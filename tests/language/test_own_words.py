"""Commands, answers and findings that people put in words of their own."""

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerSaid,
    Question,
    ReadingSaid,
    StateSaid,
    Unclear,
)
from voicetech.language.understand import understand

VOLTS = Question(Asking.VOLTAGE)
LOOK = Question(Asking.INSPECTION, wording="do you see anything wrong?")
SET = Question(Asking.YES_NO, wording="is the lock set?")


@pytest.mark.parametrize(
    ("text", "command"),
    [
        # framed
        ("could you repeat the last step for me please", Command.REPEAT),
        ("let's go back one", Command.BACK),
        ("y'all can move on to the next step now", Command.NEXT),
        ("actually cancel", Command.CANCEL),
        ("would you mind speaking up", None),
        # said twice over
        ("bear with me, two secs", Command.HOLD),
        # explained
        ("half a mo, my torch has died", Command.HOLD),
        ("you cut out on me there, go again", Command.REPEAT),
        ("be quiet a sec I'm on the phone", Command.HUSH),
        ("okay I'm back, where were we", Command.RESUME),
        # asked
        ("what's it meant to be", Command.LIMIT),
        ("how low is too low", Command.LIMIT),
        ("which terminals do my probes go on", Command.HOWTO),
        ("why this one and not the coil", Command.WHY),
    ],
)
def test_a_command_in_words_of_its_own(text: str, command: Command | None, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert (said.command if isinstance(said, CommandSaid) else None) is command


@pytest.mark.parametrize("text", ["done, but the cover is off", "skip it, the wire is too short"])
def test_what_a_clause_may_change_is_asked_before_it_goes_on_record(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, CommandSaid)
    assert said.confirm


@pytest.mark.parametrize(
    "text",
    [
        "don't skip this one",
        "could you not repeat that",
        "hold the door",
        "repeat, it's two forty",
        "what about two forty",
        "the power's on, I think, or maybe not",
        "it's safe now I guess, isn't it",
    ],
)
def test_refusals_numbers_and_safety_are_no_command(text: str, lexicon: Lexicon) -> None:
    assert not isinstance(understand(text, VOLTS, lexicon), CommandSaid)


@pytest.mark.parametrize("text", ["yes, sorry, I mean no", "no no it's fine yes go ahead"])
def test_an_answer_that_turns_is_no_command_and_no_answer(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, SET, lexicon), Unclear)


@pytest.mark.parametrize(
    ("text", "yes", "confirm"),
    [
        ("yes yes it is done", True, False),
        ("no, she's stone cold", False, False),
        ("nah it's still set", False, True),
        ("yeah but the light is off", None, None),
        ("sure does yeah", True, False),
        ("it's not set at all", False, False),
        ("it's not cold", False, True),
        ("it's not not working", None, None),
    ],
)
def test_a_yes_or_no_with_a_clause_behind_it(
    text: str, yes: bool | None, confirm: bool | None, lexicon: Lexicon
) -> None:
    said = understand(text, SET, lexicon)
    got = (said.yes, said.confirm) if isinstance(said, AnswerSaid) else (None, None)
    assert got == (yes, confirm)


@pytest.mark.parametrize(("text", "understood"), [("the contact's closed", True), ("the door's open", False)])
def test_only_what_conducts_is_open_or_closed_to_a_meter(text: str, understood: bool, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.CONTINUITY), lexicon)
    assert isinstance(said, StateSaid) is understood


def test_a_reading_is_withdrawn_with_its_reason(lexicon: Lexicon) -> None:
    said = understand("chuck that reading, I had the leads on wrong", VOLTS, lexicon)
    assert said == CorrectionSaid(None, confirm=True)


@pytest.mark.parametrize("text", ["right, stop there please", "shut it off, shut it off", "ring triple zero"])
def test_danger_is_heard_inside_its_frame(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, DangerSaid)
    assert said.present


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        ("fine apart from a crack in the ceramic", "crack in ceramic"),
        ("the fire brick's cracked", "fire brick's cracked"),
    ],
)
def test_a_finding_is_taken_with_words_that_tell_where(text: str, finding: str, lexicon: Lexicon) -> None:
    assert understand(text, LOOK, lexicon) == AnswerSaid(True, finding)


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        ("the gas valve coil reads two oh eight", True),
        ("the neighbor reads two oh eight", False),
        ("the plate on the coil reads two oh eight", False),
    ],
)
def test_a_part_by_any_name_may_lead_in_its_reading(text: str, taken: bool, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, VOLTS, lexicon), ReadingSaid) is taken
