"""A room in which a job is worked: what is said in it is played into one recording as the program listens to it.

The program's prompts are its own voice, put into the recording while it speaks; people speak when it has finished, or
into its prompts. Time is the sound's own: however long the program thinks, the recording does not go on meanwhile.
"""

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.hearing.recordings import SOUNDS
from voicetech.hearing.frames import FRAME_SAMPLES, RATE_HZ, Samples
from voicetech.hearing.sound_file import read_sound
from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.speaker import AdjustableVoice
from voicetech.speaking.tone import TONE_RATE_HZ, listening_tone

DEMO = Path(__file__).parents[2] / "demo_audio"
QUIET_ROOM = 0.0005
"""Level of the noise that is always there, 66 dB below full scale; speech has 0.1 and peaks at 0.5."""
_EDGE = 0.01
"""Share of a clip's loudest hundredth of a second above which somebody is taken to speak."""


def clip(name: str) -> Samples:
    """Return a committed recording, of the demo or of the tests' sounds."""
    path = DEMO / f"{name}.flac"
    return read_sound(path if path.is_file() else SOUNDS / f"{name}.flac")


def spoken(samples: Samples) -> tuple[float, float]:
    """Return where somebody speaks in a clip, in seconds, by its loudness alone."""
    loudness = np.sqrt(np.convolve(samples**2, np.ones(160) / 160, "same"))
    loud = np.flatnonzero(loudness > max(_EDGE * loudness.max(), 2 * float(np.percentile(loudness, 5))))
    return float(loud[0]) / RATE_HZ, float(loud[-1]) / RATE_HZ


def in_two(samples: Samples, pause_s: float) -> Samples:
    """Return a clip that is broken off at its quietest place near the middle and goes on after a pause."""
    start_s, end_s = spoken(samples)
    third = (end_s - start_s) / 3
    first, last = int((start_s + third) * RATE_HZ), int((end_s - third) * RATE_HZ)
    loudness = np.convolve(samples**2, np.ones(480) / 480, "same")[first:last]
    at = first + int(loudness.argmin())
    return np.concatenate([samples[:at], np.zeros(int(pause_s * RATE_HZ), np.float32), samples[at:]])


def clang(length_s: float = 0.6) -> Samples:
    """Return a pan that falls."""
    time_s = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    rings = sum(np.sin(2 * np.pi * pitch * time_s) for pitch in (611.0, 1_203.0, 1_877.0, 2_950.0))
    noise = np.random.default_rng(3).normal(0, 1.0, len(time_s))
    return ((0.08 * rings + 0.1 * noise * np.exp(-time_s / 0.03)) * np.exp(-time_s / 0.15)).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Happening:
    """What is heard in the room next.

    `after_s` counts from the end of what was said last, by the program or before it in the list; with `into` from the
    beginning of the prompt it is said into.
    """

    name: str
    sound: Samples
    after_s: float = 0.7
    into: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a clip came to lie in the recording: where somebody speaks in it, in seconds."""

    name: str
    speech_start_s: float
    speech_end_s: float


@dataclass
class Room(AdjustableVoice):
    """The voice of the program and the ears of the microphone at once."""

    folder: Path
    happenings: tuple[Happening, ...]
    overheard: float
    """Level at which the microphone hears the program: 0 with a headset."""
    noise: float = QUIET_ROOM
    ends_after_s: float = 3.0
    placed: list[Placed] = field(default_factory=list)
    prompts: list[tuple[str, float]] = field(default_factory=list)
    said: list[tuple[str, float, float]] = field(default_factory=list)
    recording: list[Samples] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()
        self._voice = FileSpeaker(self.folder)
        self._changed = threading.Condition()
        self._at = 0
        self._playing: list[tuple[int, Samples]] = []
        self._speaks_until: int | None = None
        self._spoke_until = 0
        self._spoke_from = 0
        self._hushed = self._over = False
        self.busy: Callable[[], bool] = lambda: False

    def now_s(self) -> float:
        return self._at / RATE_HZ

    def say(self, text: str) -> None:
        before = set(self.folder.glob("*.wav"))
        self._voice.say(text)
        (made,) = set(self.folder.glob("*.wav")) - before
        start_s = self.now_s()
        self.prompts.append((text, start_s))
        self._play(read_sound(made) * np.float32(self.overheard))
        self.said.append((text, start_s, self.now_s()))

    def tone(self) -> None:
        pcm = np.frombuffer(listening_tone(), np.int16).astype(np.float32) / 32_768
        at = np.arange(0, len(pcm), TONE_RATE_HZ / RATE_HZ)
        self._play((np.interp(at, np.arange(len(pcm)), pcm) * self.overheard).astype(np.float32), tone=True)

    def hush(self) -> None:
        with self._changed:
            if self._speaks_until is not None:
                self._hushed = True
                self._changed.notify_all()

    def close(self) -> None:
        self.hush()
        self._voice.close()

    def frames(self) -> Iterator[Samples]:
        """Yield the recording as it comes about, until everything has happened and some time has passed since."""
        noise = np.random.default_rng(1)
        left = list(self.happenings)
        quiet_from = 0
        while left or self._at - quiet_from < self.ends_after_s * RATE_HZ:
            self._settle()
            assert self._at - max(quiet_from, self._spoke_until) < 20 * RATE_HZ, f"nothing happens: {left}"
            if left and self._is_due(left[0], quiet_from):
                happening = left.pop(0)
                start_s, end_s = spoken(happening.sound)
                self.placed.append(Placed(happening.name, self.now_s() + start_s, self.now_s() + end_s))
                self._playing.append((self._at, happening.sound))
                quiet_from = self._at + len(happening.sound)
            frame = noise.normal(0, self.noise, FRAME_SAMPLES).astype(np.float32)
            for start, sound in self._playing:
                part = sound[max(0, self._at - start) : self._at - start + FRAME_SAMPLES]
                frame[: len(part)] += part
            self._playing = [(start, sound) for start, sound in self._playing if start + len(sound) > self._at]
            self._at += FRAME_SAMPLES
            self.recording.append(frame)
            yield frame
        with self._changed:
            self._over = True
            self._changed.notify_all()

    def _is_due(self, happening: Happening, quiet_from: int) -> bool:
        since = max(quiet_from, self._spoke_from if happening.into else self._spoke_until)
        speaks = self._speaks_until is not None
        return speaks == happening.into and self._at - since >= happening.after_s * RATE_HZ

    def _play(self, sound: Samples, tone: bool = False) -> None:
        """Put the program's sound into the recording, and return when it has been heard or was hushed."""
        with self._changed:
            start = self._at
            self._playing.append((start, sound))
            self._hushed = False
            self._speaks_until = start + len(sound)
            self._spoke_from = self._spoke_from if tone else start
            self._changed.notify_all()
            heard = lambda: self._over or self._hushed or self._at >= start + len(sound)  # noqa: E731
            self._changed.wait_for(heard, timeout=60)
            if self._hushed:
                self._playing = [one for one in self._playing if one[1] is not sound]
            self._spoke_until = self._at
            self._speaks_until = None

    def _settle(self) -> None:
        """Wait until the program has begun to speak, or has nothing to say."""
        with self._changed:
            self._changed.notify_all()
            for _ in range(30_000):
                speaking = self._speaks_until is not None and self._at < self._speaks_until and not self._hushed
                if speaking or not self.busy():
                    return
                self._changed.wait(0.002)
        raise AssertionError("the program neither speaks nor is silent")
