"""What an utterance says to the job's open question."""

import re
from collections.abc import Hashable
from dataclasses import replace
from typing import Final

from voicetech.events import Channel
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import Utterance
from voicetech.hearing.recogniser import Recogniser
from voicetech.job import Job
from voicetech.language.automaton import after_word
from voicetech.language.meaning import Command, CommandSaid, DangerSaid
from voicetech.language.phrases import WordAutomaton
from voicetech.weigh import FOR_US_AT_LEAST

_DOUBT: Final = 0.5
"""What is left of a probability where part of the sound is missing: too little to be taken, enough for danger."""


def heard_for(job: Job, recogniser: Recogniser, utterance: Utterance) -> Heard:
    """Return what an utterance says to the job's open question.

    Notes and reasons are written down freely, everything else is heard within the grammar. Where the grammar does
    not fit, danger and a note in free words still count. Sound that is not whole is never sure.
    """
    if job.wants_free_words:
        return recogniser.write_down(utterance)
    heard = recogniser.hear(utterance, job.grammar())
    free = freely(heard)
    if heard.for_us < FOR_US_AT_LEAST and free is not None:
        meaning = job.weighed(free, Channel.VOICE).meaning
        if isinstance(meaning, DangerSaid) or _is_note(meaning):
            return free
    return heard if utterance.whole else _doubted(heard)


class AddressedEar:
    """Hears what is said after the address word, and nothing where that word does not come first."""

    def __init__(self, job: Job, recogniser: Recogniser, word: str) -> None:
        self._job = job
        self._recogniser = recogniser
        self._word = word
        self._said = re.compile(rf"\W*{re.escape(word)}\b\W*", re.IGNORECASE)
        self._grammars: dict[Hashable, WordAutomaton] = {}

    def hear(self, utterance: Utterance) -> Heard:
        """Return what follows the word; the alternatives are without it."""
        if self._job.wants_free_words:
            heard = self._recogniser.write_down(utterance)
        else:
            heard = self._recogniser.hear(utterance, self._grammar())
        addressed = tuple(
            replace(a, text=a.text[found.end() :])
            for a in heard.alternatives
            if (found := self._said.match(a.text)) is not None
        )
        if not addressed:
            return replace(heard, alternatives=(), for_us=0.0)
        free = self._said.sub("", heard.free_text, count=1) if heard.free_text else heard.free_text
        answer = replace(heard, alternatives=addressed, free_text=free)
        return answer if utterance.whole else _doubted(answer)

    def _grammar(self) -> WordAutomaton:
        # Kept, because recognisers prepare each automaton they are given.
        found = self._grammars.get(self._job.question)
        if found is None:
            found = self._grammars[self._job.question] = after_word(self._word, self._job.grammar())
        return found


def fit_address_word(job: Job, word: str) -> str:
    """Return the address word in lower case; ValueError, saying why, where it cannot be one."""
    plain = word.strip().lower()
    if not re.fullmatch("[a-z]{4,15}", plain):
        raise ValueError("The address word has to be one word of 4 to 15 letters, such as: wrench")
    if plain in job.lexicon.known:
        raise ValueError(f"{plain!r} is also an answer or a request. Choose a word that no answer holds.")
    return plain


def freely(heard: Heard) -> Heard | None:
    """Return what was heard without the grammar as the one alternative, None where the engine gives no such text."""
    if not heard.free_text:
        return None
    return Heard((Alternative(heard.free_text, 1.0),), heard.engine, 1.0, heard.free_text, heard.decode_s)


def _is_note(meaning: object) -> bool:
    return isinstance(meaning, CommandSaid) and meaning.command is Command.NOTE and bool(meaning.argument)


def _doubted(heard: Heard) -> Heard:
    doubted = (replace(a, probability=a.probability * _DOUBT) for a in heard.alternatives)
    return replace(heard, alternatives=tuple(doubted))
