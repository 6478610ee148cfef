"""Beam search in which every partial text is a beginning of something the grammar allows.

One more hypothesis, kept outside the grammar, shares every decoder step: what it reaches is the measure of how
well the grammar fits the sound. Deterministic; nothing here knows probabilities of words beyond the model's.
"""

import re
from dataclasses import dataclass

import numpy as np

from voicetech.hearing.speech_model import END, FIRST_TEXT_TOKEN, Encoded, Floats, Memory, SpeechModel
from voicetech.hearing.token_acceptor import DEAD, START, TokenAcceptor

WIDTH = 6
"""Hypotheses followed at once."""
LIKELIEST = 96
"""Tokens tried after each hypothesis."""
SAME_LETTERS = 2
"""Hypotheses kept that differ in punctuation and spacing only."""
FALL_BEHIND = 12.0
"""Nats below the best at which a hypothesis is dropped."""
TOKENS_PER_S = 7.0
"""Longest free text for its length of sound; fast speech stays below. Measured on read speech."""
_LETTERS = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A partial written text, its log probability, and where the acceptor stands."""

    text: str
    score: float
    state: int
    parent: int
    token: int
    letters: str


@dataclass(frozen=True, slots=True)
class Written:
    """A complete written text within the grammar: log probability in all and of its ending alone."""

    text: str
    score: float
    ending: float


@dataclass(frozen=True, slots=True)
class Search:
    """What one search found: complete texts, and the free text with its log probability and length in tokens."""

    written: tuple[Written, ...]
    free_text: str
    free_score: float
    free_tokens: int
    free_ended: bool


def search(model: SpeechModel, encoded: Encoded, acceptor: TokenAcceptor, sound_s: float) -> Search:
    """Return the complete texts found under the grammar and the free text of the same sound."""
    log_p, memory = model.begin(encoded)
    beams = [Hypothesis("", 0.0, START, 0, 0, "")]
    free = _Free("", 0.0, 0, 0, ended=False)
    longest = int(sound_s * TOKENS_PER_S) + 8
    done: list[Written] = []
    rows = log_p
    free_row: Floats = log_p[0]
    for _ in range(longest):
        if not free.ended:
            free = _follow(free, free_row, model)
        beams = _grow(beams, rows, done, acceptor, model.tokens)
        if not beams and free.ended:
            break
        parents = [b.parent for b in beams]
        tokens = [b.token for b in beams]
        if not free.ended:
            parents.append(free.row)
            tokens.append(free.token)
        log_p, memory = model.extend(memory, parents, tokens)
        rows = log_p[: len(beams)]
        if not free.ended:
            free_row = log_p[len(beams)]
            free = _Free(free.text, free.score, free.tokens, len(beams), ended=False)
    return Search(tuple(done), free.text.strip(), free.score, free.tokens, free.ended)


@dataclass(frozen=True, slots=True)
class _Free:
    text: str
    score: float
    tokens: int
    row: int
    ended: bool
    token: int = 0


def _follow(free: _Free, log_p: Floats, model: SpeechModel) -> _Free:
    token = int(log_p.argmax())
    score = free.score + float(log_p[token])
    if token == END:
        return _Free(free.text, score, free.tokens, 0, ended=True)
    return _Free(free.text + model.tokens[token], score, free.tokens + 1, free.row, ended=False, token=token)


def _grow(
    beams: list[Hypothesis], rows: Floats, done: list[Written], acceptor: TokenAcceptor, texts: list[str]
) -> list[Hypothesis]:
    if not beams:
        return []
    likeliest = np.argpartition(-rows, LIKELIEST, axis=1)[:, :LIKELIEST]
    grown: list[Hypothesis] = []
    for row, beam in enumerate(beams):
        if acceptor.final(beam.state):
            ending = float(rows[row, END])
            done.append(Written(beam.text, beam.score + ending, ending))
        for token, gain in zip(likeliest[row].tolist(), rows[row, likeliest[row]].tolist(), strict=True):
            if token < FIRST_TEXT_TOKEN:
                continue
            state = acceptor.step(beam.state, token)
            if state != DEAD:
                text = beam.text + texts[token]
                grown.append(Hypothesis(text, beam.score + gain, state, row, token, _LETTERS.sub("", text.lower())))
    return _best(grown, max((w.score for w in done), default=-np.inf))


def _best(grown: list[Hypothesis], finished: float) -> list[Hypothesis]:
    grown.sort(key=lambda h: (-h.score, h.text))
    kept: list[Hypothesis] = []
    alike: dict[str, int] = {}
    floor = max(finished, grown[0].score if grown else -np.inf) - FALL_BEHIND
    for hypothesis in grown:
        if hypothesis.score < floor or len(kept) == WIDTH:
            break
        if alike.get(hypothesis.letters, 0) < SAME_LETTERS:
            alike[hypothesis.letters] = alike.get(hypothesis.letters, 0) + 1
            kept.append(hypothesis)
    return kept


__all__ = ["Memory", "Search", "Written", "search"]
