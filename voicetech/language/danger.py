"""Danger words, looked for first, in every state and in unfinished results too.

A danger phrase is acted on unless something softens it: a negation, the past, somebody's report, a condition. A
softened one becomes a safety question ("is it happening now?"), never silence.
"""

from collections.abc import Mapping, Sequence

from rapidfuzz.distance import DamerauLevenshtein

from voicetech.language.lexicon import DangerWords, Lexicon
from voicetech.language.meaning import Asking, DangerKind, DangerSaid, Question
from voicetech.language.phrasing import is_filler, longest, spans, unframed

_LOOKING_BACK = frozenset({Asking.INSPECTION, Asking.NOTE, Asking.YES_NO, Asking.CHOICE})
"""Questions about what was or is seen: a past tense answers them and is asked about first."""
_SELF_EVIDENT = frozenset({DangerKind.SHOCK, DangerKind.PERSON})
"""Kinds that are told in the past tense while they still matter: "I got shocked"."""
_FURTHEST = 8
SHORTEST_MISSPELT = 5
"""Letters below which a word is not taken for a misspelt danger word."""
LONG = 8


def find_danger(words: Sequence[str], question: Question, lexicon: Lexicon) -> DangerSaid | None:
    """Return the danger in `words`, or None: present, or softened into a question.

    `words` are plain words without punctuation.
    """
    return _find(words, question, lexicon) or _find_misspelt(words, question, lexicon)


def _find(words: Sequence[str], question: Question, lexicon: Lexicon) -> DangerSaid | None:
    danger = lexicon.danger
    bare = _without_fillers(words, lexicon)
    framed = unframed(tuple(words), lexicon)
    for kind, phrases in danger.whole.items():
        for said_alone in (bare, tuple(words), *framed):
            if phrases.accepts(said_alone):
                return DangerSaid(kind, present=True, words=" ".join(said_alone))
    masked = spans(danger.harmless, [word.removesuffix("'s") for word in words])
    softened: DangerSaid | None = None
    for start in range(len(words)):
        for kind, phrases in danger.anywhere.items():
            if words[start] not in phrases.arcs[0]:
                continue
            end = longest(phrases, words, start)
            if end is None or _covered(masked, start, end):
                continue
            said = DangerSaid(
                kind, not _softened(kind, start, end, words, question, danger), " ".join(words[start:end])
            )
            if said.present:
                return said
            softened = softened or said
    return softened


def _find_misspelt(words: Sequence[str], question: Question, lexicon: Lexicon) -> DangerSaid | None:
    """Return the danger in words typed in haste ("smoek"); words that are known for something else stay as they are."""
    mended = [word if word in lexicon.known else _mended(word, lexicon.danger.alone) for word in words]
    return None if mended == list(words) else _find(mended, question, lexicon)


def _mended(word: str, alarming: tuple[str, ...]) -> str:
    """Return the danger word that `word` is one slip away from, itself where there is none.

    A slip leaves a letter out, adds or swaps one. Another letter instead is a slip in a long word only: it makes other
    words of short ones ("spoke").
    """
    if len(word) < SHORTEST_MISSPELT:
        return word
    slips = (
        known
        for known in alarming
        if known[0] == word[0]
        and (len(known) != len(word) or len(word) >= LONG or sorted(known) == sorted(word))
        and DamerauLevenshtein.distance(word, known, score_cutoff=1) == 1
    )
    return next(slips, word)


def _without_fillers(words: Sequence[str], lexicon: Lexicon) -> tuple[str, ...]:
    return tuple(word for word in words if not is_filler(word, lexicon))


def _covered(masked: list[tuple[int, int]], start: int, end: int) -> bool:
    """Return whether a harmless name takes part of the phrase and is as long."""
    return any(a < end and start < b and b - a >= end - start for a, b in masked)


def asked_about(words: Sequence[str], danger: DangerWords) -> DangerSaid | None:
    """Return what is no danger phrase but wants a look: an alarm that sounds, a tripped breaker, "help me"."""
    for phrases in (danger.alarms, danger.doubtful):
        for start, end in spans(phrases, words):
            text = words[start:end]
            return DangerSaid(_kind_of(text), present=False, words=" ".join(text))
    return None


_FIRE_ALARMS = frozenset({"smoke", "fire", "alarm", "smell", "smells", "smelled", "smelling", "stinks"})


def _kind_of(words: Sequence[str]) -> DangerKind:
    """Return what an alarm or an event that wants a look may be: a breaker that trips stops the work, and no more."""
    if "help" in words:
        return DangerKind.PERSON
    if "gas" in words or "carbon" in words:
        return DangerKind.GAS
    return DangerKind.FIRE if _FIRE_ALARMS.intersection(words) else DangerKind.STOP


def told_of_the_past(words: Sequence[str], question: Question, lexicon: Lexicon) -> str:
    """Return the "yes" or "no" that softened danger words are to a question about the past, or "".

    "She felt a tingle last week", "nobody ever got shocked": an answer, once it is not happening now.
    """
    asked = set(question.wording.lower().replace(",", " ").replace("?", " ").split())
    if question.asking is not Asking.YES_NO or not {"before", "ever"} & asked or _happening(words):
        return ""
    soft = lexicon.danger.softeners
    if _conditional(words, soft):
        return ""
    return "no" if soft["negations"].intersection(words) else "yes"


def _happening(words: Sequence[str]) -> bool:
    """Return whether something is said to be so now or still; "not now" is not."""
    return "still" in words or any(
        word == "now" and (not at or words[at - 1] != "not") for at, word in enumerate(words)
    )


def _in_the_past(words: Sequence[str], soft: Mapping[str, frozenset[str]]) -> bool:
    """Return whether a word tells of the past; "at once" does not."""
    return any(
        word in soft["past"] and not (word == "once" and at and words[at - 1] in ("at", "all"))
        for at, word in enumerate(words)
    )


def _softened(
    kind: DangerKind, start: int, end: int, words: Sequence[str], question: Question, danger: DangerWords
) -> bool:
    soft = danger.softeners
    phrase, before = words[start:end], words[:start]
    if not soft["negations"].intersection(phrase) and _negated(before, soft):
        return True
    if _conditional(before, soft):
        return True
    if _happening(words):
        return False
    if _in_the_past(words, soft) or _reported(before, phrase, soft):
        return True
    if kind in _SELF_EVIDENT or "just" in before[-3:]:
        return False
    if soft["was"].intersection(before[-3:]):
        return True
    return question.asking in _LOOKING_BACK and bool(soft["past_verbs"].intersection(phrase))


def _negated(before: Sequence[str], soft: Mapping[str, frozenset[str]]) -> bool:
    for carried, word in enumerate(reversed(before[-_FURTHEST:])):
        if word in soft["negations"]:
            at = len(before) - carried - 1
            if word == "no" and at > 0 and before[at - 1] == "oh":
                return False
            return word != "no" or carried == 0 or soft["no_carriers"].issuperset(before[len(before) - carried :])
        if word not in soft["carriers"] and word not in soft["no_carriers"]:
            return False
    return False


def _conditional(before: Sequence[str], soft: Mapping[str, frozenset[str]]) -> bool:
    if soft["conditions"].intersection(before):
        return not {"as", "like"}.intersection(before)
    return bool(before) and before[0] in soft["asking"]


def _reported(before: Sequence[str], phrase: Sequence[str], soft: Mapping[str, frozenset[str]]) -> bool:
    return bool(soft["reported"].intersection(before)) and bool(
        soft["said"].intersection(before) or soft["said"].intersection(phrase)
    )
