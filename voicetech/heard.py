"""What a recogniser reports: frozen records that every adapter, typed text included, hands to the core."""

from dataclasses import dataclass
from typing import Final

TYPED: Final = "typed"
"""The engine of what came from a keyboard."""
PRESSED: Final = "key"
"""The engine of a stop that was pressed."""


@dataclass(frozen=True, slots=True)
class Alternative:
    """Words in lower case, spelled as the grammar spells them, with their probability (0 to 1).

    `at_first` is their probability before a second listening, where there was one.
    """

    text: str
    probability: float
    at_first: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What one utterance may have been, the likeliest first.

    The probabilities are of complete alternatives and sum to at most 1; the rest belongs to rivals that were
    not followed. `for_us` is the probability (0 to 1) that the sound was an answer within the grammar at all.
    `free_text` is what was heard without the grammar, where the engine offers that.
    """

    alternatives: tuple[Alternative, ...]
    engine: str
    for_us: float = 1.0
    free_text: str | None = None
    decode_s: float = 0.0

    @property
    def text(self) -> str:
        """Return the likeliest words, or nothing."""
        return self.alternatives[0].text if self.alternatives else ""


def pressed_stop() -> Heard:
    """Return the stop that was pressed, as a recogniser that is always sure."""
    return Heard((Alternative("stop", 1.0),), PRESSED)


def typed(text: str) -> Heard:
    """Return typed text as a recogniser that is always sure."""
    return Heard((Alternative(text, 1.0),), engine=TYPED)
