"""Yes and no, in every way they are said, and by repeating the question's own word or its opposite."""

from collections.abc import Sequence

from voicetech.language.commands import is_number
from voicetech.language.echoes import takes_up_nothing
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import MEASURED, AnswerSaid, Asking, Flag, Question
from voicetech.language.phrasing import said_once

_MEASURED = MEASURED - {Asking.CONTINUITY}
"""Questions that a yes or no does not answer."""
_MAY_BE_OKAY = frozenset({Asking.YES_NO, Asking.INSPECTION, Asking.COMMAND, Asking.ANY, Asking.CHOICE})


def said_yes_or_no(words: Sequence[str], bare: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no that the whole utterance is, or None."""
    for candidate in dict.fromkeys((tuple(words), bare, said_once(bare))):
        text = " ".join(candidate)
        for yes, sayings in ((True, lexicon.yes), (False, lexicon.no)):
            if sayings.understood.accepts(candidate):
                doubtful = text in lexicon.doubtful_answers or takes_up_nothing(candidate, question, lexicon)
                if text == "k" and question.asking not in _MAY_BE_OKAY:
                    return None
                if question.asking in _MEASURED and not question.after_read_back:
                    doubtful = True
                if question.asking is Asking.INSPECTION:
                    doubtful = yes and not lexicon.findings.leading.intersection(candidate)
                return AnswerSaid(yes, confirm=doubtful)
    return _said_in_two(bare, question, lexicon)


def _said_in_two(words: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no that is said in two ways, one behind the other ("sure does, yeah")."""
    if question.asking not in (Asking.YES_NO, Asking.INSPECTION):
        return None
    for cut in range(1, len(words)):
        for yes, sayings in ((True, lexicon.yes), (False, lexicon.no)):
            halves = (words[:cut], words[cut:])
            denials = [half for half in halves if "not" in half or any(word.endswith("n't") for word in half)]
            if len(denials) < len(halves) and all(sayings.understood.accepts(half) for half in halves):
                doubtful = takes_up_nothing(words, question, lexicon) or any(
                    " ".join(half) in lexicon.doubtful_answers for half in halves
                )
                return AnswerSaid(yes, confirm=doubtful or question.asking is Asking.INSPECTION)
    return None


_IT_IS_NOT = (
    ("it's", "not"),
    ("it", "is", "not"),
    ("it", "isn't"),
    ("she's", "not"),
    ("they're", "not"),
    ("that's", "not"),
)
_LONGEST_DENIED = 3


def denied_answer(words: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the no in "it's not spinning", or None; asked to be confirmed where the question's own word is not in it.

    A question that is a denial itself is not answered so.
    """
    wording = question.wording.lower().strip(" ?.!").split()
    if question.asking is not Asking.YES_NO or lexicon.findings.negations.intersection(wording):
        return None
    start = next((len(phrase) for phrase in _IT_IS_NOT if words[: len(phrase)] == phrase), 0)
    denied = words[start:]
    if not start or not 0 < len(denied) <= _LONGEST_DENIED or any(is_number(word, lexicon) for word in denied):
        return None
    if _NOT_SURE.intersection(denied) or "sure" in denied or lexicon.findings.negations.intersection(denied):
        return None
    return AnswerSaid(
        False, " ".join(words), frozenset({Flag.NEGATED}), confirm=bool(wording) and not set(denied) & set(wording)
    )


def antonym_answer(words: Sequence[str], question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return yes or no where the answer repeats the question's own word or its opposite.

    "Is the power off?" – "power is on" is a no; safety may hang on it, so both are asked to be confirmed.
    """
    wording = question.wording.lower().strip(" ?.!")
    if not wording or question.asking is not Asking.YES_NO or len(words) > 6:
        return None
    asked, said = f" {wording} ", f" {' '.join(words)} "
    if lexicon.findings.negations.intersection(words) or lexicon.findings.negations.intersection(wording.split()):
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


_NOT_SURE = frozenset({"still", "but", "now", "again", "except", "although", "though", "if", "maybe", "or"})
"""Words that may turn what a yes or no before them says."""
_LONGEST_CLAUSE = 10


def led_answer(words: Words, question: Question, lexicon: Lexicon) -> AnswerSaid | None:
    """Return the yes or no that a clause follows ("nah, she's cold", "yes yes it is done"), or None.

    Asked to be confirmed where the clause may speak against it: it says the question's own words the other way, or
    has a word in it that turns what was said.
    """
    start = 0
    while start < len(words) and words[start] in lexicon.findings.leading:
        start += 1
    clause = words[start:]
    if not start or not clause or len(clause) > _LONGEST_CLAUSE or clause[0] not in lexicon.cues.clauses:
        return None
    leads = {lexicon.yes.understood.accepts((word,)) for word in words[:start]}
    if len(leads) > 1 or any(is_number(word, lexicon) for word in clause):
        return None
    yes = leads.pop()
    other = lexicon.no if yes else lexicon.yes
    if any(other.understood.accepts(clause[at:]) for at in range(len(clause))):
        return None
    negated = bool(lexicon.findings.negations.intersection(clause))
    asked = set(question.wording.lower().strip(" ?.!").split()) - lexicon.findings.small
    against = negated if yes else not negated and bool(asked.intersection(clause))
    return AnswerSaid(yes, confirm=against or bool(_NOT_SURE.intersection(clause)))
