"""The vosk adapter: a model folder by path, the grammar as a list of words with the model's mark for unknown ones.

Downloads nothing and never names a language to vosk, which would. What vosk returns is free recombination of the
words it was given, so only whole sentences of the grammar are handed on.
"""

import ctypes
import importlib
import json
import math
import os
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from voicetech.heard import Alternative, Heard
from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.frames import RATE_HZ, Samples, Utterance
from voicetech.hearing.vosk_trial import fault_in
from voicetech.language.phrases import WordAutomaton

ENGINE = "vosk"
FOLDER_VARIABLE = "VOICETECH_VOSK_MODEL"
"""The folder of a vosk model, for `--ear vosk`; none comes with the program."""
UNKNOWN_MARKS = ("[unk]", "<unk>", "<UNK>", "[UNK]")
"""How models write a word that they do not know; most write the first."""
NEEDED = ("am/final.mdl", "conf/model.conf")
DYNAMIC_GRAPH = ("graph/Gr.fst", "graph/HCLr.fst")
"""Without these a model takes no grammar at run time, and vosk may end the whole process."""
RIVALS = 20
"""Sentences asked for beside the winner. With 20, the lattices of short answers were empty. Source: tried."""
BLOCK_SAMPLES = RATE_HZ // 4
"""What vosk is given at a time, so that frames of any length come to the same answer."""
SILENCE_S = 0.3
"""Silence before and after the sound: without it the first and the last word suffer. Source: tried."""
_HOW = f"Unpack a vosk model and name its folder with --model or in {FOLDER_VARIABLE}."

Sentence = tuple[str, ...]


def open_vosk(
    folder: Path | None = None,
    environment: Mapping[str, str] | None = None,
    fault: Callable[[Path], str | None] = fault_in,
) -> "VoskRecogniser":
    """Return the recogniser with the model in `folder`, else in VOICETECH_VOSK_MODEL.

    `fault` tries the model first and returns what is wrong with it. Raises RecogniserError where the folder is not
    given, lacks files, takes no grammar or cannot be loaded, and where the vosk package is not installed.
    """
    variables = os.environ if environment is None else environment
    named = folder or (Path(variables[FOLDER_VARIABLE]) if variables.get(FOLDER_VARIABLE) else None)
    if named is None:
        raise RecogniserError(f"vosk brings no model. {_HOW}")
    place = _checked(named.expanduser().absolute())
    try:
        vosk = importlib.import_module("vosk")
    except ImportError as error:
        raise RecogniserError(
            "The vosk package is not installed. Install it with: pip install 'voicetech[vosk]'"
        ) from error
    found = fault(place)
    if found is not None:
        raise RecogniserError(f"vosk cannot use the model in {place}; unpack it again. vosk says: {found}")
    vosk.SetLogLevel(-1)
    try:
        model = vosk.Model(model_path=str(place))
    except Exception as error:
        # vosk raises nothing narrower.
        raise RecogniserError(f"vosk cannot load the model in {place}; unpack it again.") from error
    return VoskRecogniser(vosk, model)


def _checked(place: Path) -> Path:
    if not place.is_dir():
        raise RecogniserError(f"The vosk model's folder {place} does not exist. {_HOW}")
    missing = [name for name in NEEDED if not (place / name).is_file()]
    if missing:
        raise RecogniserError(f"{place} is not a vosk model: {', '.join(missing)} is missing. {_HOW}")
    if not all((place / name).is_file() for name in DYNAMIC_GRAPH):
        raise RecogniserError(
            f"The vosk model in {place} takes no grammar ({' and '.join(DYNAMIC_GRAPH)} are missing). "
            "Use one with a dynamic graph; the small models have it."
        )
    return place


@dataclass(frozen=True, slots=True)
class VoskWord:
    """One word vosk heard, with its confidence (0 to 1)."""

    text: str
    confidence: float


class VoskRecogniser:
    """One loaded model; fresh decoders for every utterance, so that nothing carries over."""

    def __init__(self, vosk: Any, model: Any) -> None:
        self._vosk = vosk
        self._model = model
        self._unknown_marks = [mark for mark in UNKNOWN_MARKS if self._knows(mark)]

    @property
    def name(self) -> str:
        """Return the name it is recorded under."""
        return ENGINE

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return the sentences vosk heard that the grammar can say, with their share of all it heard.

        Where the words of the winner are less sure than its share, all shares are lowered. `for_us` is the mean
        confidence of the winner's words, or, where the grammar cannot say the winner, what the others share.
        `free_text` is what vosk heard, "[unk]" included.
        """
        stream = self.stream(automaton)
        stream.take(utterance.samples)
        return stream.finish()

    def stream(self, automaton: WordAutomaton) -> "VoskStream":
        """Return a stream that takes an utterance as it comes and hears it as `hear` does."""
        words = sorted(automaton.words() - self.unknown_words(automaton.words()))
        if not words:
            return VoskStream(automaton, ())
        grammar = json.dumps([*words, *self._unknown_marks], ensure_ascii=False)
        # vosk gives word confidences or alternatives, never both.
        return VoskStream(automaton, (self._decoder(grammar), self._decoder(grammar, RIVALS)))

    def write_down(self, utterance: Utterance) -> Heard:
        """Return the words of free speech, as the model's own vocabulary has them."""
        started = time.perf_counter()
        decoder = _Decoder(self._decoder(None))
        decoder.take(utterance.samples)
        text = " ".join(word.text for word in _words(decoder.finish()) if word.text not in UNKNOWN_MARKS)
        alternatives = (Alternative(text, 1.0),) if text else ()
        return Heard(alternatives, ENGINE, 1.0 if text else 0.0, text, time.perf_counter() - started)

    def warm_up(self) -> None:
        """Return at once: the model was loaded when it was opened."""

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return the words that the model's dictionary lacks; vosk itself drops them with only a log line."""
        return frozenset(word for word in words if not self._knows(word))

    def _knows(self, word: str) -> bool:
        known: bool = self._model.vosk_model_find_word(word) >= 0
        return known

    def _decoder(self, grammar: str | None, rivals: int = 0) -> Any:
        settings = () if grammar is None else (grammar,)
        try:
            decoder = self._vosk.KaldiRecognizer(self._model, float(RATE_HZ), *settings)
        except Exception as error:
            # vosk raises nothing narrower.
            raise RecogniserError(f"vosk made no decoder from its model ({error}); unpack the model again.") from error
        if rivals:
            decoder.SetMaxAlternatives(rivals)
        else:
            decoder.SetWords(True)
        return decoder


