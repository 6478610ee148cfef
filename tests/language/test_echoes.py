"""Yes and no by the verb of the question. The lines are common practice, no source."""

import pytest

from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import AnswerSaid, Asking, Question, Unclear
from voicetech.language.understand import understand

BROIL = "Probes off. Now broil instead of bake, two minutes. Does broil heat?"
TRIPPED = "Before today, did its breaker ever trip?"
LAMPS = "Does its clock, its display or any lamp light?"
FADES = "Does it heat at first and go cold after a while?"


def said(text: str, wording: str, lexicon: Lexicon) -> AnswerSaid:
    meaning = understand(text, Question(Asking.YES_NO, wording), lexicon)
    assert isinstance(meaning, AnswerSaid), meaning
    return meaning


@pytest.mark.parametrize(
    ("text", "wording", "yes"),
    [
        ("broil works", BROIL, True),
        ("broil comes on fine", BROIL, True),
        ("broil never comes on", BROIL, False),
        ("stays stone cold", BROIL, False),
        ("breaker never tripped", TRIPPED, False),
        ("it trips now and then", TRIPPED, True),
        ("clock's lit", LAMPS, True),
        ("clock works and the lamp comes on", LAMPS, True),
    ],
)
def test_a_clause_about_what_is_asked_answers_it(text: str, wording: str, yes: bool, lexicon: Lexicon) -> None:
    answer = said(text, wording, lexicon)
    assert answer.yes is yes
    assert not answer.confirm


def test_a_clause_about_something_else_is_asked_about(lexicon: Lexicon) -> None:
    assert said("oven works", BROIL, lexicon).confirm


def test_one_of_several_that_does_not_is_asked_about(lexicon: Lexicon) -> None:
    answer = said("the clock is out", LAMPS, lexicon)
    assert not answer.yes
    assert answer.confirm


def test_clauses_that_disagree_answer_nothing(lexicon: Lexicon) -> None:
    meaning = understand("clock works and the display is dead", Question(Asking.YES_NO, LAMPS), lexicon)
    assert isinstance(meaning, Unclear)


@pytest.mark.parametrize("text", ["it works fine", "it works"])
def test_that_it_works_is_no_sure_yes_to_another_question(text: str, lexicon: Lexicon) -> None:
    assert said(text, FADES, lexicon).confirm
