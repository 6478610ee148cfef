"""Yes, no, and what was found when something was looked at."""

from collections.abc import Sequence

from voicetech.language.danger import longest
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import AnswerSaid, Asking, Flag, Question
from voicetech.language.phrases import WordAutomaton
from voicetech.language.phrasing import bare_words, without_leads

_NEGATIONS = frozenset(
    "no not isn't aren't ain't don't doesn't didn't can't couldn't without never nothing none nor neither wasn't weren't any".split()
)
_SMALL = frozenset(
    "the a an is are was were it's there's that's they're and or but of on in at to from with some bit little very really "
    "pretty quite all both this that these those here there it they i we you see can found looks look like seems have has got "
    "one few slightly badly completely kind kinda been be where near around up down out off any signs sign visible no not nope "
    "yes yeah yep just only too so my his her its single also inside outside behind under one's left right top bottom end side "
    "either other anything don't isn't aren't doesn't can't ain't obvious".split()
)
_ARTICLES = frozenset("the a an is are it's there's that's they're i see found it there looks yes yeah yep some was we".split())
_NUMBERISH = frozenset({Asking.YES_NO, Asking.INSPECTION, Asking.COMMAND, Asking.ANY, Asking.CHOICE})


def said_yes_or_no(words: Sequence[str], bare: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no that the whole utterance is, or None."""
    for candidate in dict.fromkeys((tuple(words), bare)):
        text = " ".join(candidate)
        for yes, sayings in ((True, lexicon.yes), (False, lexicon.no)):
            if sayings.understood.accepts(candidate):
                doubtful = text in lexicon.doubtful_answers
                if text == "k" and question.asking not in _NUMBERISH:
                    return None
                return AnswerSaid(yes, confirm=doubtful and question.asking is not Asking.INSPECTION)
    return None


def antonym_answer(words: Sequence[str], question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return yes or no where the answer repeats the question's own word or its opposite.

    "Is the power off?" – "power is on" is a no; safety may hang on it, so both are asked to be confirmed.
    """
    wording = question.wording.lower().strip(" ?.!")
    if not wording or question.asking is not Asking.YES_NO or len(words) > 6:
        return None
    asked, said = f" {wording} ", f" {' '.join(words)} "
    if _NEGATIONS.intersection(words) or _NEGATIONS.intersection(wording.split()):
        return None
    for one, other in lexicon.cues.opposites:
        for this, that in ((one, other), (other, one)):
            if f" {this} " in asked and f" {that} " not in asked:
                if f" {that} " in said and f" {this} " not in said:
                    return AnswerSaid(False, " ".join(words), frozenset({Flag.NEGATED}), confirm=True)
                if f" {this} " in said and f" {that} " not in said:
                    return AnswerSaid(True, " ".join(words), confirm=True)
    return None


def inspection_answer(words: Sequence[str], question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return what was found by looking: yes with the finding, no, or None where it says neither.

    A finding with a word that is not known is asked to be confirmed. A smell of burning sets SAFETY_CHECK.
    """
    found = lexicon.findings
    bare = bare_words(words, lexicon)
    rest = _after_answer(bare, lexicon)
    lead = None if len(rest) == len(bare) else said_yes_or_no(bare[: len(bare) - len(rest)], bare[: len(bare) - len(rest)], question, lexicon)
    if not rest:
        return lead
    subject = _without_subject(without_leads(rest, lexicon), lexicon)
    if any(found.right.accepts(piece) for piece in (rest, subject)):
        return AnswerSaid(False, confirm=lead is not None and lead.yes)
    smell = _first(found.smells, rest)
    if smell is not None:
        negated = bool(_NEGATIONS.intersection(rest))
        return AnswerSaid(not negated, " ".join(smell), frozenset({Flag.SAFETY_CHECK}), confirm=negated)
    wrong = _first(found.wrong, rest)
    if wrong is None:
        return None
    known = _SMALL | found.parts | set(wrong) | _wrong_words(rest, found.wrong)
    strange = [word for word in rest if word not in known]
    inside = bool(_NEGATIONS.intersection(wrong))
    negated = not inside and bool(_NEGATIONS.intersection(rest))
    mixed = "but" in rest or (lead is not None and lead.yes is negated)
    finding = " ".join(word for word in rest if word not in _ARTICLES)
    if negated:
        return AnswerSaid(False, confirm=bool(strange) or mixed)
    return AnswerSaid(True, finding, confirm=bool(strange) or mixed)


def _after_answer(bare: Words, lexicon: Lexicon) -> Words:
    """Return what follows a leading yes or no."""
    for length in (2, 1):
        if len(bare) >= length:
            head = bare[:length]
            if any(s.understood.accepts(head) for s in (lexicon.yes, lexicon.no)) and not _subject_next(bare, length):
                return bare_words(bare[length:], lexicon)
    return bare


def _subject_next(bare: Words, length: int) -> bool:
    """Return whether "no" belongs to the noun after it ("no burn marks") and answers nothing by itself."""
    return bare[:length] == ("no",) and len(bare) > 1 and bare[1] not in ("it's", "it", "there's", "everything", "they", "i", "all", "nothing", "the", "looks")


def _without_subject(words: Words, lexicon: Lexicon) -> Words:
    """Return the words after "the element" or "both terminals"."""
    start = 0
    while start < len(words) - 1 and (words[start] in ("the", "both", "all", "is", "are", "these", "and", "this", "of", "it's") or words[start] in lexicon.findings.parts):
        start += 1
    return words[start:]


def _first(phrases: WordAutomaton, words: Words) -> Words | None:
    for start in range(len(words)):
        end = longest(phrases, words, start)
        if end is not None:
            return words[start:end]
    return None


def _wrong_words(words: Words, phrases: WordAutomaton) -> set[str]:
    known: set[str] = set()
    for start in range(len(words)):
        end = longest(phrases, words, start)
        if end is not None:
            known.update(words[start:end])
    return known
