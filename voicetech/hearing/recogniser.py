"""What every recogniser offers; adapters exchange frozen records only."""

from collections.abc import Iterable
from typing import Protocol

from voicetech.heard import Heard
from voicetech.hearing.frames import Utterance
from voicetech.language.phrases import WordAutomaton


class Recogniser(Protocol):
    """Hears whole utterances. The same sound and grammar give the same answer every time."""

    @property
    def name(self) -> str:
        """Return the name it is asked for by and recorded under."""

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return the alternatives the grammar allows, the likeliest first; none where nothing fits."""

    def write_down(self, utterance: Utterance) -> Heard:
        """Return the words of free speech, a note or a complaint, as the one alternative; none in silence.

        Nothing checks such words: they are recorded as they came, never taken for a reading.
        """

    def warm_up(self) -> None:
        """Load everything now, so that the first answer does not wait."""

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return those of the words that the recogniser can never hear."""
