"""Words as they are looked for: without case, accents and signs, so that every store of them finds the same.

Nothing here can fail on what somebody types: signs are no part of a word, and there is no syntax.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from voicetech.summary.records import Line, Who

LONGEST: Final = 60
"""Characters of a word that are looked at; longer words are cut (judgement, no source)."""
AROUND: Final = 48
"""Characters that are shown on each side of the first word found (judgement, no source)."""

_WORD: Final = re.compile(r"[^\W_]+(?:['\N{RIGHT SINGLE QUOTATION MARK}][^\W_]+)*")


@dataclass(frozen=True, slots=True)
class Found:
    """Where words were found: the line, shortened around the first of them, and which parts of `text` are words found.

    `spans` are pairs of the first character of a word and the one behind it.
    """

    who: Who
    event: int
    at_s: float | None
    text: str
    spans: tuple[tuple[int, int], ...]


def words_in(text: str) -> Iterator[str]:
    """Yield the words of a text in order, folded: "Prüfung's" is "prufungs", "12.5" is "12" and "5"."""
    return (word for word, _, _ in _placed(_composed(text)) if word)


def wanted(text: str) -> tuple[str, ...]:
    """Return the words somebody looks for, each once; the last of them may go on."""
    *others, last = [*words_in(text)] or [""]
    return tuple(dict.fromkeys([*(word for word in others if word != last), last])) if last else ()


def found_in(lines: Sequence[Line], words: Sequence[str]) -> Found | None:
    """Return where most of these words stand together, the earliest of such places; None where none of them stands."""
    best: tuple[int, Found] | None = None
    for line in lines:
        if line.text.isascii() and not any(word in _plain(line.text) for word in words):
            continue
        text = _composed(line.text)
        spans = [(word, first, end) for word, first, end in _placed(text) if _is_one_of(word, words)]
        hits = len({word for word, _, _ in spans})
        if spans and (best is None or hits > best[0]):
            best = hits, _shortened(line, text, [(first, end) for _, first, end in spans])
    return None if best is None else best[1]


def _plain(text: str) -> str:
    # Most lines need no more folding than this, and most hold none of the words.
    return text.lower().replace("'", "")


def _is_one_of(word: str, words: Sequence[str]) -> bool:
    return word in words or word.startswith(words[-1])


def _composed(text: str) -> str:
    # A letter with its accent as one sign, so that an accent does not end a word.
    return unicodedata.normalize("NFC", text)


def _placed(text: str) -> Iterator[tuple[str, int, int]]:
    return ((_folded(match[0]), match.start(), match.end()) for match in _WORD.finditer(text))


def _folded(word: str) -> str:
    if word.isascii():
        return _plain(word)[:LONGEST]
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", word).casefold())
    return "".join(sign for sign in apart if sign.isalnum())[:LONGEST]


def _shortened(line: Line, text: str, spans: Sequence[tuple[int, int]]) -> Found:
    first = max(0, spans[0][0] - AROUND)
    end = min(len(text), spans[0][1] + AROUND)
    # Not in the middle of a word.
    first = 0 if not first else text.find(" ", first, spans[0][0]) + 1 or first
    end = len(text) if end == len(text) else max(text.rfind(" ", spans[0][1], end), spans[0][1])
    before, behind = ("… " if first else ""), (" …" if end < len(text) else "")
    moved = len(before) - first
    kept = tuple((one + moved, other + moved) for one, other in spans if first <= one and other <= end)
    return Found(line.who, line.event, line.at_s, f"{before}{text[first:end]}{behind}", kept)
