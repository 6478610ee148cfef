"""Sentences drawn from a phrase tree, for tests and for listening to what a grammar allows."""

import random
from typing import assert_never

from voicetech.language.phrases import Choice, Maybe, Phrase, Repeat, Rule, Sequence, Word


def sample(phrase: Phrase, rng: random.Random) -> tuple[str, ...]:
    """Return one sentence of `phrase`, its words in order; the draw comes from `rng` alone."""
    match phrase:
        case Word(text):
            return (text,)
        case Rule(_, part):
            return sample(part, rng)
        case Maybe(part):
            return sample(part, rng) if rng.random() < 0.5 else ()
        case Choice(options):
            return sample(rng.choice(options), rng)
        case Sequence(parts):
            return tuple(word for part in parts for word in sample(part, rng))
        case Repeat(part, least, most):
            times = rng.randint(least, most)
            return tuple(word for _ in range(times) for word in sample(part, rng))
        case _:
            assert_never(phrase)
