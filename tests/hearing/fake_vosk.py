"""As much of the vosk package as the adapter uses, with its habits: JSON texts, text only where it is asked for."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Spoken = tuple[str, float]


def final(*words: Spoken) -> dict[str, Any]:
    """Return a result with word confidences, half a second a word."""
    if not words:
        return {"text": ""}
    parts = [
        {"word": word, "conf": confidence, "start": at * 0.5, "end": at * 0.5 + 0.4}
        for at, (word, confidence) in enumerate(words)
    ]
    return {"text": " ".join(word for word, _ in words), "result": parts}


@dataclass
class Vosk:
    """The package. `alternatives` and their scores are handed out where rivals are asked for, else `last`.

    Without `alternatives` the text of `last` is the only one.
    """

    vocabulary: frozenset[str]
    last: dict[str, Any] = field(default_factory=final)
    free: dict[str, Any] = field(default_factory=final)
    alternatives: Mapping[str, float] = field(default_factory=dict)
    fails: bool = False
    no_decoder: bool = False
    log_level: int | None = None
    folder: str = ""
    grammars: list[list[str] | None] = field(default_factory=list)
    rates_hz: list[float] = field(default_factory=list)
    blocks: list[bytes] = field(default_factory=list)

    def SetLogLevel(self, level: int) -> None:  # noqa: N802 - the package's own name
        self.log_level = level

    def Model(self, *, model_path: str) -> "LoadedModel":  # noqa: N802
        if self.fails:
            raise Exception("Failed to create a model")
        self.folder = model_path
        return LoadedModel(self.vocabulary)

    def KaldiRecognizer(self, _model: "LoadedModel", rate_hz: float, grammar: str | None = None) -> "Decoder":  # noqa: N802
        if self.no_decoder:
            raise Exception("Failed to create a recognizer")
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
        self._said = vosk.free if free else vosk.last
        self._words = False
        self._rivals = 0
        self._blocks: list[bytes] = []

    def SetWords(self, words: bool) -> None:  # noqa: N802
        self._words = words

    def SetMaxAlternatives(self, most: int) -> None:  # noqa: N802
        self._rivals = most

    def AcceptWaveform(self, pcm: bytes) -> int:  # noqa: N802
        self._blocks.append(pcm)
        # An endpoint of its own at every block: Result would end the sentence here.
        return 1

    def PartialResult(self) -> str:  # noqa: N802
        words = str(self._said["text"]).split()
        return json.dumps({"partial": " ".join(words[: len(self._blocks)])})

    def FinalResult(self) -> str:  # noqa: N802
        self._vosk.blocks = self._blocks
        if self._rivals:
            scored = self._vosk.alternatives or {str(self._said.get("text", "")): 100.0}
            texts = list(scored.items())[: self._rivals]
            return json.dumps({"alternatives": [{"text": text, "confidence": score} for text, score in texts]})
        assert self._words, "without it vosk gives no confidences"
        return json.dumps(self._said)
