"""The committed recordings, and automata to hear them with."""

import json
from dataclasses import dataclass
from pathlib import Path

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.hearing.constrained import ConstrainedRecogniser
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.meaning import Asking, Question
from voicetech.language.phrases import WordAutomaton

SOUNDS = Path(__file__).resolve().parents[1] / "sounds"
_DIGIT_WORDS = "zero oh one two three four five six seven eight nine"
DIGITS = _DIGIT_WORDS.split()
LEXICON = load_lexicon()
EAR = ConstrainedRecogniser()
"""One for all tests: loading the weights takes longer than hearing."""

_grammars: dict[Asking, WordAutomaton] = {}


@dataclass(frozen=True, slots=True)
class Recording:
    """One line of the manifest."""

    path: Path
    transcript: str
    asking: Asking | None
    after_read_back: bool
    expected: dict[str, object]


def recordings() -> list[Recording]:
    rows = [json.loads(line) for line in (SOUNDS / "manifest.jsonl").read_text(encoding="utf-8").splitlines()]
    return [
        Recording(
            SOUNDS / row["file"],
            row["transcript"],
            Asking(row["asking"]) if "asking" in row else None,
            row.get("after") == "read-back",
            row.get("expected", {}),
        )
        for row in rows
    ]


def grammar(asking: Asking) -> WordAutomaton:
    if asking not in _grammars:
        _grammars[asking] = compile_words(spoken_grammar(Question(asking), LEXICON))
    return _grammars[asking]


def loop(words: list[str]) -> WordAutomaton:
    """Any number of the words, one at least."""
    return WordAutomaton((dict.fromkeys(words, 1), dict.fromkeys(words, 1)), frozenset({1}))


def sentences(*texts: str) -> WordAutomaton:
    """Exactly these sentences."""
    arcs: list[dict[str, int]] = [{}]
    finals = set()
    for text in texts:
        state = 0
        for word in text.split():
            if word not in arcs[state]:
                arcs.append({})
                arcs[state][word] = len(arcs) - 1
            state = arcs[state][word]
        finals.add(state)
    return WordAutomaton(tuple(arcs), frozenset(finals))
