"""Where an utterance begins and ends. The cutter is pure: frames and speech probabilities in, utterances out."""

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from voicetech.hearing.detector import SileroDetector, SpeechDetector
from voicetech.hearing.frames import FRAME_S, Samples, Utterance


@dataclass(frozen=True, slots=True)
class EndpointSettings:
    """When an utterance begins and ends, in seconds; probabilities are the speech detector's.

    Two levels keep a weak syllable from ending it. Figures are common practice, no source.
    """

    begins_at: float = 0.5
    goes_on_at: float = 0.3
    begin_s: float = 0.06
    end_silence_s: float = 0.6
    pre_roll_s: float = 0.4
    longest_s: float = 15.0

    def __post_init__(self) -> None:
        if not 0.0 < self.goes_on_at <= self.begins_at <= 1.0:
            raise ValueError("goes_on_at must lie between 0 and begins_at, and begins_at be at most 1")
        if min(self.begin_s, self.end_silence_s, self.longest_s) <= 0.0 or self.pre_roll_s < 0.0:
            raise ValueError("times must be positive")


@dataclass(slots=True)
class UtteranceCutter:
    """Takes frames one by one and gives an utterance back with the frame that ends it.

    Sound that never stops is cut at `longest_s` and goes on in the next utterance.
    """

    settings: EndpointSettings = field(default_factory=EndpointSettings)
    _before: deque[Samples] = field(default_factory=deque)
    _frames: list[Samples] = field(default_factory=list)
    _seen: int = 0
    _speech: int = 0
    _silence: int = 0
    _open: bool = False

    @property
    def speaking(self) -> bool:
        """Return whether an utterance is open."""
        return self._open

    def take(self, frame: Samples, probability: float) -> Utterance | None:
        """Return the utterance that this frame ends, or None."""
        self._seen += 1
        return self._inside(frame, probability) if self._open else self._outside(frame, probability)

    def finish(self) -> Utterance | None:
        """Return what is still open when the sound ends, or None."""
        return self._close() if self._open else None

    def _outside(self, frame: Samples, probability: float) -> None:
        self._before.append(frame)
        self._speech = self._speech + 1 if probability >= self.settings.begins_at else 0
        while len(self._before) > _frames(self.settings.pre_roll_s) + self._speech:
            self._before.popleft()
        if self._speech >= _frames(self.settings.begin_s):
            self._open, self._frames, self._silence = True, list(self._before), 0
            self._before.clear()

    def _inside(self, frame: Samples, probability: float) -> Utterance | None:
        self._frames.append(frame)
        self._silence = 0 if probability >= self.settings.goes_on_at else self._silence + 1
        ended = self._silence >= _frames(self.settings.end_silence_s)
        return self._close() if ended or len(self._frames) >= _frames(self.settings.longest_s) else None

    def _close(self) -> Utterance:
        end_s = self._seen * FRAME_S
        frames, self._frames, self._open, self._speech = self._frames, [], False, 0
        return Utterance(np.concatenate(frames), end_s - len(frames) * FRAME_S, end_s)


def utterances(
    frames: Iterable[Samples], settings: EndpointSettings | None = None, detector: SpeechDetector | None = None
) -> Iterator[Utterance]:
    """Yield the utterances in frames of 512 samples at 16 kHz, as each one ends."""
    cutter = UtteranceCutter(settings or EndpointSettings())
    ears = detector or SileroDetector()
    ears.reset()
    for frame in frames:
        found = cutter.take(frame, ears.probability(frame))
        if found is not None:
            yield found
    last = cutter.finish()
    if last is not None:
        yield last


def _frames(seconds: float) -> int:
    return max(1, round(seconds / FRAME_S))
