"""What was found when something was looked at: yes means that something is wrong, and says what."""

from collections.abc import Sequence

from voicetech.language.answers import said_yes_or_no
from voicetech.language.lexicon import Lexicon, Words
from voicetech.language.meaning import AnswerSaid, Flag, Question
from voicetech.language.phrasing import bare_words, longest, spans, without_leads

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
    if worst.yes and lead is not None and not lead.yes:
        # "No, there is a crack": a no that does not belong to what is found.
        return AnswerSaid(True, worst.finding, worst.flags, confirm=True)
    # What follows a "but" counts: "burnt, but fine" is asked about, "fine but for a crack" is not.
    mixed = (worst.yes and not answers[-1].yes) or (lead is not None and lead.yes is not worst.yes)
    return AnswerSaid(worst.yes, worst.finding, worst.flags, confirm=worst.confirm or mixed or half)


def _found(words: Words, lexicon: Lexicon) -> AnswerSaid | None:
    found = lexicon.findings
    if _all_right(words, lexicon):
        return AnswerSaid(False)
    smells = spans(found.smells, words)
    if smells:
        negated = bool(found.negations.intersection(words))
        return AnswerSaid(
            not negated, " ".join(words[slice(*smells[0])]), frozenset({Flag.SAFETY_CHECK}), confirm=negated
        )
    wrong = spans(found.wrong, words)
    places = _apart(wrong)
    if not places or _remembered(words):
        return None
    standing = [place for place in places if not _denied(words, place, lexicon)]
    named = {word for start, end in wrong for word in words[start:end]}
    plain = {word.removesuffix("'s") for word in words}
    strange = plain - found.small - found.parts - found.negations - named
    if not standing:
        return AnswerSaid(False, confirm=bool(strange) or bool(_HEDGED.intersection(words)))
    # "Green and no strap", "not burnt, just a bit brown": what is denied is something else.
    own = any(found.negations.intersection(words[start:end]) for start, end in standing)
    doubted = not own and bool(found.negations.intersection(words))
    told = words[_after_break(words, standing[0][0]) :] if doubted else words
    finding = " ".join(word for word in told if word not in found.left_out)
    return AnswerSaid(True, finding, confirm=doubted or len(strange) > _STRANGERS)


def _all_right(words: Words, lexicon: Lexicon) -> bool:
    """Return whether the words say that all is well, in one way or in two with an "and" between."""
    right = lexicon.findings.right
    subject = _without_subject(without_leads(words, lexicon), lexicon)
    if any(right.accepts(piece) for piece in (words, bare_words(words, lexicon), subject)):
        return True
    cut = next((at for at, word in enumerate(subject) if word == "and"), 0)
    return bool(cut) and all(_all_right(half, lexicon) for half in (subject[:cut], subject[cut + 1 :]) if half)


_HEDGED = frozenset({"hardly", "barely", "scarcely", "wouldn't"})
"""Words that half deny what they stand before."""
_BREAKS = frozenset({"there", "there's", "wait", "just", "only", "but", "it's"})
"""Words behind which an earlier denial does not reach: "no, there is a crack"."""


def _denied(words: Words, place: tuple[int, int], lexicon: Lexicon) -> bool:
    """Return whether the finding at a place is denied by what stands before it."""
    negations = lexicon.findings.negations | _HEDGED
    if lexicon.findings.negations.intersection(words[slice(*place)]):
        return False
    for at in range(place[0] - 1, -1, -1):
        if words[at] in negations:
            return True
        if words[at] in _BREAKS:
            return False
    return False


def _after_break(words: Words, at: int) -> int:
    """Return where the clause begins that has this place in it, where another stands before it."""
    return next((before + 1 for before in range(at - 1, -1, -1) if words[before] in _BREAKS), 0)


def _remembered(words: Words) -> bool:
    """Return whether it is told of something that was there once."""
    return any(words[at : at + 2] in (("used", "to"), ("had", "been")) for at in range(len(words)))


def _apart(places: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the places without those that begin inside one before them."""
    found: list[tuple[int, int]] = []
    for start, end in places:
        if not found or start >= found[-1][1]:
            found.append((start, end))
    return found


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
        words[start] in ("the", "both", "all", "is", "are", "these", "and", "this", "of", "it's", "she", "she's", "he")
        or words[start] in lexicon.findings.parts
    ):
        start += 1
    return words[start:]
