"""The vosk adapter: a model folder by path, the grammar as a list of words with "[unk]".

Downloads nothing and never names a language to vosk, which would. What vosk returns is free recombination of the
words it was given, so only whole sentences of the grammar are handed on.
"""

import importlib
import json
import math
import os
import time
from collections.abc import Iterable, Mapping
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
    except Exception as error:  # noqa: BLE001 - vosk raises bare Exception
        raise RecogniserError(
            f"vosk cannot load the model in {place}; move it to a path of plain letters without spaces, or unpack it again"
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


class VoskRecogniser:
    """One loaded model; a fresh decoder for every utterance, so that nothing carries over."""

    def __init__(self, vosk: Any, model: Any) -> None:
        self._vosk = vosk
        self._model = model

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        """Return the one sentence vosk heard, if the grammar can say it.

        Its probability is the geometric mean of the word confidences. A word outside the list, or a sentence
        outside the grammar, counts as not meant for the program.
        """
        started = time.perf_counter()
        words = sorted(automaton.words() - self.unknown_words(automaton.words()))
        decoder = self._vosk.KaldiRecognizer(self._model, float(RATE_HZ), json.dumps([*words, UNKNOWN]))
        decoder.SetWords(True)
        found = _words(decoder, _pcm(utterance))
        text = " ".join(word for word, _ in found)
        took_s = time.perf_counter() - started
        if not found or not automaton.accepts([word for word, _ in found]):
            return Heard((), ENGINE, for_us=0.0, free_text=text, decode_s=took_s)
        sure = math.exp(sum(math.log(max(confidence, 1e-3)) for _, confidence in found) / len(found))
        return Heard((Alternative(text, min(sure, 1.0)),), ENGINE, for_us=min(sure, 1.0), free_text=text, decode_s=took_s)

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Return the words that the model's dictionary lacks; vosk itself drops them with only a log line."""
        return frozenset(word for word in words if self._model.vosk_model_find_word(word) < 0)


def _words(decoder: Any, pcm: bytes) -> list[tuple[str, float]]:
    """Return words and confidences; vosk hands text out at each of its own endpoints and the rest at the end."""
    found: list[tuple[str, float]] = []
    block = RATE_HZ // 2
    for at in range(0, len(pcm), block):
        if decoder.AcceptWaveform(pcm[at : at + block]):
            found += _result(decoder.Result())
    return found + _result(decoder.FinalResult())


def _result(text: str) -> list[tuple[str, float]]:
    parts = json.loads(text).get("result", [])
    return [(str(part["word"]), float(part.get("conf", 0.0))) for part in parts]


def _pcm(utterance: Utterance) -> bytes:
    return (np.clip(utterance.samples, -1.0, 1.0) * 32767.0).astype("<i2").tobytes()
