"""The recordings of a job heard again by today's recogniser, vocabulary and grammar."""

import io
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
import soundfile

from voicetech.dialogue.measuring import verdict_key
from voicetech.events import Event, InputReceived
from voicetech.heard import TYPED, Heard
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.job import Job
from voicetech.labelling import LabelledAnswer, labels_of
from voicetech.language.lexicon import Lexicon
from voicetech.language.understand import understand
from voicetech.marks import Mark
from voicetech.practice import Unrecorded
from voicetech.procedure import Procedure
from voicetech.replay.ear import Ear, opened
from voicetech.replay.replayed import Now, Reheard
from voicetech.replaying import RecordedTurn
from voicetech.scoring import result_of, same_key
from voicetech.sense import heard_then
from voicetech.session import Session
from voicetech.talking.answers import heard_for
from voicetech.weigh import Accepted, AskWhich, Ignored, Outcome, SayAgain, weigh

_OUTCOMES: Final = {Accepted: "accepted", AskWhich: "ask", SayAgain: "again", Ignored: "ignored"}


def reheard(
    procedure: Procedure,
    lexicon: Lexicon,
    turns: Sequence[RecordedTurn],
    sounds: Mapping[str, bytes],
    ear: Ear,
    marks: tuple[Mark, ...] = (),
) -> tuple[tuple[Reheard, ...], int]:
    """Return what is heard now in each kept sound, and how many spoken answers have none.

    `sounds` are FLAC files by the name of their sound; what `marks` of the review say was said counts as said. Raises
    HearingError where the recogniser cannot be opened.
    """
    again = _Again(procedure, lexicon, ear, _labels(procedure, lexicon, turns, marks))
    found: list[Reheard] = []
    without = 0
    for turn in turns:
        if not isinstance(turn.began, InputReceived) or turn.before is None or turn.began.engine == TYPED:
            continue
        kept = sounds.get(turn.began.sound_sha256 or "")
        samples = None if kept is None else _samples(kept)
        if samples is None:
            without += 1
            continue
        told = again.hear(turn.number, turn.began, turn.before, samples)
        if told is not None:
            found.append(told)
    return tuple(found), without


def _labels(
    procedure: Procedure, lexicon: Lexicon, turns: Sequence[RecordedTurn], marks: tuple[Mark, ...]
) -> Mapping[str, LabelledAnswer]:
    # Words that came in begin their turn, so that their number is the turn's, whatever is missing behind them.
    numbered = [(turn.number + place, event) for turn in turns for place, event in enumerate(turn.caused)]
    events: list[Event] = [event for _, event in numbered]
    labels = labels_of(procedure, events, lexicon, marks, [number for number, _ in numbered])
    # Where reviewers differ nobody knows which is right.
    return {answer.sound_sha256: answer for answer in labels.answers if not answer.differing}


def _samples(flac: bytes) -> np.ndarray | None:
    try:
        samples, rate_hz = soundfile.read(io.BytesIO(flac), dtype="float32")
    except soundfile.SoundFileError:
        return None
    return samples if rate_hz == RATE_HZ and samples.ndim == 1 else None


class _Again:
    """Hears the recordings of one job at the questions they were answers to."""

    def __init__(self, procedure: Procedure, lexicon: Lexicon, ear: Ear, labels: Mapping[str, LabelledAnswer]) -> None:
        self._procedure = procedure
        self._lexicon = lexicon
        self._recogniser = opened(ear)
        self._labels = labels
        self._job: Job | None = None

    def hear(self, number: int, received: InputReceived, before: Session, samples: np.ndarray) -> Reheard | None:
        """Return what is heard now; None where today's procedure does not have the question."""
        job = self._at(before)
        try:
            question = job.question
        except KeyError:
            return None
        length_s = len(samples) / RATE_HZ
        now = heard_for(job, self._recogniser, Utterance(samples, 0.0, length_s))
        then = heard_then(received)
        label = self._labels.get(received.sound_sha256 or "")
        weighed_then, weighed_now = self._weighed(job, then), self._weighed(job, now)
        return Reheard(
            number=number,
            asked=question.asking.value,
            then=_words(then),
            then_outcome=received.outcome,
            now=_words(now),
            now_outcome=_OUTCOMES[type(weighed_now)],
            compared=_compared(then, now, weighed_then, weighed_now),
            right_then=self._right(label, weighed_then),
            right_now=self._right(label, weighed_now),
            length_s=length_s,
            heard_s=now.decode_s,
        )

    def _at(self, session: Session) -> Job:
        if self._job is None:
            self._job = Job(self._procedure, Unrecorded(), session, 0, lambda: session.last_at_s, self._lexicon)
        self._job.session = session
        return self._job

    def _weighed(self, job: Job, heard: Heard) -> Outcome:
        meanings = tuple(understand(a.text, job.question, self._lexicon) for a in heard.alternatives)
        return weigh(heard, meanings, lambda meaning: verdict_key(self._procedure, job.session, meaning))

    def _right(self, label: LabelledAnswer | None, outcome: Outcome) -> str | None:
        if label is None:
            return None
        return result_of(label.expected, outcome, label.question, self._lexicon).value


def _words(heard: Heard) -> str:
    return heard.text or heard.free_text or ""


def _compared(then: Heard, now: Heard, weighed_then: Outcome, weighed_now: Outcome) -> Now:
    if type(weighed_then) is not type(weighed_now):
        return Now.OTHER
    if isinstance(weighed_then, Accepted) and isinstance(weighed_now, Accepted):
        if _words(then) == _words(now):
            return Now.SAME
        same = same_key(weighed_then.meaning) == same_key(weighed_now.meaning)
        return Now.SAME_MEANING if same else Now.OTHER
    return Now.SAME if _words(then) == _words(now) else Now.SAME_MEANING
