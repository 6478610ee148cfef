"""When two states of the walk count as one.

Two sessions count as one state when they agree on the open step, pair and attempt, the turn, what waits for a yes,
how far making safe has come and whether the proof's time has run out, what an undo would reach, the verdicts so far
and which steps of the open section apply, whether a test is left to do, and the watcher's account. While the power
is changed for a step that waits, only what that step needs counts: where that leads back to is worked out by the walk
for every step that was seen waiting.
"""

from collections.abc import Hashable

from voicetech.diagnosis import next_test
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.flow import facts, holds
from voicetech.dialogue.watch import AT_WORK, Watch
from voicetech.events import AnswerProposed
from voicetech.procedure import Procedure, SectionRole
from voicetech.session import Cursor, Session
from voicetech.turn import Turn

CHANGING_POWER = frozenset({SectionRole.MAKE_SAFE, SectionRole.GO_LIVE, SectionRole.POWER_UP})
"""Sections in front of a waiting step whose way does not depend on which step it is."""
MOST_ATTEMPTS = 3
"""Attempts at a step beyond this count as this many."""
_ANSWERING = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON})


def state_key(procedure: Procedure, session: Session, watch: Watch, at_s: float) -> Hashable:
    """Return what has to agree for two states to count as one."""
    safety = session.safety
    pairs_so_far = len(session.readings_of(session.at)) if session.at else 0
    return (
        (session.at.section, session.at.step, session.at.pair, min(session.at.attempt, MOST_ATTEMPTS))
        if session.at
        else None,
        (session.turn, session.words_for if session.turn is Turn.REASON else None),
        _pending_key(session),
        (safety.power, safety.tester_before, safety.ready, session.covers_open),
        (safety.proved_at_s is not None, len(safety.dead_pairs), pairs_so_far),
        session.proof_stands(at_s, proof_s(procedure)),
        _waiting_key(procedure, session),
        session.lead_ohm is not None,
        (session.doubt, _before_doubt_key(session), session.danger is None, session.handed_over is None),
        (session.outcome is None, session.read_back and session.turn in _ANSWERING),
        _undo_key(procedure, session),
        _applies_key(procedure, session),
        _verdicts_key(procedure, session),
        (watch.isolated, watch.tester_at_s is None, len(watch.dead), watch.proved),
        (watch.hold, watch.power_on, watch.handed_over),
    )


def _pending_key(session: Session) -> Hashable:
    match session.pending:
        case AnswerProposed(answers=answers, why=why):
            return (why, tuple((a.kind, a.label, None if a.value is None else a.value > 1) for a in answers))
        case None:
            return None
        case _:
            return "rivals"


def _verdicts_key(procedure: Procedure, session: Session) -> Hashable:
    """Return which verdicts the open step's pairs have had so far; for making safe how many pairs are dead says it."""
    return None if session.at is None else _verdicts_at(procedure, session, session.at)


def _verdicts_at(procedure: Procedure, session: Session, at: Cursor) -> Hashable:
    if procedure.section(at.section).role is not None:
        return None
    return frozenset(reading.verdict for reading in session.readings_of(at).values())


def _applies_key(procedure: Procedure, session: Session) -> Hashable:
    """Return which steps of the open section apply, whether a cause is proved and whether a test is left to do."""
    return None if session.at is None else _applies_at(procedure, session, session.at)


def _applies_at(procedure: Procedure, session: Session, at: Cursor) -> Hashable:
    known = facts(procedure, session)
    steps = tuple(holds(step.when, known) for step in procedure.section(at.section).steps)
    return steps, bool(session.proved), next_test(procedure, session) is None


def _before_doubt_key(session: Session) -> Hashable:
    """Return where a denied danger leads back to: every turn at work leads back to the open step being asked."""
    before = session.before_doubt
    return (Turn.ASKING if before in AT_WORK else before), session.doubt_finding, session.doubt_answers


def _waiting_key(procedure: Procedure, session: Session) -> Hashable:
    """Return what the step that waits needs, or None where none waits: only sections put in front have one waiting."""
    waiting, at = session.resume, session.at
    if waiting is None or at is None or procedure.section(at.section).role is None:
        return None
    if procedure.section(at.section).role not in CHANGING_POWER:
        return waiting.section, waiting.step
    return procedure.step(waiting.section, waiting.step).needs


def waiting_step_key(procedure: Procedure, session: Session, waiting: Cursor) -> Hashable:
    """Return what has to agree for two sessions to come back to the same state at the step that waits."""
    return (
        (waiting.section, waiting.step, waiting.pair, min(waiting.attempt, MOST_ATTEMPTS)),
        _applies_at(procedure, session, waiting),
        _verdicts_at(procedure, session, waiting),
        session.lead_ohm is not None,
    )


def _undo_key(procedure: Procedure, session: Session) -> Hashable:
    """Return what an undo would reach: nothing, a safety step, an answer before the proof or one after it."""
    last = session.last_answer
    if last is None:
        return "nothing"
    if procedure.section(last.section).role is not None:
        return "safety"
    proved_at_s = session.safety.proved_at_s
    return "before" if proved_at_s is not None and last.at_s < proved_at_s else "after"
