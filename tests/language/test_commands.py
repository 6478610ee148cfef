"""Commands, corrections, yes and no, findings, choices and places."""

from decimal import Decimal
from itertools import combinations

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import (
    AnswerSaid,
    Asking,
    Choice,
    ChoiceSaid,
    Command,
    CommandSaid,
    CorrectionSaid,
    Flag,
    Question,
    ReadingSaid,
    State,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.phrases import WordAutomaton
from voicetech.language.understand import understand

READ_BACK = Question(Asking.VOLTAGE, after_read_back=True)
VOLTS = Question(Asking.VOLTAGE)
LOOK = Question(Asking.INSPECTION, wording="do you see anything wrong?")
ASK = Question(Asking.YES_NO, wording="is the power off?")


@pytest.mark.parametrize(
    ("text", "command"),
    [
        ("could you say that again please", Command.REPEAT),
        ("repeat repeat", Command.REPEAT),
        ("okay next", Command.NEXT),
        ("go back one", Command.BACK),
        ("hang on a minute", Command.HOLD),
        ("be back in ten minutes", Command.HOLD),
        ("hang fire", Command.HOLD),
        ("just half a sec", Command.HOLD),
        ("back in five", Command.HOLD),
        ("I'll be back at 1:20", Command.HOLD),
        ("um resume", Command.RESUME),
        ("undue last", Command.UNDO),
        ("where are we", Command.STATUS),
        ("where does the red lead go", Command.HOWTO),
        ("what should it read", Command.LIMIT),
        ("that's all done", Command.DONE),
        ("never mind", Command.CANCEL),
        ("be quiet", Command.HUSH),
        ("speak up", Command.LOUDER),
        ("it doesn't have one", Command.NOT_FITTED),
        ("i can't reach it", Command.CANNOT_REACH),
    ],
)
def test_commands_match_the_whole_utterance(text: str, command: Command, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, CommandSaid)
    assert said.command is command


@pytest.mark.parametrize(
    "text",
    [
        "don't skip it",
        "do not go back",
        "back to back test",
        "next to the door",
        "hold the door",
        "the next one is hot",
    ],
)
def test_a_command_word_inside_a_sentence_is_no_command(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, Question(Asking.COMMAND), lexicon), Unclear)


def test_skipping_a_measurement_is_asked_to_be_confirmed(lexicon: Lexicon) -> None:
    assert understand("skip", VOLTS, lexicon) == CommandSaid(Command.SKIP, confirm=True)
    assert understand("skip", Question(Asking.COMMAND), lexicon) == CommandSaid(Command.SKIP)


def test_a_note_keeps_its_words(lexicon: Lexicon) -> None:
    said = understand("Make a note that lug 3, on the left, is loose", VOLTS, lexicon)
    assert said == CommandSaid(Command.NOTE, "lug 3, on the left, is loose")


def _common(one: WordAutomaton, other: WordAutomaton) -> str | None:
    todo: list[tuple[int, int, str]] = [(0, 0, "")]
    seen = {(0, 0)}
    while todo:
        a, b, text = todo.pop()
        if a in one.finals and b in other.finals:
            return text
        for word in one.arcs[a].keys() & other.arcs[b].keys():
            there = (one.arcs[a][word], other.arcs[b][word])
            if there not in seen:
                seen.add(there)
                todo.append((*there, f"{text} {word}"))
    return None


def test_no_sentence_means_two_commands(lexicon: Lexicon) -> None:
    shared = {
        (one, other): _common(lexicon.commands[one], lexicon.commands[other])
        for one, other in combinations(lexicon.commands, 2)
    }
    assert {pair: text for pair, text in shared.items() if text} == {}


@pytest.mark.parametrize(
    "text", ["no two oh eight", "no, it's two oh eight", "make that 208", "i meant two oh eight volts",
             "sorry, two oh eight",
             "not two thirty, two oh eight", "two oh eight not two thirty", "scratch that, it's two oh eight"]
)  # fmt: skip
def test_after_a_read_back_a_second_thought_replaces(text: str, lexicon: Lexicon) -> None:
    said = understand(text, READ_BACK, lexicon)
    assert isinstance(said, CorrectionSaid)
    assert isinstance(said.replacement, ReadingSaid)
    assert said.replacement.value == Decimal(208)


@pytest.mark.parametrize("text", ["scratch that", "that's wrong", "cancel that", "no that's not right"])
def test_a_withdrawal_has_no_new_value(text: str, lexicon: Lexicon) -> None:
    assert understand(text, READ_BACK, lexicon) == CorrectionSaid(None)


def test_without_a_read_back_a_no_before_a_number_is_asked(lexicon: Lexicon) -> None:
    said = understand("no two oh eight", VOLTS, lexicon)
    assert isinstance(said, Unclear)
    assert said.candidates


@pytest.mark.parametrize(
    "cue", ["no wait", "sorry", "make that", "or rather", "i mean", "scratch that", ". Correction."]
)
def test_a_repair_inside_one_utterance_takes_the_last_value(cue: str, lexicon: Lexicon) -> None:
    said = understand(f"two thirty {cue} two oh eight", VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, Flag.SELF_CORRECTED in said.flags) == (Decimal(208), True)


