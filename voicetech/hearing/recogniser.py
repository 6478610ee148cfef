"""What every recogniser offers; adapters exchange frozen records only."""

from collections.abc import Iterable
from typing import Protocol

from voicetech.heard import Heard
from voicetech.hearing.frames import Utterance
from voicetech.language.phrases import WordAutomaton


class Recogniser(Protocol):
    """Hears whole utterances. The same sound and grammar give the same answer every time."""

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return the alternatives the grammar allows, the likeliest first; none where nothing fits."""

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return those of the words that the recogniser can never hear."""