class VoskStream:
    """One utterance as it comes."""

    def __init__(self, automaton: WordAutomaton, decoders: Sequence[Any]) -> None:
        self._automaton = automaton
        self._decoders = [_Decoder(decoder) for decoder in decoders]
        self._spent_s = 0.0

    def take(self, samples: Samples) -> None:
        """Take the next samples: float32, mono, 16 kHz, any number of them."""
        started = time.perf_counter()
        for decoder in self._decoders:
            decoder.take(samples)
        self._spent_s += time.perf_counter() - started

    @property
    def so_far(self) -> str:
        """Return the words as they stand, at most a quarter of a second behind; later sound may change them."""
        return self._decoders[0].so_far() if self._decoders else ""

    def finish(self) -> Heard:
        """Return what was heard in all of it; nothing can be taken after that."""
        if not self._decoders:
            return Heard((), ENGINE, 0.0, "", self._spent_s)
        started = time.perf_counter()
        best, several = (decoder.finish() for decoder in self._decoders)
        found = _words(best)
        shares, for_us = _judged(found, _shares(several), self._automaton)
        ranked = sorted(shares.items(), key=lambda item: (-item[1], item[0]))
        alternatives = tuple(Alternative(" ".join(words), share) for words, share in ranked)
        spent_s = self._spent_s + time.perf_counter() - started
        return Heard(alternatives, ENGINE, for_us, " ".join(word.text for word in found), spent_s)


def _judged(
    found: Sequence[VoskWord], shares: Mapping[Sentence, float], automaton: WordAutomaton
) -> tuple[dict[Sentence, float], float]:
    """Return the sayable sentences with their probabilities, and the probability that it was an answer."""
    winner = tuple(word.text for word in found)
    sayable = {words: share for words, share in shares.items() if words and automaton.accepts(words)}
    if not winner or not automaton.accepts(winner):
        return sayable, sum(sayable.values())
    sure = math.prod(word.confidence for word in found)
    doubt = min(1.0, sure / sayable[winner]) if winner in sayable else 1.0
    for_us = sum(word.confidence for word in found) / len(found)
    return {words: share * doubt for words, share in sayable.items()}, for_us


def _words(result: Mapping[str, Any]) -> tuple[VoskWord, ...]:
    return tuple(
        VoskWord(str(part["word"]), min(max(float(part.get("conf", 0.0)), 0.0), 1.0))
        for part in result.get("result", ())
    )


def _shares(result: Mapping[str, Any]) -> dict[Sentence, float]:
    """Return each alternative's share of them all; vosk's "confidence" is a log-likelihood, not a probability."""
    scores: dict[Sentence, float] = {}
    for alternative in result.get("alternatives", ()):
        words = tuple(str(alternative.get("text", "")).split())
        score = float(alternative.get("confidence", 0.0))
        scores[words] = max(score, scores.get(words, score))
    top = max(scores.values(), default=0.0)
    weights = {words: math.exp(score - top) for words, score in scores.items()}
    whole = sum(weights.values())
    return {words: weight / whole for words, weight in weights.items()}


class _Decoder:
    """One decoder of vosk, fed in blocks of one length.

    Its own endpoints are ignored: it hands out text at them only when it is asked, and unasked it goes on.
    """

    def __init__(self, decoder: Any) -> None:
        self._decoder = decoder
        self._rest = _silence()

    def take(self, samples: Samples) -> None:
        waiting = np.concatenate([self._rest, np.nan_to_num(samples)])
        whole = len(waiting) // BLOCK_SAMPLES * BLOCK_SAMPLES
        for at in range(0, whole, BLOCK_SAMPLES):
            self._accept(waiting[at : at + BLOCK_SAMPLES])
        self._rest = waiting[whole:]

    def so_far(self) -> str:
        return str(json.loads(self._decoder.PartialResult()).get("partial", ""))

    def finish(self) -> dict[str, Any]:
        """Return the one result."""
        self.take(_silence())
        self._accept(self._rest)
        result: dict[str, Any] = json.loads(self._decoder.FinalResult())
        return result

    def _accept(self, samples: Samples) -> None:
        _fix_chance()
        pcm: bytes = (np.clip(samples, -1.0, 1.0) * 32_767.0).astype("<i2").tobytes()
        self._decoder.AcceptWaveform(pcm)


def _silence() -> Samples:
    return np.zeros(int(SILENCE_S * RATE_HZ), np.float32)


def _fix_chance() -> None:
    """Start the C library's random numbers afresh: vosk adds a little noise from them to every block of sound.

    Left alone, the same sound comes back with other confidences, and now and then with another word. Source: tried.
    """
    ctypes.CDLL("msvcrt" if sys.platform == "win32" else None).srand(1)
