"""Yes, no, and what was found when something was looked at."""

from collections.abc import Sequence

from voicetech.language.danger import longest
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import AnswerSaid, Asking, Flag, Question
from voicetech.language.phrases import WordAutomaton
from voicetech.language.phrasing import bare_words, said_once, without_leads

_NEGATIONS = frozenset(
    "no not isn't aren't ain't don't doesn't didn't can't couldn't without never nothing none nor neither wasn't weren't any".split()
)
_SMALL = frozenset(
    "the a an is are was were it's there's that's they're and or but of on in at to from with some bit little very really "
    "pretty quite all both this that these those here there it they i we you see can found looks look like seems have has got "
    "one few slightly badly completely kind kinda been be where near around up down out off any signs sign visible no not nope "
    "yes yeah yep just only too so my his her its single also inside outside behind under one's left right top bottom end side "
    "either other anything don't isn't aren't doesn't can't ain't obvious something wrong marks mark around".split()
)
_ARTICLES = frozenset("the a an is are it's there's that's they're i see found it there looks yes yeah yep some was we".split())
_NUMBERISH = frozenset({Asking.YES_NO, Asking.INSPECTION, Asking.COMMAND, Asking.ANY, Asking.CHOICE})


def said_yes_or_no(words: Sequence[str], bare: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no that the whole utterance is, or None."""
    for candidate in dict.fromkeys((tuple(words), bare, said_once(bare))):
        text = " ".join(candidate)
        for yes, sayings in ((True, lexicon.yes), (False, lexicon.no)):
            if sayings.understood.accepts(candidate):
                doubtful = text in lexicon.doubtful_answers
                if text == "k" and question.asking not in _NUMBERISH:
                    return None
                if question.asking is Asking.INSPECTION:
                    doubtful = yes and not _LEADING.intersection(candidate)
                return AnswerSaid(yes, confirm=doubtful)
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
                    led = lexicon.no.understood.accepts(tuple(words[:1]))
                    return AnswerSaid(False, " ".join(words), frozenset({Flag.NEGATED}), confirm=not led)
                if f" {this} " in said and f" {that} " not in said:
                    led = lexicon.yes.understood.accepts(tuple(words[:1]))
                    return AnswerSaid(True, " ".join(words), confirm=not led)
    return None


_LEADING = frozenset("yes yeah yep yup yea ya no nope nah naw negative affirmative".split())


def inspection_answer(words: Sequence[str], question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return what was found by looking: yes with the finding, no, or None where it says neither.

    A finding with a word that is not known is asked to be confirmed. A smell of burning sets SAFETY_CHECK.
    """
    bare = bare_words(words, lexicon)
    if lexicon.findings.right.accepts(tuple(words)):
        return AnswerSaid(False)
    lead, rest = _leading_answer(bare, question, lexicon)
    if not rest:
        return lead
    parts = [part for part in _split_at_but(rest) if part]
    found = [_found(part, lexicon) for part in parts]
    if any(answer is None for answer in found):
        return None
    answers = [answer for answer in found if answer is not None]
    worst = next((answer for answer in answers if answer.yes), answers[0])
    mixed = len(answers) > 1 or (lead is not None and lead.yes is not worst.yes)
    return AnswerSaid(worst.yes, worst.finding, worst.flags, confirm=worst.confirm or mixed)


def _found(words: Words, lexicon: Lexicon) -> AnswerSaid | None:
    found = lexicon.findings
    subject = _without_subject(without_leads(words, lexicon), lexicon)
    if any(found.right.accepts(piece) for piece in (words, bare_words(words, lexicon), subject)):
        return AnswerSaid(False)
    negated = bool(_NEGATIONS.intersection(words))
    smell = _first(found.smells, words)
    if smell is not None:
        return AnswerSaid(not negated, " ".join(smell), frozenset({Flag.SAFETY_CHECK}), confirm=negated)
    wrong = _first(found.wrong, words)
    if wrong is None:
        return None
    plain = {word.removesuffix("'s") for word in words}
    strange = plain - _SMALL - found.parts - set(wrong) - _wrong_words(words, found.wrong)
    if negated and not _NEGATIONS.intersection(wrong):
        return AnswerSaid(False, confirm=bool(strange))
    finding = " ".join(word for word in words if word not in _ARTICLES)
    return AnswerSaid(True, finding, confirm=bool(strange))


def _leading_answer(bare: Words, question: Question, lexicon: Lexicon) -> tuple[AnswerSaid | None, Words]:
    """Return the yes or no that an answer starts with, and what follows it.

    "No" before a noun ("no burn marks") answers nothing by itself.
    """
    if not bare or bare[0] not in _LEADING:
        return None, bare
    if bare[0] == "no" and len(bare) > 1 and bare[1] not in _AFTER_A_NO:
        return None, bare
    return said_yes_or_no(bare[:1], bare[:1], question, lexicon), bare_words(bare[1:], lexicon)


_AFTER_A_NO = frozenset("it's it its that's there's everything they they're i all nothing the looks no not fine good".split())


def _split_at_but(words: Words) -> list[Words]:
    if "but" not in words:
        return [words]
    cut = words.index("but")
    return [words[:cut], words[cut + 1 :]]


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
