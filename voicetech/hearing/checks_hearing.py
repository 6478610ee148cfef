"""What a recogniser can hear of a procedure: words it knows, and answers that sound different."""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import combinations
from typing import Final

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from voicetech.authoring.checking import Breach, Check, every_step
from voicetech.authoring.checks_phrases import lexicon
from voicetech.authoring.checks_wording import said, spoken_phrases
from voicetech.authoring.findings import Keys
from voicetech.authoring.naming import nearest
from voicetech.hearing.phones import Phones, Pronunciations, apart
from voicetech.language.lexicon import Lexicon
from voicetech.language.number_words import DIGITS
from voicetech.language.phrases import Phrase
from voicetech.language.templates import sentences
from voicetech.procedure import Ask, Hold, Procedure

Sounds = dict[str, Phones]
"""Texts, each with how it sounds."""
ALIKE: Final = 0.6
"""Two answers this near are mixed up in noise: they differ by one phone that is near, or that is easily lost.

Chosen so that "on" and "off" are told apart, and "bake" and "make", "coil" and "foil", "fifteen" and "fifty" are not.
"""
IN_TWO_PLACES: Final = 0.5
"""As near as that where two phones differ."""
THE_SAME: Final = 0.2
"""An answer this near to a command is heard as the command. What is further off is weighed by what is asked."""
_MOST_EDITS: Final = 2
_NEARLY_IT: Final = 85.0
_WRITABLE: Final = re.compile(r"[a-z']+")


def hearing_checks(known: Pronunciations) -> tuple[Check, ...]:
    """Return the checks of what can be heard, by these pronunciations."""

    def unheard(procedure: Procedure) -> Iterator[Breach]:
        """Every word of a phrase is one that the recogniser can write and a dictionary knows."""
        yield from _unheard(procedure, known)

    always = cache(lambda: _always(lexicon(), known))

    def alike(procedure: Procedure) -> Iterator[Breach]:
        """Answers to one question sound different, from each other and from what is always listened for."""
        yield from _alike(procedure, known, always())

    return unheard, alike


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.lower().replace("-", " ").replace("’", "'").split())


def _unheard(procedure: Procedure, known: Pronunciations) -> Iterator[Breach]:
    for phrases in _groups(procedure):
        of = {keys: said(phrase) for keys, phrase in phrases}
        for keys, sentences_ in of.items():
            beside = {sentence for other, theirs in of.items() if other != keys for sentence in theirs}
            unknown: dict[str, str] = {}
            for sentence in sentences_:
                for word in _words(sentence):
                    heard = _WRITABLE.fullmatch(word) is not None and known.of_word(word) is not None
                    if not heard and not _in_words(sentence) & beside:
                        unknown.setdefault(word, sentence)
            for word, sentence in unknown.items():
                yield Breach(keys, _cannot_hear(word, sentence, known), "unheard")


def _groups(procedure: Procedure) -> Iterable[list[tuple[Keys, str]]]:
    """Return the phrases that mean the same together, each with the keys that lead to it."""
    found: dict[Keys, list[tuple[Keys, str]]] = {}
    for keys, phrase in spoken_phrases(procedure):
        found.setdefault(keys[:-1], []).append((keys, phrase))
    for keys, _section, step in every_step(procedure):
        if isinstance(step, Hold):
            found[*keys, "until"] = [((*keys, "until", at), words) for at, words in enumerate(step.until)]
    return found.values()


def _in_words(sentence: str) -> set[str]:
    """Return the sentence with its digits in words, which is heard where the one with digits is typed."""
    told = re.sub(r"\d", lambda digit: f" {DIGITS[int(digit[0])]} ", sentence)
    return set() if told == sentence else {" ".join(told.split())}


def _cannot_hear(word: str, sentence: str, known: Pronunciations) -> str:
    if not _WRITABLE.fullmatch(word):
        told = " ".join(_in_words(sentence)) or "words"
        return f"{word!r} is only typed, no recogniser writes it; say it in words too, as in {told!r}"
    guess = nearest(word, (each for each in known.words if each[:1] == word[:1]), _NEARLY_IT)
    do = f"did you mean {guess}?" if guess else "say it in other words"
    return f"{word!r} is in no pronouncing dictionary, so it is badly heard; {do}"


def _alike(procedure: Procedure, known: Pronunciations, always: Sequence[tuple[Sounds, float]]) -> Iterator[Breach]:
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Ask):
            continue
        answers = [((*keys, "choices", choice.key), _sounding(_of(choice.hear), known)) for choice in step.choices]
        yield from _between(answers)
        for place, mine in answers:
            for theirs, most in always:
                for one, other in _near(mine, theirs, most):
                    message = f"{one!r} sounds too much like {other!r}, which is listened for at every question; {_DO}"
                    yield Breach(_at(place, step, one), message, "sounds-alike")
                    break
    tests = [(("sections", section.id, "call"), _sounding(_of(section.call), known)) for section in procedure.sections]
    yield from _between(tests)


_DO: Final = "take words that differ more"


def _between(answers: Sequence[tuple[Keys, Sounds]]) -> Iterator[Breach]:
    for (keys, mine), (others, theirs) in combinations(answers, 2):
        for one, other in _near(mine, theirs):
            name = others[-1] if keys[-1] != "call" else others[1]
            message = f"{one!r} sounds too much like {other!r}, which means {name}; {_DO}"
            yield Breach(keys, message, "sounds-alike")
            break


def _at(place: Keys, step: Ask, sentence: str) -> Keys:
    hear = next(choice.hear for choice in step.choices if choice.key == place[-1])
    return (*place, next((at for at, phrase in enumerate(hear) if sentence in said(phrase)), 0))


def _of(phrases: Iterable[str]) -> Iterator[str]:
    for phrase in phrases:
        yield from said(phrase)


def _always(words: Lexicon, known: Pronunciations) -> tuple[tuple[Sounds, float], ...]:
    """Return what may be said at every question, with how near an answer may come to it."""
    danger = _said_by((words.danger.spoken,))
    others = _said_by((words.commands_spoken, words.yes.spoken, words.no.spoken))
    return (_sounding(danger, known), ALIKE), (_sounding(others, known), THE_SAME)


def _said_by(phrases: Iterable[Phrase | None]) -> Iterator[str]:
    for phrase in phrases:
        if phrase is not None:
            yield from (" ".join(words) for words in sentences(phrase) if words)


def _sounding(texts: Iterable[str], known: Pronunciations) -> Sounds:
    found: Sounds = {}
    for text in texts:
        phones = known.of_text(_words(text))
        if phones:
            found[text] = phones
    return found


def _near(mine: Sounds, theirs: Sounds, most: float = ALIKE) -> Iterator[tuple[str, str]]:
    """Return pairs of different sentences, one of each, no further than `most` apart; the nearest first."""
    if not mine or not theirs:
        return
    own, other = list(mine), list(theirs)
    edits = process.cdist(
        list(mine.values()), list(theirs.values()), scorer=Levenshtein.distance, score_cutoff=_MOST_EDITS
    )
    found: list[tuple[float, str, str]] = []
    for at, its in np.argwhere(edits <= _MOST_EDITS).tolist():
        far = apart(mine[own[at]], theirs[other[its]], 1.0) if own[at] != other[its] else 1.0
        if far <= min(most, ALIKE if edits[at, its] <= 1 else IN_TWO_PLACES):
            found.append((far, own[at], other[its]))
    yield from ((one, its_like) for _far, one, its_like in sorted(found))
