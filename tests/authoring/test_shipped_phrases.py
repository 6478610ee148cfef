"""What a procedure lets a technician say is understood as it is meant."""

from functools import cache

import pytest

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.authoring.procedure_files import load_shipped, shipped_names
from voicetech.dialogue.questions import asking_of, places_of
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import ChoiceSaid, Command, CommandSaid, Meaning, Question, WordsSaid
from voicetech.language.templates import phrase_from, sentences
from voicetech.language.understand import understand
from voicetech.procedure import Ask, Hold, Procedure, Step

lexicon = cache(load_lexicon)


def answered(procedure: Procedure, step: Step, text: str, lexicon: Lexicon) -> Meaning:
    question = Question(
        asking_of(step),
        step.prompt.full,
        choices=step.choices if isinstance(step, Ask) else (),
        places=places_of(procedure),
        exact_words=step.until if isinstance(step, Hold) else (),
    )
    return understand(text, question, lexicon)


@pytest.mark.parametrize("name", shipped_names())
def test_every_phrase_of_a_choice_means_its_answer(name: str) -> None:
    procedure = load_shipped(name)
    wrong = [
        (section.id, step.id, phrase, meaning)
        for section in procedure.sections
        for step in section.steps
        if isinstance(step, Ask)
        for choice in step.choices
        for template in choice.hear
        for phrase in map(" ".join, sentences(phrase_from(template.lower())))
        if (meaning := answered(procedure, step, phrase, lexicon())) != ChoiceSaid(choice.key)
    ]
    assert wrong == []


@pytest.mark.parametrize("name", shipped_names())
def test_every_phrase_of_a_hold_ends_it(name: str) -> None:
    procedure = load_shipped(name)
    wrong = [
        (step.id, phrase, meaning)
        for section in procedure.sections
        for step in section.steps
        if isinstance(step, Hold)
        for phrase in step.until
        if not isinstance(meaning := answered(procedure, step, phrase, lexicon()), WordsSaid)
    ]
    assert wrong == []


@pytest.mark.parametrize("name", shipped_names())
def test_every_test_can_be_asked_for_by_its_names(name: str) -> None:
    procedure = load_shipped(name)
    step = next(step for section in procedure.sections for step in section.steps if isinstance(step, Hold))
    wrong = [
        (place.key, words, meaning)
        for place in places_of(procedure)
        for phrase in place.hear
        for words in (phrase, f"go to {phrase}", f"go to the {phrase}")
        if (meaning := answered(procedure, step, words, lexicon())) != CommandSaid(Command.GO_TO, place.key)
    ]
    assert wrong == []
