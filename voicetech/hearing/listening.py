"""Listening to sound as it comes: utterances as they end, looks at what is still being said, and time passing."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from voicetech.hearing.detector import SpeechDetector
from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import Samples, Utterance

LOOK_S: Final = 0.5
"""Between two looks at an unfinished utterance: a cry is noticed within this and its decoding. Judgement, no source."""
LOOK_BACK_S: Final = 2.5
"""Sound that a look takes in: longer than any danger phrase. Judgement, no source."""
QUIET_S: Final = 0.25
"""Between two marks of time while nobody speaks."""
SPEAKING_SHARE: Final = 0.25
"""Share of the time that looks may cost while the program speaks: a quarter of one core leaves the voice its own, and
is three times what looks cost on a quiet machine. Judgement, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Paused:
    """Somebody has stopped for a moment: what was said so far, whole if this is its end."""

    utterance: Utterance


@dataclass(frozen=True, slots=True, eq=False)
class Unfinished:
    """The last seconds of an utterance that goes on, and how long it has been going on."""

    utterance: Utterance
    open_s: float


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nobody speaks at this time of the recording, in seconds."""

    at_s: float


Sound = Utterance | Paused | Unfinished | Quiet


@dataclass(slots=True)
class DecodingBudget:
    """Keeps decoding to a share of the sound's own time: what one look costs is paid off before the next."""

    share: float = SPEAKING_SHARE
    _owed_s: float = 0.0
    _at_s: float = 0.0

    def allows(self, at_s: float) -> bool:
        """Return whether a look is affordable at this time of the recording, in seconds."""
        self._owed_s = max(0.0, self._owed_s - self.share * max(0.0, at_s - self._at_s))
        self._at_s = at_s
        return self._owed_s == 0.0

    def spend(self, decode_s: float) -> None:
        """Note what a decoding took, in seconds."""
        self._owed_s += decode_s


def listen(
    frames: Iterable[Samples],
    cutter: UtteranceCutter,
    detector: SpeechDetector,
    lost: Callable[[], bool] = lambda: False,
) -> Iterator[Sound]:
    """Yield what happens in frames of 512 samples at 16 kHz; `lost` says whether sound was lost since it was asked.

    Between two sounds the cutter may be given other settings, or be told to end what is open: sound that came in
    meanwhile follows.
    """
    detector.reset()
    marked_s = 0.0
    for frame in frames:
        ended = cutter.take(frame, detector.probability(frame))
        if lost():
            cutter.lost()
        if ended is not None:
            marked_s = cutter.at_s
            yield ended
        elif cutter.pausing:
            marked_s = cutter.at_s
            yield Paused(cutter.said())
        elif cutter.speaking and cutter.at_s - marked_s >= LOOK_S:
            marked_s = cutter.at_s
            yield Unfinished(cutter.so_far(LOOK_BACK_S), cutter.open_s)
        elif not cutter.speaking and cutter.at_s - marked_s >= QUIET_S:
            marked_s = cutter.at_s
            yield Quiet(cutter.at_s)
    last = cutter.finish()
    if last is not None:
        yield last
