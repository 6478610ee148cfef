"""The voice that speaks into files: one numbered WAV file for each prompt."""

import threading
from contextlib import suppress
from pathlib import Path

from voicetech.speaking.speaker import AdjustableVoice, SpeakingError, speakable
from voicetech.speaking.voice_process import ChildVoice, Driver, VoiceInterruptedError


class FileSpeaker(AdjustableVoice):
    """Writes prompt-0001.wav, prompt-0002.wav and so on, after the last that the folder already holds."""

    def __init__(self, folder: Path, voice: ChildVoice | None = None) -> None:
        super().__init__()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as cause:
            raise SpeakingError(
                f"Prompts cannot be written to {folder} ({cause.strerror}); name a folder that can be made."
            ) from cause
        self._folder = folder
        self._voice = voice or ChildVoice()
        self._one_at_a_time = threading.Lock()

    @property
    def driver(self) -> Driver | None:
        """Return what made the last prompt, None before the first: pyttsx3, or the library called directly."""
        return self._voice.driver

    def say(self, text: str) -> None:
        """Return when the prompt is in its file; raises `SpeakingError` where it could not be written."""
        words = speakable(text)
        if not words:
            return
        with self._one_at_a_time, suppress(VoiceInterruptedError):
            self._voice.begin()
            self._voice.synthesise(words, self.settings, self._next_path())

    def tone(self) -> None:
        """Return at once; the tone is no prompt."""

    def hush(self) -> None:
        """Leave the prompt that is being written."""
        self._voice.interrupt()

    def close(self) -> None:
        """End the voice's process; the files stay."""
        self._voice.close()

    def _next_path(self) -> Path:
        numbers = [int(path.stem[-4:]) for path in self._folder.glob("prompt-[0-9][0-9][0-9][0-9].wav")]
        return self._folder / f"prompt-{max(numbers, default=0) + 1:04}.wav"
