"""The utterance that stands for a recording, and one grammar for one question."""

import numpy as np

from tests.hearing.recordings import EAR, LEXICON
from voicetech.heard import Heard
from voicetech.hearing.answering import Answered, Hearing, told
from voicetech.hearing.frames import Utterance
from voicetech.language.meaning import Asking, Command, CommandSaid, Question
from voicetech.weigh import Accepted, Ignored, Outcome

TAKEN = Accepted(CommandSaid(Command.NEXT), "next", 0.9)


def answered(outcome: Outcome) -> Answered:
    return Answered(Utterance(np.zeros(1, np.float32)), Heard((), "ear"), (), outcome)


def test_the_first_that_was_not_ignored_stands_for_all() -> None:
    overheard, taken, later = answered(Ignored("talk")), answered(TAKEN), answered(TAKEN)
    assert told([overheard, taken, later]) is taken
    assert told([overheard]) is overheard
    assert told([]) is None


def test_a_grammar_is_made_once() -> None:
    hearing = Hearing(EAR, LEXICON)
    assert hearing.grammar(Question(Asking.YES_NO)) is hearing.grammar(Question(Asking.YES_NO))
    assert hearing.grammar(Question(Asking.YES_NO)).accepts(["yes"])
    assert not hearing.grammar(Question(Asking.YES_NO)).accepts(["two", "forty"])
