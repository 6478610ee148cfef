"""The default recogniser: the speech model writing under the grammar's control."""

import re
import time
from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property
from math import sqrt

import numpy as np

from voicetech.heard import Alternative, Heard
from voicetech.hearing.beam import Search, search, write_freely
from voicetech.hearing.coverage import heard_s
from voicetech.hearing.detector import SileroDetector, SpeechDetector, speech_in
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance
from voicetech.hearing.level import listened_to, with_margins
from voicetech.hearing.ranking import Ranked, rank
from voicetech.hearing.speech_model import BEGIN, SpeechModel
from voicetech.hearing.spellings import Spellings, load_spellings, plain
from voicetech.hearing.token_acceptor import TokenAcceptor
from voicetech.hearing.weights import Weights, find_weights
from voicetech.language.phrases import WordAutomaton

ENGINE = "constrained"
SHORTEST_S = 0.1
NO_SPEECH = 0.35
"""Probability of speech below which the sound is not decoded. People's answers as recorded and with noise at 10 dB
stay above 0.8 in all but one in a hundred; recordings of rooms and machines below 0.35 but for chatter."""
ACCEPTORS = 12
"""Grammars kept ready."""
DOUBTED = 0.9
"""Probability that the sound was an answer below which it is heard once more: what an answer needs to be taken."""
MOVED = 192
"""Samples by which it is moved then, half of the model's step: some words fit well or badly by nothing but where the
steps fall on them, from 0.6 to 0.99 on one sound. Both looks count alike, or chatter would get two chances."""
KEPT = 24
"""Alternatives handed out."""

_LEAST = 1e-9
_WRITABLE = re.compile(r"[a-z]+( [a-z]+)*")


class ConstrainedRecogniser:
    """Grammar-constrained beam search; everything is loaded on first use."""

    def __init__(
        self,
        weights: Weights | None = None,
        spellings: Spellings | None = None,
        detector: SpeechDetector | None = None,
    ) -> None:
        self._weights = weights
        self._given_spellings = spellings
        self._given_detector = detector
        self._acceptors: list[tuple[WordAutomaton, TokenAcceptor]] = []

    @cached_property
    def _model(self) -> SpeechModel:
        return SpeechModel(self._weights or find_weights())

    @cached_property
    def _spellings(self) -> Spellings:
        return self._given_spellings or load_spellings()

    @cached_property
    def _detector(self) -> SpeechDetector:
        return self._given_detector or SileroDetector()

    @property
    def name(self) -> str:
        """Return the name it is recorded under."""
        return ENGINE

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return what the sound says within the grammar.

        `decode_s` counts from the end of the sound to the answer. Nothing is heard in silence, in noise, in less
        than 0.1 s; sound beyond 20 s is left out.
        """
        started = time.perf_counter()
        samples = self._ready(utterance)
        if samples is None:
            return Heard((), ENGINE, for_us=0.0, free_text="", decode_s=time.perf_counter() - started)
        acceptor = self._acceptor(automaton)
        found, ranked = self._look(samples, acceptor)
        if ranked.fits < DOUBTED:
            found, ranked = _better((found, ranked), self._look(samples[MOVED:], acceptor))
        return Heard(
            ranked.alternatives[:KEPT],
            ENGINE,
            for_us=ranked.fits,
            free_text=found.free_text,
            decode_s=time.perf_counter() - started,
        )

    def _look(self, samples: Samples, acceptor: TokenAcceptor) -> tuple[Search, Ranked]:
        found = search(self._model, self._model.encode(samples), acceptor, len(samples) / RATE_HZ, heard_s(samples))
        return found, rank(found, acceptor)

    def write_down(self, utterance: Utterance) -> Heard:
        """Return the words as the model writes them without a grammar, up to 20 s of them."""
        started = time.perf_counter()
        samples = self._ready(utterance)
        if samples is None:
            return Heard((), ENGINE, for_us=0.0, free_text="", decode_s=time.perf_counter() - started)
        text = write_freely(self._model, self._model.encode(samples), len(samples) / RATE_HZ)
        return Heard(
            (Alternative(text, 1.0),) if text else (),
            ENGINE,
            for_us=1.0 if text else 0.0,
            free_text=text,
            decode_s=time.perf_counter() - started,
        )

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return the words that cannot be written with the model's letters (digits and signs are not words)."""
        return frozenset(word for word in words if not _WRITABLE.fullmatch(plain(word)))

    def warm_up(self) -> None:
        """Load everything now, so that the first answer does not wait."""
        _, memory = self._model.begin(self._model.encode(np.zeros(RATE_HZ, np.float32)))
        self._model.extend(memory, [0], [BEGIN])
        self._detector.reset()

    def _ready(self, utterance: Utterance) -> Samples | None:
        """Return the sound as the model likes it, or None where nobody speaks in it."""
        samples = listened_to(utterance.samples)
        spoken = speech_in(samples, self._detector) if len(samples) >= SHORTEST_S * RATE_HZ else 0.0
        return None if spoken < NO_SPEECH else with_margins(samples)

    def _acceptor(self, automaton: WordAutomaton) -> TokenAcceptor:
        for known, acceptor in self._acceptors:
            if known is automaton:
                return acceptor
        acceptor = TokenAcceptor(automaton, self._spellings, self._model.tokens)
        self._acceptors = [*self._acceptors[1 - ACCEPTORS :], (automaton, acceptor)]
        return acceptor


def _better(one: tuple[Search, Ranked], other: tuple[Search, Ranked]) -> tuple[Search, Ranked]:
    """Return the look that fits the sound better, with the odds between those of both."""
    found, ranked = max(one, other, key=lambda look: look[1].fits)
    odds = [max(look[1].fits, _LEAST) / max(1.0 - look[1].fits, _LEAST) for look in (one, other)]
    between = sqrt(odds[0] * odds[1])
    return found, replace(ranked, fits=between / (1.0 + between))