def test_a_repair_between_a_teen_and_its_ten_is_asked(lexicon: Lexicon) -> None:
    said = understand("one nineteen I mean one ninety", VOLTS, lexicon)
    assert isinstance(said, ReadingSaid)
    assert (said.value, said.confirm) == (Decimal(190), True)


@pytest.mark.parametrize(
    "text", ["uh huh", "yep", "mm hmm", "it is", "that's right", "ten-four", "👍", "yes it is", "sure is"]
)
def test_yes(text: str, lexicon: Lexicon) -> None:
    assert understand(text, ASK, lexicon) == AnswerSaid(True)


@pytest.mark.parametrize("text", ["nope", "uh uh", "it isn't", "not really", "no no", "negative", "👎", "I didn't"])
def test_no(text: str, lexicon: Lexicon) -> None:
    assert understand(text, ASK, lexicon) == AnswerSaid(False)


@pytest.mark.parametrize("text", ["yeah no", "yes and no", "maybe", "two forty", "1", "half"])
def test_neither_yes_nor_no(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, ASK, lexicon), Unclear)


@pytest.mark.parametrize(
    "text", ["not sure", "I don't know", "idk", "no idea", "can't tell", "nobody knows", "dunno yet"]
)
def test_not_to_know_leaves_the_question_open(text: str, lexicon: Lexicon) -> None:
    assert understand(text, ASK, lexicon) == CommandSaid(Command.LATER)
    assert understand(text, Question(Asking.NOTE), lexicon) == WordsSaid(text)


def test_done_is_no_sure_answer_to_what_was_seen(lexicon: Lexicon) -> None:
    assert understand("done", ASK, lexicon) == AnswerSaid(True, confirm=True)


@pytest.mark.parametrize("text", ["yes", "okay", "no"])
def test_a_yes_or_no_where_a_number_is_owed_is_asked_about(text: str, lexicon: Lexicon) -> None:
    said = understand(text, VOLTS, lexicon)
    assert isinstance(said, AnswerSaid)
    assert said.confirm
    after = understand(text, READ_BACK, lexicon)
    assert isinstance(after, AnswerSaid)
    assert not after.confirm


def test_the_opposite_of_the_question_is_a_no_to_confirm(lexicon: Lexicon) -> None:
    said = understand("the power is on", ASK, lexicon)
    assert isinstance(said, AnswerSaid)
    assert (said.yes, said.confirm) == (False, True)


@pytest.mark.parametrize(
    ("text", "finding"),
    [("it's burnt", "burnt"), ("the lug is loose", "lug loose"), ("yeah one terminal is melted", "one terminal melted"),
     ("there's a crack in the sheath", "crack in sheath"), ("not tight", "not tight")],
)  # fmt: skip
def test_a_finding_is_a_yes_with_its_words(text: str, finding: str, lexicon: Lexicon) -> None:
    assert understand(text, LOOK, lexicon) == AnswerSaid(True, finding)


@pytest.mark.parametrize(
    "text",
    ["looks fine", "no burn marks", "it isn't burnt", "doesn't look burnt", "all tight", "nothing unusual", "fine",
     "good",
     "everything looks ok", "i don't see any damage", "clean as a whistle", "nope looks good"],
)  # fmt: skip
def test_nothing_found_is_a_no(text: str, lexicon: Lexicon) -> None:
    assert understand(text, LOOK, lexicon) == AnswerSaid(False)


@pytest.mark.parametrize(
    "text",
    ["the lug is loose but it looks okay", "the flange gizmo doodad is loose", "yes looks good", "burnt but it works"],
)
def test_a_mixed_or_strange_finding_is_asked(text: str, lexicon: Lexicon) -> None:
    said = understand(text, LOOK, lexicon)
    assert isinstance(said, AnswerSaid)
    assert said.confirm


COLD = Question(
    Asking.CHOICE,
    choices=(
        Choice("bake", ("bake", "bake element")),
        Choice("broil", ("broil", "[the] broiler")),
        Choice("cord-4", ("four wire cord", "four prong")),
        Choice("on", ("on",)),
    ),
)


@pytest.mark.parametrize(
    ("text", "key"),
    [("the broiler is dead", "broil"), ("broiler doesn't get hot", "broil"), ("4-prong plug", "cord-4")],
)
def test_a_choice_among_other_words_is_asked_about(text: str, key: str, lexicon: Lexicon) -> None:
    said = understand(text, COLD, lexicon)
    assert isinstance(said, Unclear)
    assert (said.candidates, said.offer) == ((ChoiceSaid(key, confirm=True),), True)


@pytest.mark.parametrize(
    "text",
    ["not the broiler", "the bake and the broiler", "it never was the broiler", "bake or what", "it went on fine"],
)
def test_a_choice_that_is_denied_or_one_of_two_is_not_put_up(text: str, lexicon: Lexicon) -> None:
    said = understand(text, COLD, lexicon)
    assert isinstance(said, Unclear)
    assert not said.candidates


