"""What follows from a result: causes shown or ruled out, repeats, danger, hand-over, and the next step."""

from collections.abc import Iterable, Mapping
from typing import Final

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import END, MORE_TESTS, end_proof, enter, go_on
from voicetech.events import (
    CausesExcluded,
    CauseShown,
    DangerStopped,
    HandedOver,
    ReadingTaken,
    Remarked,
    SupplyClassified,
)
from voicetech.judge import InThree
from voicetech.procedure import Measure, Outcome, Phase
from voicetech.session import Cursor

NOTHING: Final = Outcome()
"""What follows where a procedure says nothing: the step below."""

_STANDS_FOR: Final = {"marginal": "within", "unusable": "within"}


def outcome_of(outcomes: Mapping[str, Outcome], key: str) -> Outcome:
    """Return what the procedure says of a result; "other" stands for keys it does not name."""
    for name in (key, _STANDS_FOR.get(key, ""), "other", "any"):
        if name in outcomes:
            return outcomes[name]
    return NOTHING


def in_three(outcome: Outcome, phase: Phase) -> InThree:
    """Return what an answer counts as: one that shows something fails, one that rules something out passes.

    One that does neither proves nothing either way and is marginal, except where what was mended is seen to work.
    """
    if outcome.cause or outcome.suspects or outcome.hand_over or outcome.danger or outcome.next == MORE_TESTS:
        return InThree.FAIL
    return InThree.PASS if outcome.excludes or phase in (Phase.PUT_BACK, Phase.RETEST) else InThree.MARGINAL


def follow(draft: Draft, outcome: Outcome) -> None:
    """Do what an outcome says and go on from there."""
    if outcome.say:
        draft.add(Remarked(outcome.say))
    if outcome.danger is not None:
        end_proof(draft, "danger")
        draft.add(DangerStopped(outcome.danger, "answered at a question", draft.at_s))
        return
    if outcome.repeat and draft.cursor.attempt == 1:
        enter(draft, Cursor(draft.cursor.section, draft.cursor.step, 0, 2))
        return
    if outcome.excludes:
        draft.add(CausesExcluded(draft.seq, outcome.excludes))
    if outcome.cause is not None:
        proved = outcome.again_by is None
        draft.add(CauseShown(draft.seq, outcome.cause, proved, draft.cursor.section, draft.cursor.step))
    for suspect in outcome.suspects:
        draft.add(CauseShown(draft.seq, suspect, False, draft.cursor.section, draft.cursor.step))
    if outcome.hand_over is not None:
        hand_over(draft, outcome.hand_over)
        return
    if outcome.again_by is not None:
        enter(draft, Cursor(draft.cursor.section, outcome.again_by))
        return
    go_on(draft, END if outcome.cause is not None and outcome.next is None else outcome.next)


def hand_over(draft: Draft, reason: str) -> None:
    """Stop work for good; whatever was proved dead is not relied on any more."""
    end_proof(draft, "work stopped")
    draft.add(HandedOver(draft.seq, reason, draft.at_s))


def result_of(draft: Draft, step: Measure) -> str:
    """Return the key of a complete measuring step's outcome: its worst verdict, or the supply's finding."""
    if step.judged_as != "each":
        found = [taken for taken in draft.session.record if isinstance(taken, SupplyClassified)]
        return found[-1].finding if found else "other"
    readings = draft.session.readings_of(draft.cursor)
    return worst([readings[pair.label] for pair in step.pairs if pair.label in readings])


_ORDER: Final = ("over_range", "above", "below", "unusable", "marginal", "within")


def worst(readings: list[ReadingTaken]) -> str:
    """Return the verdict that decides when several pairs were judged each by itself."""
    return worst_of(reading.verdict for reading in readings)


def worst_of(verdicts: Iterable[str]) -> str:
    """Return the verdict that decides among these."""
    given = set(verdicts)
    return next((word for word in _ORDER if word in given), "within")
