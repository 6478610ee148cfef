"""The vosk adapter: a model folder by path, the grammar as a list of words with "[unk]".

Downloads nothing and never names a language to vosk, which would. What vosk returns is free recombination of the
words it was given, so only whole sentences of the grammar are handed on.
"""

import importlib
import json
import math
import os
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from voicetech.heard import Alternative, Heard
from voicetech.hearing.errors import RecogniserError
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.language.phrases import WordAutomaton

ENGINE = "vosk"
FOLDER_VARIABLE = "VOICETECH_VOSK_MODEL"
UNKNOWN = "[unk]"
NEEDED = ("am/final.mdl", "conf/model.conf")
DYNAMIC_GRAPH = ("graph/Gr.fst", "graph/HCLr.fst")
"""Without these a model takes no grammar at run time, and vosk may end the whole process."""
RIVALS = 5
"""Sentences asked for when rivals are wanted."""
_BLOCK_BYTES = RATE_HZ // 2
_TAIL_S = 0.3
_HOW = f"Unpack a vosk model and name its folder with --model or in {FOLDER_VARIABLE}."


def open_vosk(folder: Path | None = None, environment: Mapping[str, str] | None = None) -> "VoskRecogniser":
    """Return the recogniser with the model in `folder`, else in VOICETECH_VOSK_MODEL.

    Raises RecogniserError where the folder is not given, lacks files, takes no grammar or cannot be loaded, and
    where the vosk package is not installed.
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
    vosk.SetLogLevel(-1)
    try:
        model = vosk.Model(model_path=str(place))
    except Exception as error:
        # vosk raises nothing narrower.
        raise RecogniserError(
            f"vosk cannot load the model in {place}; move it to a path of plain letters without spaces, or unpack it "
            "again"
        ) from error
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
    """One word vosk heard: its confidence (0 to 1) and when it was said, in seconds."""

    text: str
    confidence: float
    start_s: float
    end_s: float


class VoskRecogniser:
    """One loaded model; a fresh decoder for every utterance, so that nothing carries over."""

    def __init__(self, vosk: Any, model: Any) -> None:
        self._vosk = vosk
        self._model = model

    @property
    def name(self) -> str:
        """Return the name it is recorded under."""
        return ENGINE

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return the sentences vosk heard that the grammar can say.

        The first one's probability is the product of its words' confidences; the sentences it competed with share
        the rest. A word outside the list counts against the sound being an answer at all. `free_text` is what vosk
        heard, "[unk]" included.
        """
        started = time.perf_counter()
        words = sorted(automaton.words() - self.unknown_words(automaton.words()))
        grammar = json.dumps([*words, UNKNOWN], ensure_ascii=False)
        pcm = _pcm(utterance)
        found = self._words(pcm, grammar)
        sentence = tuple(word.text for word in found)
        for_us = _for_us(found)
        if not automaton.accepts(sentence):
            return Heard((), ENGINE, 0.0, " ".join(sentence), time.perf_counter() - started)
        sure = math.prod(word.confidence for word in found)
        alternatives = [Alternative(" ".join(sentence), sure)]
        if sure < 1.0:
            others = self._others(pcm, grammar, automaton, sentence)
            # None of them beat the sentence that won.
            alternatives += [Alternative(text, min(share * (1.0 - sure), sure)) for text, share in others]
        return Heard(tuple(alternatives), ENGINE, for_us, " ".join(sentence), time.perf_counter() - started)

    def write_down(self, utterance: Utterance) -> Heard:
        """Return the words of free speech, as the model's own vocabulary has them."""
        started = time.perf_counter()
        found = self._words(_pcm(utterance), None)
        text = " ".join(word.text for word in found if word.text != UNKNOWN)
        alternatives = (Alternative(text, 1.0),) if text else ()
        return Heard(alternatives, ENGINE, 1.0 if text else 0.0, text, time.perf_counter() - started)

    def warm_up(self) -> None:
        """Return at once: the model was loaded when it was opened."""

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return the words that the model's dictionary lacks; vosk itself drops them with only a log line."""
        return frozenset(word for word in words if self._model.vosk_model_find_word(word) < 0)

    def _words(self, pcm: bytes, grammar: str | None) -> tuple[VoskWord, ...]:
        decoder = self._decoder(grammar)
        decoder.SetWords(True)
        found: dict[tuple[float, float], VoskWord] = {}
        for result in _results(decoder, pcm):
            for part in result.get("result", ()):
                word = VoskWord(
                    str(part["word"]),
                    min(max(float(part.get("conf", 0.0)), 0.0), 1.0),
                    float(part["start"]),
                    float(part["end"]),
                )
                # The same final result may be handed out twice: what was said at one time was said once.
                found.setdefault((word.start_s, word.end_s), word)
        return tuple(found[key] for key in sorted(found))

    def _others(
        self, pcm: bytes, grammar: str, automaton: WordAutomaton, sentence: tuple[str, ...]
    ) -> list[tuple[str, float]]:
        """Return the sayable sentences that competed with `sentence`, with shares of 1.

        A second decoder, because vosk gives word confidences or alternatives, never both.
        """
        decoder = self._decoder(grammar)
        decoder.SetMaxAlternatives(RIVALS)
        results = [result for result in _results(decoder, pcm) if result.get("alternatives")]
        if len(results) != 1:
            return []
        scores: dict[tuple[str, ...], float] = {}
        for alternative in results[0]["alternatives"]:
            words = tuple(str(alternative.get("text", "")).split())
            if words != sentence and automaton.accepts(words):
                scores.setdefault(words, float(alternative.get("confidence", 0.0)))
        top = max(scores.values(), default=0.0)
        shares = {words: math.exp(score - top) for words, score in scores.items()}
        whole = sum(shares.values())
        return [(" ".join(words), share / whole) for words, share in shares.items()]

    def _decoder(self, grammar: str | None) -> Any:
        if grammar is None:
            return self._vosk.KaldiRecognizer(self._model, float(RATE_HZ))
        return self._vosk.KaldiRecognizer(self._model, float(RATE_HZ), grammar)


def _for_us(found: Sequence[VoskWord]) -> float:
    """Return the mean confidence of the words, "[unk]" counting as none."""
    if not found:
        return 0.0
    return sum(word.confidence for word in found if word.text != UNKNOWN) / len(found)


def _results(decoder: Any, pcm: bytes) -> list[dict[str, Any]]:
    """Return every result: vosk hands text out at each of its own endpoints, and only the rest at the end."""
    blocks = (pcm[at : at + _BLOCK_BYTES] for at in range(0, len(pcm), _BLOCK_BYTES))
    ended = [decoder.Result() for block in blocks if decoder.AcceptWaveform(block)]
    return [json.loads(text) for text in (*ended, decoder.FinalResult())]


def _pcm(utterance: Utterance) -> bytes:
    """Return 16-bit little-endian samples, with the silence after them that lets the last word end."""
    samples = np.concatenate([np.nan_to_num(utterance.samples), np.zeros(int(_TAIL_S * RATE_HZ), np.float32)])
    pcm: bytes = (np.clip(samples, -1.0, 1.0) * 32_767.0).astype("<i2").tobytes()
    return pcm
