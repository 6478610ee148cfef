"""The voice that is heard: pyttsx3 over eSpeak NG, with nothing to install but the package itself."""

import threading
import wave
from collections.abc import Callable
from pathlib import Path

from voicetech.speaking.speaker import AdjustableVoice, SpeakingError, speakable
from voicetech.speaking.tone import write_tone
from voicetech.speaking.voice_process import ChildVoice, Driver, NoVoiceError, VoiceInterruptedError


class Pyttsx3Speaker(AdjustableVoice):
    """Says prompts aloud; what keeps it from that is told once, plainly, and never holds up the job."""

    def __init__(self, tell: Callable[[str], None], voice: ChildVoice | None = None) -> None:
        super().__init__()
        self._tell = tell
        self._told: set[str] = set()
        self._voice = voice or ChildVoice()
        self._mute = False
        self._one_at_a_time = threading.Lock()

    @property
    def driver(self) -> Driver | None:
        """Return what made the last prompt, None before the first: pyttsx3, or the library called directly."""
        return self._voice.driver

    def say(self, text: str) -> None:
        """Return when the text has been said, was hushed or could not be said."""
        words = speakable(text)
        if words:
            self._perform(lambda: self._make(words))

    def tone(self) -> None:
        """Return when the listening tone has sounded."""
        self._perform(self._make_tone)

    def play_file(self, path: Path) -> None:
        """Return when a recording has been played, was hushed or could not be played."""
        self._perform(lambda: self._copy(path))

    def hush(self) -> None:
        """Silence what is being said now."""
        self._voice.interrupt()

    def close(self) -> None:
        """Silence the voice and end its process."""
        self._mute = True
        self._voice.close()

    def check(self) -> str | None:
        """Sound the tone and return what keeps prompts from being heard, in plain words, or None.

        A clean return does not prove that anybody heard it: a muted device reports nothing.
        """
        with self._one_at_a_time:
            self._voice.begin()
            try:
                self._make("Ready.")
                self._sound(self._make_tone)
            except VoiceInterruptedError:
                return None
            except SpeakingError as problem:
                return str(problem)
        return None

    def _perform(self, make: Callable[[], Path]) -> None:
        with self._one_at_a_time:
            if self._mute:
                return
            self._voice.begin()
            try:
                self._sound(make)
            except VoiceInterruptedError:
                return
            except SpeakingError as problem:
                self._report(problem)

    def _make(self, words: str) -> Path:
        path = self._voice.folder / "prompt.wav"
        self._voice.synthesise(words, self.settings, path)
        return path

    def _make_tone(self) -> Path:
        path = self._voice.folder / "tone.wav"
        write_tone(path, self.settings.volume)
        return path

    def _copy(self, path: Path) -> Path:
        """Return the recording as 16-bit mono WAV, which is what the voice's process plays."""
        import soundfile

        copy = self._voice.folder / "recording.wav"
        try:
            samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
            soundfile.write(copy, samples.mean(axis=1), rate_hz, subtype="PCM_16")
        except soundfile.SoundFileError as cause:
            raise SpeakingError(f"The recording {path} cannot be played ({cause}).") from cause
        return copy

    def _sound(self, make: Callable[[], Path]) -> None:
        try:
            path = make()
            with wave.open(str(path), "rb") as sound:
                length_s = sound.getnframes() / sound.getframerate()
        except OSError as cause:
            raise SpeakingError(f"The sound file could not be written or read ({cause}).") from cause
        self._voice.play(path, length_s)

    def _report(self, problem: SpeakingError) -> None:
        words = str(problem)
        if words not in self._told and not self._mute:
            self._told.add(words)
            self._tell(words)
        self._mute = self._mute or isinstance(problem, NoVoiceError)
