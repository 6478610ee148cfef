"""A second ear for answers that the first is unsure of: how well each rival fits the sound in another kind of model.

The rivals are aligned with the sound by pocketsphinx and the English model that it carries: a small hidden-Markov
model, far worse than the first ear at finding words, but wrong about other sounds. It decides nothing alone: its
scores shift the first ear's probabilities, by a weight that was fit with the speakers left out.
"""

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from importlib.util import find_spec
from math import exp, log
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from voicetech.authoring.shipped import shipped_folder
from voicetech.heard import Alternative, Heard
from voicetech.hearing.errors import HearingError
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance
from voicetech.hearing.level import listened_to
from voicetech.hearing.recogniser import Recogniser
from voicetech.hearing.word_tables import read_table
from voicetech.language.phrases import WordAutomaton
from voicetech.weigh import FOR_US_AT_LEAST

PACKAGE = "pocketsphinx"
SURE = 0.9
"""Probability of the likeliest words, times that of an answer, from which no second ear is asked."""
RIVAL_AT_LEAST = 0.03
MOST_RIVALS = 5
WEIGHT = 0.015
"""Weight of an alignment's score, in its own unit, against a nat of the first ear."""
FARTHEST = 3.0
"""Nats that it may put between two rivals: it is sure of much that is wrong."""
# How WEIGHT was fit: on 992 utterances of people and test voices as recorded, by the probability of the right words.
# With one speaker left out, the best of eighteen weights is 0.016 for 128 of 130 of them and 0.022 for two. FARTHEST:
# larger ones take more that is wrong in noise at 10 dB.
BEAM = 1e-200
MARGIN_S = 0.2
HUSH = 3e-4
"""Loudness of the noise put around the sound: the model knows no perfect silence."""


class PronunciationsError(HearingError):
    """The table of pronunciations cannot be used; the message names file, place and remedy."""


class SecondEar(Protocol):
    """Scores words against a sound."""

    def scores(self, samples: Samples, texts: Sequence[str]) -> tuple[float | None, ...]:
        """Return a score for each text, the higher the better it fits; None where it cannot be told."""

    def warm_up(self) -> None:
        """Load everything now."""


class TwoEars:
    """A recogniser whose unsure answers are listened to a second time."""

    def __init__(self, first: Recogniser, second: SecondEar) -> None:
        self.first = first
        self._second = second

    @property
    def name(self) -> str:
        """Return the name of the first ear, which finds the words."""
        return self.first.name

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return what the first ear hears, the probabilities of close rivals shifted by the second."""
        heard = self.first.hear(utterance, automaton)
        texts = unsure(heard.alternatives, heard.for_us)
        if not texts:
            return heard
        started = time.perf_counter()
        scores = dict(zip(texts, self._second.scores(listened_to(utterance.samples), texts), strict=True))
        again = reconsidered(heard.alternatives, scores)
        return replace(heard, alternatives=again, decode_s=heard.decode_s + time.perf_counter() - started)

    def write_down(self, utterance: Utterance) -> Heard:
        """Return the words of free speech as the first ear writes them."""
        return self.first.write_down(utterance)

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return those of the words that the first ear can never hear."""
        return self.first.unknown_words(words)

    def warm_up(self) -> None:
        """Load everything now."""
        self.first.warm_up()
        self._second.warm_up()


def with_second_ear(first: Recogniser) -> Recogniser:
    """Return the recogniser with a second ear, or as it is where the second one's package is not installed."""
    return TwoEars(first, Aligner()) if find_spec(PACKAGE) is not None else first


def first_ear(recogniser: Recogniser) -> Recogniser:
    """Return the recogniser without its second ear, for looks into unfinished sound, which must cost little."""
    return recogniser.first if isinstance(recogniser, TwoEars) else recogniser


def unsure(alternatives: Sequence[Alternative], fits: float) -> tuple[str, ...]:
    """Return the texts worth a second listening, the likeliest first; none where the first ear is sure."""
    if fits < FOR_US_AT_LEAST or not alternatives or alternatives[0].probability * fits >= SURE:
        return ()
    rivals = tuple(rival.text for rival in alternatives[:MOST_RIVALS] if rival.probability >= RIVAL_AT_LEAST)
    return rivals if len(rivals) > 1 else ()


