"""As much of the vosk package as the adapter uses, with its habits: JSON texts, results at its own endpoints."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

Spoken = tuple[str, float]


def final(*words: Spoken, start_s: float = 0.0) -> dict[str, Any]:
    """Return a result with word confidences, half a second a word."""
    if not words:
        return {"text": ""}
    parts = [
        {"word": word, "conf": confidence, "start": start_s + at * 0.5, "end": start_s + at * 0.5 + 0.4}
        for at, (word, confidence) in enumerate(words)
    ]
    return {"text": " ".join(word for word, _ in words), "result": parts}


@dataclass
class Vosk:
    """The package. `endpoints` are handed out by Result one by one, `last` by FinalResult."""

    vocabulary: frozenset[str]
    endpoints: Sequence[dict[str, Any]] = ()
    last: dict[str, Any] = field(default_factory=final)
    free: dict[str, Any] = field(default_factory=final)
    alternatives: Mapping[str, float] = field(default_factory=dict)
    fails: bool = False
    log_level: int | None = None
    folder: str = ""
    grammars: list[list[str] | None] = field(default_factory=list)
    rates_hz: list[float] = field(default_factory=list)
    pcm: bytes = b""

    def SetLogLevel(self, level: int) -> None:  # noqa: N802 - the package's own name
        self.log_level = level

    def Model(self, *, model_path: str) -> "LoadedModel":  # noqa: N802
        if self.fails:
            raise Exception("Failed to create a model")
        self.folder = model_path
        return LoadedModel(self.vocabulary)

    def KaldiRecognizer(self, _model: "LoadedModel", rate_hz: float, grammar: str | None = None) -> "Decoder":  # noqa: N802
        self.rates_hz.append(rate_hz)
        self.grammars.append(None if grammar is None else json.loads(grammar))
        return Decoder(self, free=grammar is None)


@dataclass
class LoadedModel:
    vocabulary: frozenset[str]

    def vosk_model_find_word(self, word: str) -> int:
        return 7 if word in self.vocabulary else -1


class Decoder:
    def __init__(self, vosk: Vosk, *, free: bool) -> None:
        self._vosk = vosk
        self._free = free
        self._left = [] if free else list(vosk.endpoints)
        self._words = False
        self._rivals = 0
        self._pcm = b""

    def SetWords(self, words: bool) -> None:  # noqa: N802
        self._words = words

    def SetMaxAlternatives(self, most: int) -> None:  # noqa: N802
        self._rivals = most

    def AcceptWaveform(self, pcm: bytes) -> int:  # noqa: N802
        self._pcm += pcm
        return int(bool(self._left) and not self._rivals)

    def Result(self) -> str:  # noqa: N802
        return json.dumps(self._left.pop(0))

    def FinalResult(self) -> str:  # noqa: N802
        self._vosk.pcm = self._pcm
        if self._rivals:
            texts = list(self._vosk.alternatives.items())[: self._rivals]
            return json.dumps({"alternatives": [{"text": text, "confidence": score} for text, score in texts]})
        assert self._words, "without it vosk gives no confidences"
        return json.dumps(self._vosk.free if self._free else self._vosk.last)
