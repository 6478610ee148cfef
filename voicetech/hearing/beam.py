"""Beam search in which every partial text is a beginning of something the grammar allows.

One more hypothesis, kept outside the grammar, shares every decoder step: what it reaches is the measure of how
well the grammar fits the sound. Deterministic; nothing here knows probabilities of words beyond the model's.
"""

import re
from dataclasses import dataclass, replace

import numpy as np

from voicetech.hearing.coverage import unexplained
from voicetech.hearing.figures import in_figures
from voicetech.hearing.speech_model import END, FIRST_TEXT_TOKEN, Encoded, Floats, SpeechModel
from voicetech.hearing.token_acceptor import DEAD, START, TokenAcceptor

WIDTH = 6
LONG_S = 4.0
LONG_WIDTH = 10
"""Hypotheses followed at once, and for sounds longer than LONG_S: every doubtful word doubles what must be kept."""
FIGURES_WIDTH = 3
"""Hypotheses followed besides that are written in figures: what they say is heard in words too, and the words tell
how it was said."""
LIKELIEST = 96
"""Tokens tried after each hypothesis."""
SAME_LETTERS = 2
"""Hypotheses kept that differ in punctuation and spacing only."""
UNLIKELY = -12.0
"""Log probability below which a token is not tried at all."""
FALL_BEHIND = 9.0
"""Nats below the best of the same length at which a hypothesis is dropped."""
TOO_LATE = 6.0
"""Nats below the best complete text at which an unfinished one is dropped: it can only sink further."""
TOKENS_PER_S = 7.0
"""Longest free text for its length of sound; fast speech stays below. Measured on read speech."""
_LETTERS = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A partial written text, its log probability, where the acceptor stands, and whether it has figures in it."""

    text: str
    score: float
    state: int
    parent: int
    token: int
    figures: bool


@dataclass(frozen=True, slots=True)
class Written:
    """A complete written text within the grammar: log score in all, and of its ending alone."""

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


def search(model: SpeechModel, encoded: Encoded, acceptor: TokenAcceptor, sound_s: float, voice_s: float) -> Search:
    """Return the complete texts found under the grammar and the free text of the same sound.

    `sound_s` is the length of the sound, `voice_s` how long somebody is heard in it.
    """
    rows, memory = model.begin(encoded)
    beams = [Hypothesis("", 0.0, START, 0, 0, figures=False)]
    free = _NOTHING_YET
    done: list[Written] = []
    width = LONG_WIDTH if sound_s > LONG_S else WIDTH
    for _ in range(_most_tokens(sound_s)):
        if not free.ended:
            free = _follow(free, rows[free.row], model)
        beams = _grow(beams, rows, done, acceptor, model.tokens, voice_s, width)
        if not beams and free.ended:
            break
        parents = [b.parent for b in beams]
        tokens = [b.token for b in beams]
        if not free.ended:
            # Within the grammar the free text is usually one of the hypotheses: then they share a row.
            shared = next((at for at, b in enumerate(beams) if b.text == free.text), None)
            if shared is None:
                parents.append(free.row)
                tokens.append(free.token)
            free = replace(free, row=len(beams) if shared is None else shared)
        rows, memory = model.extend(memory, parents, tokens)
    return Search(tuple(done), free.text.strip(), free.score, free.tokens, free.ended)


def write_freely(model: SpeechModel, encoded: Encoded, sound_s: float) -> str:
    """Return the text of the sound without a grammar; `sound_s` is its length, which limits that of the text."""
    rows, memory = model.begin(encoded)
    free = _follow(_NOTHING_YET, rows[0], model)
    for _ in range(_most_tokens(sound_s)):
        if free.ended:
            break
        rows, memory = model.extend(memory, [0], [free.token])
        free = _follow(free, rows[0], model)
    return free.text.strip()


@dataclass(frozen=True, slots=True)
class _Free:
    text: str
    score: float
    tokens: int
    row: int
    token: int
    ended: bool


_NOTHING_YET = _Free("", 0.0, 0, row=0, token=0, ended=False)


def _most_tokens(sound_s: float) -> int:
    return int(sound_s * TOKENS_PER_S) + 8


def _follow(free: _Free, log_p: Floats, model: SpeechModel) -> _Free:
    token = int(log_p.argmax())
    score = free.score + float(log_p[token])
    if token == END:
        return replace(free, score=score, ended=True)
    return replace(free, text=free.text + model.tokens[token], score=score, tokens=free.tokens + 1, token=token)


def _grow(
    beams: list[Hypothesis],
    rows: Floats,
    done: list[Written],
    acceptor: TokenAcceptor,
    texts: list[str],
    voice_s: float,
    width: int,
) -> list[Hypothesis]:
    grown: list[Hypothesis] = []
    for row, beam in enumerate(beams):
        log_p = rows[row]
        if acceptor.final(beam.state):
            ending = float(log_p[END]) - unexplained(beam.text, voice_s)
            done.append(Written(beam.text, beam.score + ending, ending))
        likely = np.flatnonzero(log_p > UNLIKELY)
        gains = log_p[likely]
        if len(likely) > LIKELIEST:
            kept = np.argpartition(-gains, LIKELIEST)[:LIKELIEST]
            likely, gains = likely[kept], gains[kept]
        for token, gain in zip(likely.tolist(), gains.tolist(), strict=True):
            if token >= FIRST_TEXT_TOKEN:
                state = acceptor.step(beam.state, token)
                if state != DEAD:
                    text = texts[token]
                    figures = beam.figures or in_figures(text)
                    grown.append(Hypothesis(beam.text + text, beam.score + gain, state, row, token, figures))
    best: list[Hypothesis] = []
    for figures, most in ((False, width), (True, FIGURES_WIDTH)):
        finished = max((w.score for w in done if in_figures(w.text) is figures), default=-np.inf)
        best += _best([g for g in grown if g.figures is figures], finished, most)
    return best


def _best(grown: list[Hypothesis], finished: float, width: int) -> list[Hypothesis]:
    grown.sort(key=lambda h: (-h.score, h.text))
    kept: list[Hypothesis] = []
    alike: dict[str, int] = {}
    floor = max(finished - TOO_LATE, grown[0].score - FALL_BEHIND if grown else -np.inf)
    for hypothesis in grown:
        if hypothesis.score < floor or len(kept) == width:
            break
        letters = _LETTERS.sub("", hypothesis.text.lower())
        if alike.get(letters, 0) < SAME_LETTERS:
            alike[letters] = alike.get(letters, 0) + 1
            kept.append(hypothesis)
    return kept
