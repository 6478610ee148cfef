"""What the steps of making safe prove, and what ends it: the engine's side of the trade's first rules.

A proof of dead is: the tester proved on a known live source, every pair at 1 volt or less, the tester proved again.
Every one of these numbers is read back and needs its own yes. What a procedure says about these steps is only
their words; where they lead is decided here.
"""

from decimal import Decimal

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import end_proof, end_section, enter, go_on, reenter
from voicetech.dialogue.outcomes import follow
from voicetech.electrical.service_voltage import COUPLED_AT_MOST_V
from voicetech.events import DeadProved, HoldTaken, Isolated, PairReadDead, PairReadLive, Remarked, TesterProved
from voicetech.judge import VerdictWord
from voicetech.procedure import Ask, Measure, SafetyRole, Step
from voicetech.session import Cursor

PROVING = frozenset({SafetyRole.TESTER_BEFORE, SafetyRole.DEAD_PAIRS, SafetyRole.TESTER_AFTER})
"""The measurements that decide safety: each needs its own yes."""


_LIVE = "That is live: hands and tools out. With the probes alone, the other pairs tell where it comes from."
_MAY_BE_LIVE = "That is not dead: hands and tools out until it is told apart."


def is_proving(step: Step) -> bool:
    """Return whether the step's numbers decide safety."""
    return step.role in PROVING


def after_hold(draft: Draft, step: Step) -> None:
    """Record what the words of a hold change."""
    match step.role:
        case SafetyRole.ISOLATE_PLUG:
            draft.add(Isolated("plug", draft.at_s))
        case SafetyRole.ISOLATE_LOCKOUT:
            draft.add(Isolated("lockout", draft.at_s))
        case SafetyRole.LIVE_HOLD:
            draft.add(HoldTaken("live", draft.at_s))
        case SafetyRole.COVERS_ON:
            draft.add(HoldTaken("covers", draft.at_s))
        case _:
            pass


def after_pair(draft: Draft, step: Measure, label: str, value: Decimal | None, verdict: str) -> None:
    """Record what one reading of the dead pairs shows."""
    if step.role is not SafetyRole.DEAD_PAIRS or value is None:
        return
    if verdict == VerdictWord.WITHIN:
        draft.add(PairReadDead(label, value, draft.at_s))
    else:
        draft.add(PairReadLive(label, value, draft.at_s))
        draft.add(Remarked(_LIVE if value > COUPLED_AT_MOST_V else _MAY_BE_LIVE))


def after_proving(draft: Draft, step: Measure) -> None:
    """Go on after one of the measurements of the proof is complete."""
    taken = draft.session.readings_of(draft.cursor)
    sound = all(reading.verdict == VerdictWord.WITHIN for reading in taken.values())
    match step.role:
        case SafetyRole.TESTER_BEFORE if sound:
            draft.add(TesterProved(True, _only(draft), draft.at_s))
            go_on(draft, None)
        case SafetyRole.TESTER_BEFORE:
            enter(draft, Cursor(draft.cursor.section, step.id, 0, draft.cursor.attempt + 1))
        case SafetyRole.DEAD_PAIRS:
            _after_dead_pairs(draft)
        case SafetyRole.TESTER_AFTER if sound and _all_pairs_dead(draft):
            draft.add(TesterProved(False, _only(draft), draft.at_s))
            draft.add(DeadProved(draft.at_s))
            end_section(draft, draft.section, "done")
        case _:
            end_proof(draft, "the tester did not show the known live source afterwards")
            reenter(draft)


def after_low_impedance(draft: Draft, step: Ask, low_impedance: bool) -> None:
    """Repeat the pairs on low impedance, or stop where the voltage was there on low impedance already."""
    if low_impedance:
        follow(draft, step.outcomes["yes"])
        return
    pairs = _with_role(draft, SafetyRole.DEAD_PAIRS)
    enter(draft, Cursor(draft.cursor.section, pairs.id, 0, 2))


def _after_dead_pairs(draft: Draft) -> None:
    if _all_pairs_dead(draft):
        enter(draft, Cursor(draft.cursor.section, _with_role(draft, SafetyRole.TESTER_AFTER).id))
        return
    ask = _with_role(draft, SafetyRole.LOW_IMPEDANCE)
    if draft.cursor.attempt == 1:
        enter(draft, Cursor(draft.cursor.section, ask.id))
        return
    if not isinstance(ask, Ask):
        raise TypeError(f"the step {ask.id} has to be a question")
    follow(draft, ask.outcomes["yes"])


def _all_pairs_dead(draft: Draft) -> bool:
    pairs = _with_role(draft, SafetyRole.DEAD_PAIRS)
    if not isinstance(pairs, Measure):
        raise TypeError(f"the step {pairs.id} has to be a measurement")
    safety = draft.session.safety
    return safety.tester_before and {pair.label for pair in pairs.pairs} <= safety.dead_pairs


def _with_role(draft: Draft, role: SafetyRole) -> Step:
    return next(step for step in draft.section.steps if step.role is role)


def _only(draft: Draft) -> Decimal:
    values = [reading.value for reading in draft.session.readings_of(draft.cursor).values()]
    return values[0] if values and values[0] is not None else Decimal(0)