def test_a_digit_is_as_good_as_its_word_in_a_choice(lexicon: Lexicon) -> None:
    assert understand("4 wire cord", COLD, lexicon) == ChoiceSaid("cord-4")


def test_choices_places_and_exact_words(lexicon: Lexicon) -> None:
    question = Question(
        Asking.CHOICE,
        choices=(Choice("plug", ("plug [is] out", "unplugged")), Choice("breaker", ("breaker locked",))),
        places=(Choice("bake", ("bake [element]",)),),
        exact_words=("Proved dead",),
    )
    assert understand("the plug is out", question, lexicon) == ChoiceSaid("plug")
    assert understand("go to the bake element", question, lexicon) == CommandSaid(Command.GO_TO, "bake")
    assert understand("proved dead", question, lexicon) == WordsSaid("proved dead")
    assert isinstance(understand("not proved dead", question, lexicon), Unclear)
    assert isinstance(understand("almost proved dead", question, lexicon), Unclear)


def test_a_serial_number_is_kept_as_spoken_and_confirmed(lexicon: Lexicon) -> None:
    said = understand("bravo 7 two oh x-ray", Question(Asking.SERIAL), lexicon)
    assert isinstance(said, WordsSaid)
    assert said.confirm
    assert understand("type it later", Question(Asking.SERIAL), lexicon) == CommandSaid(Command.LATER)


@pytest.mark.parametrize(
    "typed",
    ["<b>bold</b>", "=1+1", "{{7*7}}", "客户说没有电", "שלום", "the café's lamp is dim 客户", "-5 outside"],
)
def test_a_note_is_kept_as_typed_in_any_script_and_with_any_sign(typed: str, lexicon: Lexicon) -> None:
    said = understand(f"note: {typed}", Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, CommandSaid)
    assert (said.command, said.argument) == (Command.NOTE, typed)


def test_a_reason_is_kept_as_typed_too(lexicon: Lexicon) -> None:
    said = understand("skip because <no access> 客户", Question(Asking.VOLTAGE), lexicon)
    assert isinstance(said, CommandSaid)
    assert (said.command, said.argument, said.confirm) == (Command.SKIP, "<no access> 客户", True)


def test_other_scripts_and_signs_stay_no_answer_without_the_word_note(lexicon: Lexicon) -> None:
    for typed in ("客户说没有电", "{{7*7}}", "'; note this; --"):
        assert isinstance(understand(typed, Question(Asking.VOLTAGE), lexicon), Unclear)


def test_a_note_question_keeps_what_was_typed(lexicon: Lexicon) -> None:
    text = "Bake element dead since Tuesday; customer is in a hurry."
    assert understand(text, Question(Asking.NOTE), lexicon) == WordsSaid(text)


def test_a_suggestion_is_made_in_chat_and_decides_nothing(lexicon: Lexicon) -> None:
    said = understand("repaet", Question(Asking.COMMAND, chat=True), lexicon)
    assert said == Unclear("Did you mean repeat?")
    assert not isinstance(understand("opem", Question(Asking.VOLTAGE, chat=True), lexicon), StateSaid)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("skip this, I can't get to it without pulling the range", "I can't get to it without pulling the range"),
        ("there's no thermal fuse on this one, skip it", "there's no thermal fuse on this one"),
    ],
)
def test_a_skip_keeps_the_reason_that_comes_without_because(text: str, reason: str, lexicon: Lexicon) -> None:
    said = understand(text, Question(Asking.RESISTANCE), lexicon)
    assert said == CommandSaid(Command.SKIP, reason, confirm=True)


@pytest.mark.parametrize("text", ["skip the small talk it's 12 ohms", "it's 240 skip it"])
def test_a_reading_is_not_skipped_over(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, Question(Asking.RESISTANCE), lexicon), Unclear)


@pytest.mark.parametrize("text", ["hold up I dropped a probe", "give me a second to get the cover off"])
def test_a_wish_to_wait_may_say_why(text: str, lexicon: Lexicon) -> None:
    assert understand(text, Question(Asking.RESISTANCE), lexicon) == CommandSaid(Command.HOLD)


def test_a_result_behind_a_wait_is_a_result(lexicon: Lexicon) -> None:
    said = understand("wait, it's open", Question(Asking.RESISTANCE), lexicon)
    assert said == StateSaid(State.OPEN)


@pytest.mark.parametrize("text", ["12-04-2021", "2021-12-04", "555-0142", "412-555-0142", "and a half"])
def test_dates_and_telephone_numbers_are_no_readings(text: str, lexicon: Lexicon) -> None:
    assert isinstance(understand(text, Question(Asking.RESISTANCE), lexicon), Unclear)


def test_a_command_of_small_words_is_no_noise(lexicon: Lexicon) -> None:
    assert understand("say it again", VOLTS, lexicon) == CommandSaid(Command.REPEAT)
