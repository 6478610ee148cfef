"""The voice of a job that is worked by text alone."""

from voicetech.speaking.speaker import AdjustableVoice


class SilentSpeaker(AdjustableVoice):
    """Says nothing; the prompts are read on the screen."""

    audible = False

    def say(self, text: str) -> None:
        """Return at once."""

    def tone(self) -> None:
        """Return at once."""

    def hush(self) -> None:
        """Return at once."""

    def close(self) -> None:
        """Return at once."""
