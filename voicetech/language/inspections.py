"""What was found when something was looked at: yes means that something is wrong, and says what."""

from collections.abc import Sequence

from voicetech.language.answers import said_yes_or_no
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import AnswerSaid, Flag, Question
from voicetech.language.phrases import WordAutomaton
from voicetech.language.phrasing import bare_words, longest, without_leads

_STRANGERS = 2
"""Unknown words beside what is wrong that are taken as telling where it is; with more, the finding is asked about."""


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
    parts = [part for part in _split_at_but(rest, lexicon) if part]
    found = [_found(part, lexicon) for part in parts]
    answers = [answer for answer in found if answer is not None]
    half = len(answers) < len(found)
    if not answers or (half and not any(answer.yes for answer in answers)):
        return None
    worst = next((answer for answer in answers if answer.yes), answers[0])
    # What follows a "but" counts: "burnt, but fine" is asked about, "fine but for a crack" is not.
    mixed = (worst.yes and not answers[-1].yes) or (lead is not None and lead.yes is not worst.yes)
    return AnswerSaid(worst.yes, worst.finding, worst.flags, confirm=worst.confirm or mixed or half)


def _found(words: Words, lexicon: Lexicon) -> AnswerSaid | None:
    found = lexicon.findings
    subject = _without_subject(without_leads(words, lexicon), lexicon)
    if any(found.right.accepts(piece) for piece in (words, bare_words(words, lexicon), subject)):
        return AnswerSaid(False)
    smell = _first(found.smells, words)
    if smell is not None:
        negated = bool(found.negations.intersection(words))
        return AnswerSaid(not negated, " ".join(words[slice(*smell)]), frozenset({Flag.SAFETY_CHECK}), confirm=negated)
    place = _first(found.wrong, words)
    if place is None:
        return None
    wrong = words[slice(*place)]
    plain = {word.removesuffix("'s") for word in words}
    strange = plain - found.small - found.parts - set(wrong) - _wrong_words(words, found.wrong)
    own = bool(found.negations.intersection(wrong))
    if not own and found.negations.intersection(words[: place[0]]):
        return AnswerSaid(False, confirm=bool(strange))
    # "Green and no strap": what is denied after it is something else.
    doubted = not own and bool(found.negations.intersection(words[place[1] :]))
    finding = " ".join(word for word in words if word not in found.left_out)
    return AnswerSaid(True, finding, confirm=doubted or len(strange) > _STRANGERS)


def _leading_answer(bare: Words, question: Question, lexicon: Lexicon) -> tuple[AnswerSaid | None, Words]:
    """Return the yes or no that an answer starts with, and what follows it.

    "No" before a noun ("no burn marks") answers nothing by itself.
    """
    if not bare or bare[0] not in lexicon.findings.leading:
        return None, bare
    if bare[0] == "no" and len(bare) > 1 and bare[1] not in lexicon.findings.after_no:
        return None, bare
    return said_yes_or_no(bare[:1], bare[:1], question, lexicon), bare_words(bare[1:], lexicon)


def _split_at_but(words: Words, lexicon: Lexicon) -> list[Words]:
    for at in range(len(words)):
        end = longest(lexicon.findings.contrasts, words, at)
        if end is not None:
            return [words[:at], words[end:]]
    return [words]


def _without_subject(words: Words, lexicon: Lexicon) -> Words:
    """Return the words after "the element" or "both terminals"."""
    start = 0
    while start < len(words) - 1 and (
        words[start] in ("the", "both", "all", "is", "are", "these", "and", "this", "of", "it's")
        or words[start] in lexicon.findings.parts
    ):
        start += 1
    return words[start:]


def _first(phrases: WordAutomaton, words: Words) -> tuple[int, int] | None:
    """Return where the first of the phrases stands, or None."""
    for start in range(len(words)):
        end = longest(phrases, words, start)
        if end is not None:
            return start, end
    return None


def _wrong_words(words: Words, phrases: WordAutomaton) -> set[str]:
    known: set[str] = set()
    for start in range(len(words)):
        end = longest(phrases, words, start)
        if end is not None:
            known.update(words[start:end])
    return known
