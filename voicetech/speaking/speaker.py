"""What every voice of the program offers, and how fast and loud it speaks.

The words themselves come from `language`; nothing here chooses or changes what is said, except that
characters no voice can speak are left out.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol, assert_never


class SpeakingError(Exception):
    """Speech could not be made or played; the message says what was wrong and what to do next."""


class Step(StrEnum):
    """What a technician can ask of the voice while it works; the values are those of the spoken commands."""

    SLOWER = "slower"
    FASTER = "faster"
    LOUDER = "louder"
    QUIETER = "quieter"


WORDS_PER_MINUTE = 175
SLOWEST_WORDS_PER_MINUTE, FASTEST_WORDS_PER_MINUTE = 100, 260
STEP_WORDS_PER_MINUTE = 25
SOFTEST, LOUDEST, STEP_VOLUME = 0.4, 1.3, 0.15
"""Source: measured; at 1.0 the voice peaks at 0.76 of full scale, so 1.3 is the most that does not clip."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How fast and how loud the voice speaks; 1.0 is its ordinary volume."""

    words_per_minute: int = WORDS_PER_MINUTE
    volume: float = 1.0

    def at_rate(self, words_per_minute: int) -> "VoiceSettings":
        """Return these settings at that rate, or at the nearest the voice can be followed at."""
        bounded = min(max(words_per_minute, SLOWEST_WORDS_PER_MINUTE), FASTEST_WORDS_PER_MINUTE)
        return replace(self, words_per_minute=bounded)

    def at_volume(self, volume: float) -> "VoiceSettings":
        """Return these settings at that volume, or at the nearest that is neither lost nor clipped."""
        return replace(self, volume=round(min(max(volume, SOFTEST), LOUDEST), 2))

    def after(self, step: Step) -> "VoiceSettings":
        """Return the settings one step further; the same settings where there is no further to go."""
        match step:
            case Step.SLOWER:
                return self.at_rate(self.words_per_minute - STEP_WORDS_PER_MINUTE)
            case Step.FASTER:
                return self.at_rate(self.words_per_minute + STEP_WORDS_PER_MINUTE)
            case Step.LOUDER:
                return self.at_volume(self.volume + STEP_VOLUME)
            case Step.QUIETER:
                return self.at_volume(self.volume - STEP_VOLUME)
            case _:
                assert_never(step)


class Speaker(Protocol):
    """One voice. One thread says; any other may hush."""

    @property
    def audible(self) -> bool:
        """Return whether what is said can be heard, by people and by a microphone."""
        ...

    @property
    def settings(self) -> VoiceSettings:
        """Return how fast and loud the next prompt will be spoken."""
        ...

    def set_rate(self, words_per_minute: int) -> None:
        """Speak the next prompts at that rate, kept within bounds."""
        ...

    def set_volume(self, volume: float) -> None:
        """Speak the next prompts at that volume, kept within bounds; 1.0 is ordinary."""
        ...

    def adjust(self, step: Step) -> bool:
        """Return whether the voice could go one step further that way, and go."""
        ...

    def say(self, text: str) -> None:
        """Return when the text has been said, was hushed or could not be said."""
        ...

    def tone(self) -> None:
        """Return when the listening tone has sounded; it means that the technician may speak."""
        ...

    def hush(self) -> None:
        """Silence what is being said now, at once; what is said next is not touched."""
        ...

    def close(self) -> None:
        """Silence the voice and let go of what it holds; a closed voice says nothing more."""
        ...


class AdjustableVoice:
    """The part of a voice that keeps its settings."""

    audible = True

    def __init__(self) -> None:
        self._settings = VoiceSettings()

    @property
    def settings(self) -> VoiceSettings:
        """Return how fast and loud the next prompt will be spoken."""
        return self._settings

    def set_rate(self, words_per_minute: int) -> None:
        """Speak the next prompts at that rate, kept within bounds."""
        self._settings = self._settings.at_rate(words_per_minute)

    def set_volume(self, volume: float) -> None:
        """Speak the next prompts at that volume, kept within bounds; 1.0 is ordinary."""
        self._settings = self._settings.at_volume(volume)

    def adjust(self, step: Step) -> bool:
        """Return whether the voice could go one step further that way, and go."""
        before = self._settings
        self._settings = before.after(step)
        return self._settings != before


def speakable(text: str) -> str:
    """Return the text on one line without control characters; "" where nothing in it can be spoken."""
    words = " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())
    return words if any(mark.isalnum() for mark in words) else ""
