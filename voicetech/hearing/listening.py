"""Listening to sound as it comes: utterances as they end, looks at what is still being said, and time passing."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from voicetech.hearing.detector import SpeechDetector
from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import Samples, Utterance

LOOK_S = 0.5
"""Between two looks at an unfinished utterance: a cry is noticed within this and its decoding. Judgement, no source."""
LOOK_BACK_S = 2.5
"""Sound that a look takes in: longer than any danger phrase. Judgement, no source."""
QUIET_S = 0.25
"""Between two marks of time while nobody speaks."""


@dataclass(frozen=True, slots=True, eq=False)
class Unfinished:
    """The last seconds of an utterance that goes on, and how long it has been going on."""

    utterance: Utterance
    open_s: float


@dataclass(frozen=True, slots=True)
class Quiet:
    """Nobody speaks at this time of the recording, in seconds."""

    at_s: float


Sound = Utterance | Unfinished | Quiet


def listen(
    frames: Iterable[Samples],
    cutter: UtteranceCutter,
    detector: SpeechDetector,
    lost: Callable[[], bool] = lambda: False,
) -> Iterator[Sound]:
    """Yield what happens in frames of 512 samples at 16 kHz; `lost` says whether sound was lost since it was asked.

    Between two sounds the cutter may be given other settings, or be told to end what is open.
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
        elif cutter.speaking and cutter.at_s - marked_s >= LOOK_S:
            marked_s = cutter.at_s
            yield Unfinished(cutter.so_far(LOOK_BACK_S), cutter.open_s)
        elif not cutter.speaking and cutter.at_s - marked_s >= QUIET_S:
            marked_s = cutter.at_s
            yield Quiet(cutter.at_s)
    last = cutter.finish()
    if last is not None:
        yield last
