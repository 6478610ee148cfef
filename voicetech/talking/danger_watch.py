"""Listening for danger where no answer is expected: while the program speaks, in long talk, between the presses.

What was looked at once is not decoded again, and while the program speaks the looks keep to a budget.
"""

import re
from collections.abc import Iterator
from typing import Final

from voicetech.events import Channel
from voicetech.heard import Heard
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.listening import LOOK_BACK_S, DecodingBudget, Unfinished
from voicetech.hearing.recogniser import Recogniser
from voicetech.job import Job
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.meaning import Asking, Command, CommandSaid, DangerSaid, Question
from voicetech.language.number_words import DIGITS
from voicetech.talking.answers import freely

_PIECE: Final = int(LOOK_BACK_S * RATE_HZ)
_AGAIN_S: Final = 2.0
"""Sound before the end of the last look that is taken in again: a phrase that began there may end here."""
_ALIKE: Final = 4
"""Letters that make two words of one family: spark, sparks, sparking."""


class DangerWatch:
    """Finds danger words in sound, wherever they stand in it.

    `streams` says that the sound is one recording whose times only rise; then what was looked at before is left out.
    """

    def __init__(
        self, job: Job, recogniser: Recogniser, *, streams: bool, budget: DecodingBudget | None = None
    ) -> None:
        self._job = job
        self._recogniser = recogniser
        self._streams = streams
        self.budget = budget or DecodingBudget()
        # Danger beside everything else that is said at work: a number has to be heard as itself, or "five" is "fire".
        self._anything = compile_words(spoken_grammar(Question(Asking.ANY), job.lexicon))
        self._clear_to_s = -1.0

    def find(self, utterance: Utterance, prompt: str = "") -> Heard | None:
        """Return the first present danger words that the prompt does not hold itself, or None.

        Into a prompt, a wish for silence counts too.
        """
        rest = self._not_yet_looked_at(utterance)
        found = None if rest is None else self._first(rest, prompt)
        if found is None:
            self._clear_to_s = max(self._clear_to_s, utterance.end_s)
        return found

    def look(self, unfinished: Unfinished, prompt: str = "") -> Heard | None:
        """Return the same for the last seconds of sound that goes on."""
        window = unfinished.utterance
        found = self._first(window, prompt)
        if found is None and (unfinished.open_s <= LOOK_BACK_S or window.start_s <= self._clear_to_s):
            self._clear_to_s = max(self._clear_to_s, window.end_s)
        return found

    def _first(self, utterance: Utterance, prompt: str) -> Heard | None:
        for piece in _pieces(utterance):
            heard = self._recogniser.hear(piece, self._anything)
            self.budget.spend(heard.decode_s)
            for candidate in (heard, freely(heard)):
                if candidate is not None and self._alarms(candidate, prompt):
                    return candidate
        return None

    def _alarms(self, candidate: Heard, prompt: str) -> bool:
        meaning = self._job.weighed(candidate, Channel.VOICE).meaning
        if isinstance(meaning, DangerSaid):
            return meaning.present and not _holds(prompt, meaning.words)
        hush = isinstance(meaning, CommandSaid) and meaning.command is Command.HUSH
        return bool(prompt) and hush and not _holds(prompt, candidate.text)

    def _not_yet_looked_at(self, utterance: Utterance) -> Utterance | None:
        clear_to_s = self._clear_to_s
        if not self._streams or clear_to_s <= utterance.start_s:
            return utterance
        if utterance.speech_end_s is not None and utterance.speech_end_s <= clear_to_s:
            return None
        start_s = max(utterance.start_s, clear_to_s - _AGAIN_S)
        samples = utterance.samples[int((start_s - utterance.start_s) * RATE_HZ) :]
        return Utterance(samples, start_s, utterance.end_s, whole=False)


def _pieces(utterance: Utterance) -> Iterator[Utterance]:
    """Yield the utterance, or stretches of a long one that overlap by half."""
    samples = utterance.samples
    if len(samples) <= _PIECE:
        yield utterance
        return
    for at in range(0, len(samples) - _PIECE // 2, _PIECE // 2):
        start_s = utterance.start_s + at / RATE_HZ
        yield Utterance(samples[at : at + _PIECE], start_s, start_s + LOOK_BACK_S, whole=False)


def _holds(prompt: str, words: str) -> bool:
    """Return whether the prompt itself holds every one of the words, in some form."""
    said = set(_families(prompt))
    return bool(said) and all(family in said for family in _families(words))


def _families(text: str) -> list[str]:
    """Return the beginnings of the words as they are spoken: "911" is said nine one one."""
    spoken = re.sub(r"\d", lambda digit: f" {DIGITS[int(digit.group())]} ", text.lower())
    return [word[:_ALIKE] for word in re.findall(r"[a-z']+", spoken)]
