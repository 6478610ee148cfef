"""Yes and no by the verb of the question: "does broil heat?" – "broil works", "did it trip?" – "breaker never tripped".

The whole answer must be such clauses that agree; one about something that the question does not name is asked to be
confirmed.
"""

import re
from collections.abc import Sequence

from voicetech.language.circumstances import without_circumstance
from voicetech.language.lexicon import Echo, Lexicon, Words
from voicetech.language.meaning import AnswerSaid, Asking, Question
from voicetech.language.phrasing import bare_words, spans

_PRONOUNS = frozenset({
    "it", "it's", "she", "she's", "they", "they're", "that", "that's", "both", "all", "everything", "each",
})  # fmt: skip
_DOES = frozenset({"works", "working", "fired", "started", "runs", "lit"})
_LONGEST_SUBJECT = 5


def echoed_answer(words: Sequence[str], question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no of an answer that takes up what the question asks after, or None."""
    if question.asking is not Asking.YES_NO or not question.wording:
        return None
    asked = _question(question.wording)
    bare = bare_words(words, lexicon)
    for echo in lexicon.cues.echoes:
        if not spans(echo.asked, asked) or echo.not_asked.intersection(asked):
            continue
        whole = _clause(bare, asked, echo, lexicon) or _clause(tuple(words), asked, echo, lexicon)
        found = [whole] if whole else [_clause(clause, asked, echo, lexicon) for clause in _clauses(bare)]
        answers = [answer for answer in found if answer is not None]
        if answers and len(answers) == len(found) and len({answer.yes for answer in answers}) == 1:
            # One of several that does not is no "no" to "does any of them".
            some = not answers[0].yes and "or" in asked
            return AnswerSaid(answers[0].yes, " ".join(words), confirm=some or all(each.confirm for each in answers))
    return None


def takes_up_nothing(words: Words, question: Question, lexicon: Lexicon) -> bool:
    """Return whether an answer has a verb that the question does not ask after ("it works", asked what was burnt)."""
    if question.asking is not Asking.YES_NO or not question.wording or not _DOES.intersection(words):
        return False
    asked = _question(question.wording)
    return not any(spans(echo.asked, asked) and not echo.not_asked.intersection(asked) for echo in lexicon.cues.echoes)


def _question(wording: str) -> Words:
    """Return the words of the sentence that asks; what is said before it may hold the same verbs."""
    sentences = re.split(r"(?<=[.?!])\s+", wording.lower())
    sentence = next((part for part in sentences if part.endswith("?")), wording.lower())
    return tuple(word.strip(".,:;?!") for word in sentence.split())


def _clauses(words: Words) -> list[Words]:
    clauses: list[Words] = []
    start = 0
    for at, word in enumerate(words):
        if word == "and":
            clauses.append(words[start:at])
            start = at + 1
    return [clause for clause in (*clauses, words[start:]) if clause]


def _clause(words: Words, asked: Words, echo: Echo, lexicon: Lexicon) -> AnswerSaid | None:
    for said in dict.fromkeys((words, without_circumstance(words, lexicon))):
        for at in range(min(_LONGEST_SUBJECT, len(said))):
            for yes, phrases in ((False, echo.no), (True, echo.yes)):
                if phrases.accepts(said[at:]) and _names(said[:at], lexicon):
                    return AnswerSaid(yes, confirm=not _asked_about(said[:at], asked))
    return None


def _names(subject: Words, lexicon: Lexicon) -> bool:
    """Return whether words name parts of an appliance or stand for one."""
    known = lexicon.places | lexicon.conducting | lexicon.ordinals | lexicon.findings.parts
    small = _PRONOUNS | lexicon.circumstances.words
    return all(word.removesuffix("'s") in known or word in small for word in subject)


def _asked_about(subject: Words, asked: Words) -> bool:
    nouns = {word.removesuffix("'s") for word in subject} - _PRONOUNS - {"the", "this", "my", "its", "a", "light"}
    return nouns <= set(asked)
