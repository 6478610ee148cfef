"""From complete written texts and their scores to spoken alternatives with probabilities. Pure arithmetic.

Written spellings of the same spoken words are added up; a text that may stand for several wordings (sound-
alikes, glued letters) is shared out among them.
"""

import re
from dataclasses import dataclass, replace
from math import exp, log

from voicetech.heard import Alternative
from voicetech.hearing.beam import Search, Written
from voicetech.hearing.figures import in_figures
from voicetech.hearing.token_acceptor import Parse, TokenAcceptor

COOLEST = 0.95
HOTTER = 0.49
"""The temperature of the probabilities: that of sound which fits its words well, and how much it grows with each nat a
word that it fits worse. In noise the model is surer than it is right."""
MISHEARD = 1.0
"""Nats a word costs that is written as one of its mishearings."""
GLUED = 1.2
"""Nats for each letter written without a space before it: "charley" is the word, "c h a r l e y" hardly."""
SPELLED = 2.0
"""Nats for each letter in a reading of the text that spells out what another reading takes as a word."""
IN_FIGURES = 3.0
"""Nats a text costs that is written in figures: the model likes figures more than the sound does."""
ENDING = 1.3
"""Weight of the ending's log probability. A text that stops before the sound does is a good beginning with a bad
ending; the model alone weighs that too little against the many ways the rest may be written."""
LONG_NUMBER = re.compile(r"\d{6}")
"""Figures in a row that are read digit by digit; fewer may be read in pairs. Judgement, no source."""
PLAINEST = 4
"""Readings kept of a text that was written in one form only."""
LOST = 3.2
LOST_A_TOKEN = 0.22
LOST_A_DIGIT = 0.5
LOST_WIDTH = 0.7
"""Nats that the grammar may cost against free writing, and for each token written freely, before the sound is more
likely not an answer: a long answer collects small differences, another word a large one at once. The grammar has words
where the model likes to write digits."""
POOR = 3.2
POOR_WIDTH = 0.4
"""Nats a word, beyond which even the best wording fits the sound badly: chatter that free writing fits no better."""
FEWEST = -3.0
"""The free text is greedy, so the grammar may beat it; how much it does says nothing."""
# How the constants were fit: on 1,336 utterances of recorded people, test voices and strangers (numbers, digits,
# yes/no/stop/repeat, trade phrases, other speech, noise) decoded with these weights. MISHEARD and ENDING: best
# count of right first alternatives on a coarse grid (0.5, 1, 1.5, 2.5; 1, 1.3, 1.6, 2), flat near the optimum.
# IN_FIGURES: of 0, 1, 2, 3, 5 and never, 3 keeps the most numbers right as recorded; in noise at 10 dB 0 is better by
# one number and three serials in fifty.
# COOLEST and HOTTER: the least negative log probability of the right words as recorded, in noise at 20, 10 and 5 dB,
# from afar and through a mask. With the speakers left out in ten parts it is 0.076 as recorded and 0.27 at 10 dB; at
# one temperature of 1.2 for all sound, 0.084 and 0.31. LOST: answers lose 1.2 nats at the 95th percentile and 5 at the
# 99th, other speech (where a detector finds any) 4.4 at its first quartile. POOR: by eye, on chatter.


@dataclass(frozen=True, slots=True)
class Ranked:
    """Alternatives, the likeliest first, and the probability that the sound was an answer at all."""

    alternatives: tuple[Alternative, ...]
    fits: float


def rank(search: Search, acceptor: TokenAcceptor) -> Ranked:
    """Return what the complete texts say as words, with probabilities that sum to at most 1."""
    read = [_Read(written, _likeliest(written.text, acceptor.parses(written.text))) for written in search.written]
    readable = [text for text in read if text.parses]
    if not readable:
        return Ranked((), 0.0)
    scores = _wordings(readable, ENDING)
    plain = _wordings([_Read(text.written, tuple(_unglued(p) for p in text.parses)) for text in readable], 1.0)
    if not scores or not plain:
        return Ranked((), 0.0)
    fit = _fit(search, plain, acceptor)
    temperature = COOLEST * exp(HOTTER * max(fit.poor, 0.0))
    top = max(scores.values())
    shares = {words: exp((score - top) / temperature) for words, score in scores.items()}
    whole = sum(shares.values())
    ordered = sorted(shares.items(), key=lambda item: (-item[1], item[0]))
    alternatives = tuple(Alternative(" ".join(words), share / whole) for words, share in ordered)
    return Ranked(alternatives, fit.probability)


