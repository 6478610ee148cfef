"""What became of prompts, told by typing real conversations."""

from dataclasses import replace

from tests.dialogue.talker import Talker
from tests.replay.jobs import session_lines
from voicetech.events import AnswerTaken, AnswerWithdrawn, Channel, Event, Ignored, InputReceived, StepEntered
from voicetech.marks import Misheard, TakenBack
from voicetech.summary.prompts import prompts_of
from voicetech.summary.records import PromptCount

INTAKE = ("no", "it won't bake", "all at once")


def said(*lines: str) -> tuple[Event, ...]:
    talker = Talker()
    talker.say(*lines)
    return tuple(talker.events)


def counts(events: tuple[Event, ...], *marks: Misheard | TakenBack) -> dict[str, PromptCount]:
    return {count.step: count for count in prompts_of(enumerate(events, start=1), marks)}


def number_of(events: tuple[Event, ...], words: str) -> int:
    return next(n for n, e in enumerate(events, start=1) if isinstance(e, InputReceived) and e.text == words)


def test_a_prompt_answered_at_once() -> None:
    found = counts(said(*INTAKE))
    assert found["complaint"] == PromptCount("intake", "complaint", asked=1, answered=1, first=1)
    assert found["plate-volts"] == PromptCount("intake", "plate-volts", asked=1)


def test_a_repeated_prompt_is_the_same_prompt_and_not_answered_by_the_first_words() -> None:
    found = counts(said("no", "repeat", "it won't bake"))
    assert found["complaint"] == PromptCount("intake", "complaint", asked=1, answered=1, first=0, repeated=1)


def test_words_that_cannot_be_used_are_asked_for_again() -> None:
    found = counts(said("no", "purple monkey", "it won't bake"))
    assert found["complaint"] == PromptCount("intake", "complaint", asked=1, answered=1, first=0, again=1)


def test_a_read_back_with_a_yes_is_answered_by_the_first_words() -> None:
    found = counts(said(*INTAKE, "two forty volts", "twelve kilowatts", "m seven four two", "yes"))
    assert found["model"] == PromptCount("intake", "model", asked=1, answered=1, first=1)


def test_a_read_back_with_a_no_is_denied_and_asked_once() -> None:
    lines = ("two forty volts", "twelve kilowatts", "m seven four two", "no", "m seven four three", "yes")
    found = counts(said(*INTAKE, *lines))
    assert found["model"] == PromptCount("intake", "model", asked=1, answered=1, first=0, denied=1)


def heard(text: str) -> InputReceived:
    return InputReceived(Channel.VOICE, "any", (), 1.0, "accepted", text, None, 1.0)


def asked(step: str) -> StepEntered:
    return StepEntered("intake", step, 0, 1, 1.0)


def taken(seq: int, step: str) -> AnswerTaken:
    return AnswerTaken(seq, "intake", step, step, "any", False, 1.0)


def test_a_correction_belongs_to_the_prompt_it_corrects_and_the_next_one_stays_untouched() -> None:
    found = counts(
        (
            asked("volts"),
            heard("two forty"),
            taken(1, "volts"),
            asked("watts"),
            heard("no, two oh eight"),
            AnswerWithdrawn(1, "correction", 1.0),
            asked("volts"),
            taken(2, "volts"),
            asked("watts"),
            heard("twelve kilowatts"),
            taken(3, "watts"),
        )
    )
    assert found["volts"] == PromptCount("intake", "volts", asked=1, answered=1, first=0, corrected=1)
    assert found["watts"] == PromptCount("intake", "watts", asked=1, answered=1, first=1)


def test_what_nobody_said_to_the_program_does_not_count() -> None:
    overheard = replace(heard("what is for dinner"), outcome="ignored")
    found = counts((asked("volts"), overheard, Ignored("not meant"), heard("two forty"), taken(1, "volts")))
    assert found["volts"] == PromptCount("intake", "volts", asked=1, answered=1, first=1)


def test_an_undone_answer_is_asked_for_anew() -> None:
    found = counts(said(*INTAKE, "undo", "it faded"))
    assert found["onset"].asked == 2
    assert found["onset"].corrected == 0


def test_a_prompt_left_for_another_test_has_no_answer() -> None:
    events = said("no", "go to the supply")
    assert counts(events)["complaint"] == PromptCount("intake", "complaint", asked=1)


def test_what_a_reviewer_heard_counts_until_the_mark_is_taken_back() -> None:
    events = said(*INTAKE)
    mark = Misheard(number_of(events, "it won't bake"), "it won't broil", "ann", 1.0)
    assert counts(events, mark)["complaint"] == PromptCount(
        "intake", "complaint", asked=1, answered=1, first=0, misheard=1
    )
    assert counts(events, mark, TakenBack(1, "ann", 2.0))["complaint"].misheard == 0


def test_a_whole_job_counts_each_prompt_as_often_as_it_was_asked() -> None:
    talker = Talker()
    talker.say(*session_lines("bake-element-repaired"))
    found = prompts_of(enumerate(talker.events, start=1))
    sums = {name: sum(getattr(count, name) for count in found) for name in ("asked", "answered", "first")}
    assert sums["answered"] <= sums["asked"]
    assert sums["first"] <= sums["answered"]
    idle = next(count for count in found if count.step == "supply-idle")
    assert (idle.asked, idle.answered, idle.corrected) == (4, 4, 1)
    assert all(count.first <= count.answered <= count.asked for count in found)
