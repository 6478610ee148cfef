"""Deciding on verdicts, not on words: what to do with alternatives and their probabilities.

Every alternative is worth what it would come to at the open step. Sure of the value and of the verdict: accept.
Two rivals whose verdicts differ: ask between them. Neither: say again. Not meant for the program: ignore.

The thresholds follow from one stated cost: taking a wrong verdict is as bad as `WRONG_COST` needless questions. A
question is worth asking while the chance of being wrong, times that cost, is more than the question itself.
Danger is the other way round: a false stop costs a minute, a missed one costs a life.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicetech.heard import Heard
from voicetech.language.gist import gist
from voicetech.language.meaning import (
    AnswerSaid,
    ChoiceSaid,
    CommandSaid,
    CorrectionSaid,
    DangerSaid,
    Flag,
    Meaning,
    RangeSaid,
    ReadingSaid,
    SeveralSaid,
    State,
    StateSaid,
    Unclear,
    WordsSaid,
)
from voicetech.language.spelled import characters

WRONG_COST: Final = 8.0
"""Needless questions that one wrong verdict outweighs. Judgement, no source: what is taken is read back, and most slips
are put right there."""
ACCEPT_VERDICT: Final = 1 - 1 / WRONG_COST
"""The verdict has to be at least this sure to be taken (0.875), the doubt that it was an answer at all included."""
ACCEPT_VALUE: Final = 0.75
"""The value itself has to be at least this sure; it is read back, so a slip inside one verdict can be corrected."""
ACCEPT_SPELLED: Final = 0.8
"""Spelled words decide no verdict and are read back for a yes before they are kept: that is the question already.
On people's serial numbers 0.7 takes one right in a hundred more, and in noise twice as many wrong ones."""
RIVAL_AT_LEAST: Final = 0.05
"""A rival below this is not worth a question."""
ASK_AT_LEAST: Final = 0.7
"""The two rivals offered have to hold this much together; below it neither may be right, and it is said again."""
FOR_US_AT_LEAST: Final = 0.5
"""Below this the sound is taken as not meant for the program."""
UNCLEAR_EXPECTED: Final = 0.1
OTHER_UNIT_EXPECTED: Final = 0.05
DOUBTFUL_EXPECTED: Final = 0.5
COMMAND_EXPECTED: Final = 0.05
YES_OR_NO_EXPECTED: Final = 0.05
BEEP_EXPECTED: Final = 0.1
LETTER_EXPECTED: Final = 0.3
"""How often, against a plain answer that sounds alike, people say what cannot be used, give another unit than was
asked, give a value that is asked about, ask for something, say yes or no or tell of a beep when a number is owed, or
spell a letter where another hearing has a digit. Judgement, no source."""
SAID_BEFORE_ODDS: Final = 20.0
"""How much an answer's odds rise with each time that it was said shortly before and not taken: people repeat what was
not heeded. In noise the second of two recordings said the same in 30 of 64 cases where the first was not taken; of 131
pairs of strangers' sounds in a row none did, which with 95 % confidence is less than one in 43."""
DANGER_AT_LEAST: Final = 0.2
"""All danger alternatives together, times the chance that the sound was speech for the program: above this the job
stops."""
DANGER_FOR_US_AT_LEAST: Final = 0.2
"""Danger is listened for in sounds that would not pass as answers."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """Taken, and read back."""

    meaning: Meaning
    text: str
    probability: float


@dataclass(frozen=True, slots=True)
class AskWhich:
    """Two meanings that would come to different verdicts."""

    rivals: tuple[Meaning, Meaning]
    texts: tuple[str, str]


@dataclass(frozen=True, slots=True)
class SayAgain:
    """Meant for the program, but too unsure to use.

    `meaning` is there where the words are sure and only what they mean is not: it says what to ask.
    """

    why: str
    meaning: Unclear | None = None


@dataclass(frozen=True, slots=True)
class Ignored:
    """Not meant for the program."""

    why: str


Outcome = Accepted | AskWhich | SayAgain | Ignored


@dataclass(frozen=True, slots=True)
class _Group:
    """Alternatives that mean the same, with their probability together; `text` is the likeliest of them."""

    meaning: Meaning
    text: str
    probability: float
    verdict: Hashable


def weigh(heard: Heard, meanings: tuple[Meaning, ...], verdict_of: Callable[[Meaning], Hashable]) -> Outcome:
    """Return what to do with what was heard; `meanings` are those of the alternatives, in their order."""
    if len(meanings) != len(heard.alternatives):
        raise ValueError("every alternative needs its meaning")
    danger = _danger(heard, meanings)
    if danger is not None:
        return danger
    if not heard.alternatives or heard.for_us < FOR_US_AT_LEAST:
        return Ignored("not an answer to the open question")
    groups = _groups(heard, meanings, verdict_of)
    best = groups[0]
    sure_of_verdict = sum(group.probability for group in groups if group.verdict == best.verdict)
    if isinstance(best.meaning, Unclear):
        sure = best.probability >= ACCEPT_VALUE
        return SayAgain(best.meaning.ask or "not understood", best.meaning if sure else None)
    enough = ACCEPT_SPELLED if isinstance(best.meaning, WordsSaid) else ACCEPT_VERDICT
    if sure_of_verdict >= enough and best.probability >= min(enough, ACCEPT_VALUE):
        return Accepted(best.meaning, best.text, best.probability)
    rival = next(
        (g for g in groups[1:] if g.verdict != best.verdict or sure_of_verdict >= ACCEPT_VERDICT),
        None,
    )
    if rival is None or rival.probability < RIVAL_AT_LEAST:
        return SayAgain("too unsure")
    if best.probability + rival.probability < ASK_AT_LEAST or not (_askable(best.meaning) and _askable(rival.meaning)):
        return SayAgain("too unsure")
    return AskWhich((best.meaning, rival.meaning), (best.text, rival.text))


def insisted_on(
    heard: Heard,
    meanings: tuple[Meaning, ...],
    verdict_of: Callable[[Meaning], Hashable],
    unheeded: Sequence[Meaning],
) -> Meaning | None:
    """Return what is likely an answer because it was said before, to be read back for a yes; None where nothing is.

    `unheeded` are the likeliest meanings of what was said to the same question and not taken.
    """
    if not heard.alternatives or heard.for_us <= 0.0:
        return None
    best = _groups(heard, meanings, verdict_of)[0]
    times = sum(_same(meaning) == _same(best.meaning) for meaning in unheeded)
    if not times or not isinstance(best.meaning, (ReadingSaid, StateSaid, AnswerSaid, ChoiceSaid)):
        return None
    odds = heard.for_us / max(1.0 - heard.for_us, 1e-9) * SAID_BEFORE_ODDS**times
    likely = odds / (1.0 + odds) * best.probability / heard.for_us
    return replace(best.meaning, confirm=True) if likely >= FOR_US_AT_LEAST else None


def _danger(heard: Heard, meanings: tuple[Meaning, ...]) -> Accepted | None:
    """Return danger words where they are likely enough, the present ones first. A second listening never calms."""
    if heard.for_us < DANGER_FOR_US_AT_LEAST:
        return None
    said = [
        (alternative, meaning)
        for alternative, meaning in zip(heard.alternatives, meanings, strict=True)
        if isinstance(meaning, DangerSaid)
    ]
    together = heard.for_us * max(
        sum(alternative.probability for alternative, _ in said),
        sum(alternative.at_first or 0.0 for alternative, _ in said),
    )
    if together < DANGER_AT_LEAST:
        return None
    alternative, meaning = next(((a, m) for a, m in said if m.present), said[0])
    return Accepted(meaning, alternative.text, together)


def _groups(
    heard: Heard, meanings: tuple[Meaning, ...], verdict_of: Callable[[Meaning], Hashable]
) -> tuple[_Group, ...]:
    """Return what may have been meant, the likeliest first, with what is expected weighed in."""
    found: dict[Hashable, _Group] = {}
    pairs = zip(heard.alternatives, meanings, strict=True)
    likely = [_expected(meaning, meanings) * alternative.probability for alternative, meaning in pairs]
    scale = heard.for_us * sum(a.probability for a in heard.alternatives) / (sum(likely) or 1.0)
    for alternative, meaning, weight in zip(heard.alternatives, meanings, likely, strict=True):
        key = _same(meaning)
        if isinstance(meaning, WordsSaid) and characters(meaning.text) is None:
            key = verdict_of(meaning)
        before = found.get(key)
        if before is None:
            found[key] = _Group(meaning, alternative.text, weight * scale, verdict_of(meaning))
        else:
            together = before.probability + weight * scale
            found[key] = _Group(before.meaning, before.text, together, before.verdict)
    return tuple(sorted(found.values(), key=lambda group: -group.probability))


def _expected(meaning: Meaning, rivals: tuple[Meaning, ...]) -> float:
    """Return how much likelier or less likely than an answer people are to mean this at such a question."""
    match meaning:
        case Unclear():
            return UNCLEAR_EXPECTED
        case ReadingSaid(flags=flags) if Flag.UNIT_MISMATCH in flags:
            return OTHER_UNIT_EXPECTED
        case ReadingSaid(confirm=True):
            return DOUBTFUL_EXPECTED
        case CommandSaid() if _number_owed(rivals):
            return COMMAND_EXPECTED
        case AnswerSaid() if _number_owed(rivals):
            return YES_OR_NO_EXPECTED
        case StateSaid(state=State.BEEP) if _number_owed(rivals):
            return BEEP_EXPECTED
        case WordsSaid(text=text):
            return float(LETTER_EXPECTED ** sum(len(word) == 1 for word in text.split()))
        case _:
            return 1.0


def _number_owed(rivals: tuple[Meaning, ...]) -> bool:
    """Return whether a rival is a reading in the unit asked for, which only a question for a number brings up."""
    return any(isinstance(rival, ReadingSaid) for rival in rivals)


def _same(meaning: Meaning) -> Hashable:
    """Return what two alternatives have in common when they mean the same, flags and rivals apart."""
    match meaning:
        case ReadingSaid() | StateSaid() | CorrectionSaid():
            return gist(meaning)
        case WordsSaid(text=text):
            return "words", characters(text) or text
        case Unclear():
            return "unclear"
        case _:
            return meaning


def _askable(meaning: Meaning) -> bool:
    return not isinstance(meaning, (Unclear, RangeSaid, SeveralSaid, DangerSaid))
