"""Sound between the program and a page: the microphone that a tab sends, and the voice that a tab plays."""

import queue
import threading
import time
import wave
from collections.abc import Callable, Iterator
from io import BytesIO
from typing import Final

import numpy as np

from voicetech.desk.messages import ToPage
from voicetech.hearing.errors import MicrophoneLostError
from voicetech.hearing.frames import Samples, cut_frames
from voicetech.hearing.microphone import LOST_AFTER_S, BlockQueue, resampled
from voicetech.speaking.speaker import AdjustableVoice, SpeakingError, speakable
from voicetech.speaking.tone import write_tone
from voicetech.speaking.voice_process import ChildVoice, VoiceInterruptedError

LONGEST_BLOCK: Final = 64 * 1024
"""Bytes of sound that a page may send at once."""
_LOOK_S: Final = 0.02
_FULL_SCALE: Final = 32_768.0
_PLAYED_WITHIN_S: Final = 3.0
"""A page that has not told of a sound's end this long after it is taken to be gone. Judgement, no source."""
_TONE: Final = ""


class TabMicrophone:
    """The microphone of one tab: blocks come in from the connection's thread, frames are read by the desk's."""

    def __init__(self, rate_hz: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._rate_hz = rate_hz
        self._clock = clock
        self._waiting = BlockQueue()

    def put(self, block: bytes) -> None:
        """Take one block of 16-bit little-endian mono sound; a byte that is half a sample is dropped."""
        whole = block[: len(block) // 2 * 2]
        if whole:
            samples = np.frombuffer(whole, "<i2").astype(np.float32) / _FULL_SCALE
            self._waiting.put(samples[:, np.newaxis], False)

    def frames(self, between: Callable[[], bool]) -> Iterator[Samples]:
        """Yield frames of 512 samples at 16 kHz until `between`, which is asked again and again, says no.

        Raises MicrophoneLostError where no sound has come for two seconds.
        """
        return cut_frames(resampled(self._blocks(between), self._rate_hz))

    def now_s(self) -> float:
        """Return how much sound has come, in seconds; what is still queued is counted."""
        return self._waiting.samples / self._rate_hz

    def take_loss(self) -> bool:
        """Return whether sound was lost since the last call."""
        return self._waiting.take_overflow()

    def _blocks(self, between: Callable[[], bool]) -> Iterator[Samples]:
        last_s = self._clock()
        while between():
            try:
                block = self._waiting.blocks.get(timeout=_LOOK_S)
            except queue.Empty:
                if self._clock() - last_s > LOST_AFTER_S:
                    raise MicrophoneLostError("No sound comes from the microphone any more.") from None
                continue
            last_s = self._clock()
            yield block


class TabVoice(AdjustableVoice):
    """A voice whose prompts are made here and played by a tab; says nothing while no tab wants them.

    What keeps it from being heard is told once, plainly, and never holds up the job.
    """

    def __init__(self, tell: Callable[[str], None], made_by: Callable[[], ChildVoice] = ChildVoice) -> None:
        super().__init__()
        self._tell = tell
        self._told: set[str] = set()
        self._make = made_by
        self._voice: ChildVoice | None = None
        self._send: Callable[[ToPage], None] | None = None
        self._nr = 0
        self._playing: int | None = None
        self._done = threading.Event()
        self._lock = threading.Lock()

    @property
    def audible(self) -> bool:  # type: ignore[override]  # here it changes
        """Return whether a tab plays what is said."""
        return self._send is not None

    def play_in(self, send: Callable[[ToPage], None] | None) -> None:
        """Have prompts played by the tab that is reached this way, or by none."""
        self.hush()
        self._send = send

    def plays_in(self, send: Callable[[ToPage], None]) -> bool:
        """Return whether prompts are played by the tab that is reached this way."""
        return self._send == send

    def played(self, nr: int, failed: str) -> None:
        """Note that the tab has played this sound, or why it could not; may be called from any thread."""
        if failed:
            self._report(f"The browser did not play a prompt ({failed}). It is shown.")
        with self._lock:
            if nr == self._playing:
                self._done.set()

    def say(self, text: str) -> None:
        """Return when the text has been played, was hushed or could not be played."""
        words = speakable(text)
        if words and self._send is not None:
            self._perform(words)

    def tone(self) -> None:
        """Return when the listening tone has been played."""
        if self._send is not None:
            self._perform(_TONE)

    def hush(self) -> None:
        """Silence what is being played now."""
        send, voice = self._send, self._voice
        if voice is not None:
            voice.interrupt()
        if send is not None and self._playing is not None:
            send(ToPage({"kind": "hush"}))
        self._done.set()

    def close(self) -> None:
        """Silence the voice and end its process."""
        self.play_in(None)
        if self._voice is not None:
            self._voice.close()

    def _perform(self, words: str) -> None:
        try:
            voice = self._voice = self._voice or self._make()
            voice.begin()
            path = voice.folder / "page.wav"
            if words == _TONE:
                write_tone(path, self.settings.volume)
            else:
                voice.synthesise(words, self.settings, path)
            sound = path.read_bytes()
        except VoiceInterruptedError:
            return
        except (SpeakingError, OSError) as problem:
            self._report(f"{problem} Prompts are shown and not spoken.")
            return
        self._play(words, sound)

    def _play(self, words: str, sound: bytes) -> None:
        send = self._send
        if send is None:
            return
        with self._lock:
            self._nr += 1
            self._playing = self._nr
            self._done.clear()
        send(ToPage({"kind": "say", "nr": self._nr, "text": words}, sound))
        self._done.wait(length_s(sound) + _PLAYED_WITHIN_S)
        with self._lock:
            self._playing = None

    def _report(self, words: str) -> None:
        if words not in self._told:
            self._told.add(words)
            self._tell(words)


def length_s(sound: bytes) -> float:
    """Return how long a WAV file's sound is, in seconds; 0 where it is none."""
    try:
        with wave.open(BytesIO(sound), "rb") as file:
            return file.getnframes() / file.getframerate()
    except (wave.Error, EOFError, ZeroDivisionError):
        return 0.0