def reconsidered(alternatives: tuple[Alternative, ...], scores: Mapping[str, float | None]) -> tuple[Alternative, ...]:
    """Return the alternatives with probabilities shifted by the second ear's scores, the likeliest first.

    What it could not score, or was not asked about, is taken for as good as the worst it scored.
    """
    known = {text: score for text, score in scores.items() if score is not None}
    if len(known) < 2:
        return alternatives
    best, worst = max(known.values()), min(known.values())
    shifted = {
        rival.text: log(max(rival.probability, 1e-12)) + max(WEIGHT * (known.get(rival.text, worst) - best), -FARTHEST)
        for rival in alternatives
    }
    top = max(shifted.values())
    whole = sum(exp(shift - top) for shift in shifted.values())
    total = sum(rival.probability for rival in alternatives)
    again = [
        replace(rival, probability=total * exp(shifted[rival.text] - top) / whole, at_first=rival.probability)
        for rival in alternatives
    ]
    return tuple(sorted(again, key=lambda rival: (-rival.probability, rival.text)))


class Aligner:
    """pocketsphinx, aligning one text at a time; its model is loaded on first use."""

    def __init__(self, pronunciations: Mapping[str, str] | None = None) -> None:
        self._pronunciations = pronunciations

    @cached_property
    def _decoder(self) -> Any:
        from pocketsphinx import Decoder, get_model_path

        model = Path(get_model_path("en-us"))
        # Every senone in every frame, and no pruning: scores of different texts must be comparable. Half the frames
        # and densities cost half and tell as much.
        decoder = Decoder(
            hmm=str(model / "en-us"), dict=str(model / "cmudict-en-us.dict"), lm=None, cmn="batch", loglevel="FATAL",
            fwdflat=False, bestpath=False, compallsen=True, ds=2, topn=2, beam=BEAM, wbeam=BEAM, pbeam=BEAM,
        )  # fmt: skip
        for word, phones in (self._pronunciations or load_pronunciations()).items():
            if decoder.lookup_word(word) is not None:
                continue
            try:
                decoder.add_word(word, phones, True)
            except RuntimeError as error:
                raise PronunciationsError(
                    f"{word!r} cannot be said {phones!r}; use ARPAbet, as in: AE M P S"
                ) from error
        return decoder

    def warm_up(self) -> None:
        """Load the model now."""
        self._decoder.lookup_word("one")

    def scores(self, samples: Samples, texts: Sequence[str]) -> tuple[float | None, ...]:
        """Return a score for each text, the higher the better it fits; None where a word is not in the dictionary."""
        hush = np.random.default_rng(1).normal(0.0, HUSH, int(MARGIN_S * RATE_HZ))
        sound = np.clip(np.concatenate([hush, samples, hush]), -1.0, 1.0)
        pcm = (sound * 32767).astype("<i2").tobytes()
        return tuple(self._score(pcm, text) for text in texts)

    def _score(self, pcm: bytes, text: str) -> float | None:
        decoder = self._decoder
        if any(decoder.lookup_word(word) is None for word in text.split()):
            return None
        decoder.set_align_text(text)
        decoder.reinit_feat()
        decoder.start_utt()
        decoder.process_raw(pcm, full_utt=True)
        decoder.end_utt()
        found = decoder.hyp()
        if found is None or found.hypstr != text or found.score <= 0.0:
            return None
        return log(found.score) * 1024


def load_pronunciations(path: Path | None = None) -> dict[str, str]:
    """Return phones by word from `path`, by default the table shipped. Raises PronunciationsError with the place."""
    place = path or shipped_folder("grammars") / "pronunciations.yaml"
    found = read_table(place, PronunciationsError)
    if not isinstance(found, dict) or not all(isinstance(text, str) for pair in found.items() for text in pair):
        raise PronunciationsError(f"{place}: needs a mapping from each word to its phones, with spaces between them")
    return found