@dataclass(frozen=True, slots=True)
class _Read:
    """A complete written text and the ways to read it."""

    written: Written
    parses: tuple[Parse, ...]

    @property
    def in_figures(self) -> bool:
        return in_figures(self.written.text)


def _wordings(texts: list[_Read], ending: float) -> dict[tuple[str, ...], float]:
    """Return the log score of each wording, from each text's score and readings; `ending` weighs the endings.

    Texts that can be read in one way go first, what is written in figures last: how a number was said is told by the
    texts that write it in words.
    """
    mass: dict[tuple[str, ...], float] = {}
    for turn in (
        [text for text in texts if len(text.parses) == 1 and not text.in_figures],
        [text for text in texts if len(text.parses) > 1 and not text.in_figures],
        [text for text in texts if text.in_figures],
    ):
        known = dict(mass)
        for text in turn:
            cost = IN_FIGURES if text.in_figures else 0.0
            score = exp(text.written.score + (ending - 1.0) * text.written.ending - cost)
            for words, share in _shares(text.parses, known).items():
                mass[words] = mass.get(words, 0.0) + share * score
    return {words: log(value) for words, value in mass.items() if value > 0.0}


def _shares(parses: tuple[Parse, ...], alone: dict[tuple[str, ...], float]) -> dict[tuple[str, ...], float]:
    """Share one text out among its readings: by what each was written as besides, else evenly among the plainest."""
    if len(parses) == 1:
        return {parses[0].words: exp(-_cost(parses[0]))}
    fewest = min(_letters(parse) for parse in parses)
    costs = {p.words: exp(-_cost(p) - SPELLED * (_letters(p) - fewest)) for p in parses}
    heard = {words: cost * alone[words] for words, cost in costs.items() if words in alone}
    whole = sum(heard.values())
    if whole:
        return {words: costs[words] * share / whole for words, share in heard.items()}
    plainest = sorted(costs, key=lambda words: (-costs[words], len(words), words))[:PLAINEST]
    return {words: costs[words] / len(plainest) for words in plainest}


@dataclass(frozen=True, slots=True)
class _Fit:
    """How well the best wording fits the sound: `lost` nats against free writing, beside what answers lose, and `poor`
    nats for each word."""

    lost: float
    poor: float

    @property
    def probability(self) -> float:
        """Return the probability that the sound was an answer."""
        return _rise(-self.lost / LOST_WIDTH) * _rise((POOR - self.poor) / POOR_WIDTH)


def _fit(search: Search, scores: dict[tuple[str, ...], float], acceptor: TokenAcceptor) -> _Fit:
    best, words = max((score, words) for words, score in scores.items())
    better = search.free_score > best
    if better and any(parse.words == words for parse in acceptor.parses(search.free_text)):
        # Free writing says the same in other letters, in figures mostly: the grammar lost nothing.
        best = search.free_score
    digits = sum(character.isdigit() for character in search.free_text)
    bearable = LOST + LOST_A_TOKEN * search.free_tokens + LOST_A_DIGIT * digits
    return _Fit(max(search.free_score - best, FEWEST) - bearable, -best / (len(words) + 1))


def _likeliest(text: str, parses: tuple[Parse, ...]) -> tuple[Parse, ...]:
    """Keep the readings with the fewest mishearings: "fire" is never "five" where fire may be said.

    A long number in figures is read digit by digit: hardly anybody reads a serial number in hundreds.
    """
    fewest = min((parse.misheard for parse in parses), default=0)
    kept = tuple(parse for parse in parses if parse.misheard == fewest)
    if not LONG_NUMBER.search(text):
        return kept
    plainest = min((parse.grouped for parse in kept), default=0)
    return tuple(parse for parse in kept if parse.grouped == plainest)


def _cost(parse: Parse) -> float:
    return MISHEARD * parse.misheard + GLUED * parse.glued


def _unglued(parse: Parse) -> Parse:
    return replace(parse, glued=0)


def _letters(parse: Parse) -> int:
    return sum(len(word) == 1 for word in parse.words)


def _rise(x: float) -> float:
    return 1.0 / (1.0 + exp(-max(-60.0, min(60.0, x))))
