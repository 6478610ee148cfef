"""From a recording to what would be done with it: the one path that commands and measurements share."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from voicetech.heard import Heard
from voicetech.hearing.frames import Utterance
from voicetech.hearing.recogniser import Recogniser
from voicetech.hearing.sound_file import file_utterances
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Meaning, Question
from voicetech.language.phrases import WordAutomaton
from voicetech.language.understand import understand
from voicetech.scoring import Limits, verdict
from voicetech.weigh import Ignored, Outcome, weigh


@dataclass(frozen=True, slots=True)
class Answered:
    """One utterance of a recording: what was heard, what it means, and what would be done with it."""

    utterance: Utterance
    heard: Heard
    meanings: tuple[Meaning, ...]
    outcome: Outcome


@dataclass(slots=True)
class Hearing:
    """A recogniser with its vocabulary, and the grammars it has been asked for so far."""

    recogniser: Recogniser
    lexicon: Lexicon
    _grammars: dict[Question, WordAutomaton] = field(default_factory=dict)

    def answer_file(self, path: Path, question: Question, limits: Limits = None) -> list[Answered]:
        """Return what is heard in a recording, utterance by utterance. Raises SoundFileError."""
        return self.answer(file_utterances(path), question, limits)

    def answer(self, utterances: Iterable[Utterance], question: Question, limits: Limits = None) -> list[Answered]:
        """Return what is heard in each utterance as an answer to the question."""
        return [self._answer(utterance, question, limits) for utterance in utterances]

    def grammar(self, question: Question) -> WordAutomaton:
        """Return what may be said to the question."""
        found = self._grammars.get(question)
        if found is None:
            found = self._grammars[question] = compile_words(spoken_grammar(question, self.lexicon))
        return found

    def _answer(self, utterance: Utterance, question: Question, limits: Limits) -> Answered:
        heard = self.recogniser.hear(utterance, self.grammar(question))
        meanings = tuple(understand(a.text, question, self.lexicon) for a in heard.alternatives)
        return Answered(utterance, heard, meanings, weigh(heard, meanings, lambda meaning: verdict(meaning, limits)))


def told(answers: list[Answered]) -> Answered | None:
    """Return the utterance that stands for a recording: the first that was not ignored, else the first, if any."""
    return next((answer for answer in answers if not isinstance(answer.outcome, Ignored)), next(iter(answers), None))
