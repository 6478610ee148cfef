"""From complete written texts and their scores to spoken alternatives with probabilities. Pure arithmetic.

Written spellings of the same spoken words are added up; a text that may stand for several wordings (numerals,
sound-alikes) is shared out among them.
"""

from dataclasses import dataclass
from math import exp, log

from voicetech.hearing.beam import Search
from voicetech.hearing.token_acceptor import Parse, TokenAcceptor
from voicetech.heard import Alternative

TEMPERATURE = 1.2
MISHEARD = 1.0
"""Nats a word costs that is written as one of its mishearings."""
SPELLED = 2.0
"""Nats for each letter in a reading of the text that spells out what another reading takes as a word."""
ENDING = 1.3
"""Weight of the ending's log probability. A text that stops before the sound does is a good beginning with a bad
ending; the model alone weighs that too little against the many ways the rest may be written."""
NEAR = 0.05
"""Share of a many-meaning text that is spread evenly, so that a wording heard in no other form is still named."""
LOST = 4.0
LOST_WIDTH = 0.7
"""Nats that the grammar may cost against free writing before the sound is more likely not an answer."""
POOR = 3.2
POOR_WIDTH = 0.4
"""Nats a word, beyond which even the best wording fits the sound badly: chatter that free writing fits no better."""
FEWEST = -3.0
"""The free text is greedy, so the grammar may beat it; how much it does says nothing."""
# How the constants were fit: on 1,336 utterances of recorded people, test voices and strangers (numbers, digits,
# yes/no/stop/repeat, trade phrases, other speech, noise) decoded with these weights. MISHEARD and ENDING: best
# count of right first alternatives on a coarse grid (0.5, 1, 1.5, 2.5; 1, 1.3, 1.6, 2), flat near the optimum.
# TEMPERATURE: least mean negative log probability of what was said. LOST: between the 97th percentile of answers
# (4) and the first quartile of other speech (4.4). POOR: by eye on chatter.


@dataclass(frozen=True, slots=True)
class Ranked:
    """Alternatives, the likeliest first, and the probability that the sound was an answer at all."""

    alternatives: tuple[Alternative, ...]
    fits: float


def rank(search: Search, acceptor: TokenAcceptor) -> Ranked:
    """Return what the complete texts say as words, with probabilities that sum to at most 1."""
    scores = _wordings(search, acceptor, ENDING)
    if not scores:
        return Ranked((), 0.0)
    top = max(scores.values())
    shares = {words: exp((score - top) / TEMPERATURE) for words, score in scores.items()}
    whole = sum(shares.values())
    ordered = sorted(shares.items(), key=lambda item: (-item[1], item[0]))
    alternatives = tuple(Alternative(" ".join(words), share / whole) for words, share in ordered)
    return Ranked(alternatives, _fits(search, acceptor))


def _wordings(search: Search, acceptor: TokenAcceptor, ending: float) -> dict[tuple[str, ...], float]:
    """Return the log score of each wording."""
    single: list[tuple[Parse, float]] = []
    several: list[tuple[tuple[Parse, ...], float]] = []
    for written in search.written:
        score = written.score + (ending - 1.0) * written.ending
        parses = _cleanest(acceptor.parses(written.text))
        if len(parses) == 1:
            single.append((parses[0], score - MISHEARD * parses[0].misheard))
        elif parses:
            several.append((parses, score))
    mass: dict[tuple[str, ...], float] = {}
    for parse, score in single:
        mass[parse.words] = mass.get(parse.words, 0.0) + exp(score)
    alone = dict(mass)
    for parses, score in several:
        fewest = min(_letters(parse) for parse in parses)
        costs = [exp(-MISHEARD * parse.misheard - SPELLED * (_letters(parse) - fewest)) for parse in parses]
        heard = [alone.get(parse.words, 0.0) for parse in parses]
        known = sum(heard)
        for parse, cost, other in zip(parses, costs, heard, strict=True):
            even = cost / max(1.0, sum(costs))
            share = (1 - NEAR) * cost * other / known + NEAR * even if known else even
            mass[parse.words] = mass.get(parse.words, 0.0) + share * exp(score)
    return {words: log(value) for words, value in mass.items() if value > 0.0}


def _fits(search: Search, acceptor: TokenAcceptor) -> float:
    scores = _wordings(search, acceptor, 1.0)
    best, words = max((score, words) for words, score in scores.items())
    lost = max(search.free_score - best, FEWEST)
    poor = -best / (len(words) + 1)
    return _rise((LOST - lost) / LOST_WIDTH) * _rise((POOR - poor) / POOR_WIDTH)


def _cleanest(parses: tuple[Parse, ...]) -> tuple[Parse, ...]:
    """Keep the readings with the fewest mishearings: "fire" is never "five" where fire may be said."""
    fewest = min((parse.misheard for parse in parses), default=0)
    return tuple(parse for parse in parses if parse.misheard == fewest)


def _letters(parse: Parse) -> int:
    return sum(len(word) == 1 for word in parse.words)


def _rise(x: float) -> float:
    return 1.0 / (1.0 + exp(-max(-60.0, min(60.0, x))))
