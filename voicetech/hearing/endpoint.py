"""Where an utterance begins and ends. The cutter is pure: frames and speech probabilities in, utterances out."""

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from voicetech.hearing.detector import SileroDetector, SpeechDetector
from voicetech.hearing.frames import FRAME_S, Samples, Utterance

SETTLED_S: Final = 0.35
"""Silence, at most, after an answer that nothing could follow."""
GOES_ON_S: Final = 0.8
"""Silence, at most, after one that could go on ("two thirty ... eight"), or that was not understood."""
LINGERS_S: Final = 0.125
"""How long after its end the detector still finds speech; both figures above count from the true end. Measured: 0.08 s
in the middle, 0.125 s in 95 of 100 recordings of people and test voices."""
_DECODING_S: Final = 0.035
"""Kept back of `SETTLED_S` for most of the decoding that comes before the decision: 40 ms on a quiet machine."""


@dataclass(frozen=True, slots=True)
class EndpointSettings:
    """When an utterance begins and ends, in seconds; probabilities are the speech detector's.

    Two levels keep a weak syllable from ending it. `least_s` is the speech an utterance must hold to be one. After
    `pause_s` of silence what was said so far can be looked at; after `end_silence_s` it ends whatever it was. Figures
    without a reason above are common practice, no source.
    """

    begins_at: float = 0.5
    goes_on_at: float = 0.3
    begin_s: float = 0.06
    pause_s: float = SETTLED_S - LINGERS_S - _DECODING_S
    end_silence_s: float = GOES_ON_S - LINGERS_S
    pre_roll_s: float = 0.4
    least_s: float = 0.09
    longest_s: float = 15.0

    def __post_init__(self) -> None:
        if not 0.0 < self.goes_on_at <= self.begins_at <= 1.0:
            raise ValueError("goes_on_at must lie between 0 and begins_at, and begins_at be at most 1")
        least = min(self.begin_s, self.pause_s, self.end_silence_s, self.longest_s)
        if least <= 0.0 or min(self.pre_roll_s, self.least_s) < 0.0:
            raise ValueError("times must be positive")


@dataclass(slots=True)
class UtteranceCutter:
    """Takes frames one by one and gives an utterance back with the frame that ends it.

    `settings` may be replaced between any two frames. Sound that never stops is cut at `longest_s` and goes on in
    the next utterance; neither is whole then. The silence that ends an utterance may also be the lead of the next
    one, or a first consonant that comes at once would be lost.
    """

    settings: EndpointSettings = field(default_factory=EndpointSettings)
    _before: deque[Samples] = field(default_factory=deque)
    _frames: list[Samples] = field(default_factory=list)
    _seen: int = 0
    _beginning: int = 0
    _led_by: int = 0
    _spoken: int = 0
    _silence: int = 0
    _open: bool = False
    _whole: bool = True
    _cut: bool = False

    @property
    def speaking(self) -> bool:
        """Return whether an utterance is open."""
        return self._open

    @property
    def pausing(self) -> bool:
        """Return whether somebody who speaks has now, with this very frame, been silent for `pause_s`."""
        spoken = self._spoken >= _frames(self.settings.least_s)
        return self._open and spoken and self._silence == _frames(self.settings.pause_s)

    @property
    def at_s(self) -> float:
        """Return how much sound has been taken, in seconds."""
        return self._seen * FRAME_S

    @property
    def open_s(self) -> float:
        """Return how long the open utterance is by now, in seconds; 0 where none is open."""
        return len(self._frames) * FRAME_S

    def take(self, frame: Samples, probability: float) -> Utterance | None:
        """Return the utterance that this frame ends, or None."""
        self._seen += 1
        if self._open:
            return self._inside(frame, probability)
        self._outside(frame, probability)
        return None

    def lost(self) -> None:
        """Note that sound was lost: what is open is not whole any more."""
        self._whole = self._whole and not self._open

    def so_far(self, last_s: float) -> Utterance:
        """Return the last seconds of the open utterance; not whole, for the rest is still to come."""
        frames = self._frames[-_frames(last_s) :]
        return Utterance(np.concatenate(frames), self.at_s - len(frames) * FRAME_S, self.at_s, whole=False)

    def said(self) -> Utterance:
        """Return the whole of the open utterance so far, as it would be if it ended here."""
        return self._utterance()

    def end_here(self) -> Utterance | None:
        """Return what is open, ended in the silence that it has come to, or None; it is as whole as it was."""
        return self._close() if self._open else None

    def end_now(self) -> Utterance | None:
        """Return what is open, cut off in the middle, or None; speech that goes on is not whole either."""
        return self._cut_off() if self._open else None

    def finish(self) -> Utterance | None:
        """Return what is still open when the sound ends, or None."""
        return self._close() if self._open else None

    def _outside(self, frame: Samples, probability: float) -> None:
        self._before.append(frame)
        self._beginning = self._beginning + 1 if probability >= self.settings.begins_at else 0
        self._silence = 0 if probability >= self.settings.goes_on_at else self._silence + 1
        if self._silence >= _frames(self.settings.end_silence_s):
            self._cut = False
        while len(self._before) > _frames(self.settings.pre_roll_s) + self._beginning:
            self._before.popleft()
        if self._beginning >= _frames(self.settings.begin_s):
            self._open, self._frames, self._silence = True, list(self._before), 0
            self._spoken, self._whole = self._beginning, not self._cut
            self._led_by = len(self._frames) - self._beginning
            self._before.clear()

    def _inside(self, frame: Samples, probability: float) -> Utterance | None:
        self._frames.append(frame)
        speech = probability >= self.settings.goes_on_at
        self._spoken += speech
        self._silence = 0 if speech else self._silence + 1
        if self._silence >= _frames(self.settings.end_silence_s):
            return self._close()
        return self._cut_off() if len(self._frames) >= _frames(self.settings.longest_s) else None

    def _cut_off(self) -> Utterance | None:
        self._whole = False
        cut = self._close()
        self._cut, self._silence = True, 0
        return cut

    def _close(self) -> Utterance | None:
        ended, frames, enough = self._utterance(), self._frames, self._spoken >= _frames(self.settings.least_s)
        # A click is not an utterance; its sound may still be the beginning of the next one.
        lead = self._silence - _frames(LINGERS_S) if enough else len(frames)
        lead = min(lead, _frames(self.settings.pre_roll_s))
        self._before.extend(frames[-lead:] if lead > 0 else [])
        self._frames, self._open, self._beginning, self._spoken = [], False, 0, 0
        self._whole, self._cut = True, False
        return ended if enough else None

    def _utterance(self) -> Utterance:
        start_s = self.at_s - len(self._frames) * FRAME_S
        return Utterance(
            np.concatenate(self._frames),
            start_s,
            self.at_s,
            self._whole,
            speech_start_s=start_s + self._led_by * FRAME_S,
            speech_end_s=self.at_s - self._silence * FRAME_S,
        )


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
