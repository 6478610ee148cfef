"""The safety rules written a second time, as a watcher that knows nothing of how `decide` works.

The watcher sees what was said, which step was open and what went on record, and keeps its own account of whether a
proof of dead stands. It trusts none of the session's own safety fields. The walk compares the two.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from itertools import combinations
from typing import Final

from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.given import Given, Reopening, Weighed, Words
from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    DangerStopped,
    Event,
    HandedOver,
    JobReopened,
    PartInspected,
    Paused,
    ReadingTaken,
    Resumed,
    StepDone,
    StepEntered,
    StepSkipped,
)
from voicetech.language.meaning import AnswerSaid, Command, CommandSaid, DangerSaid, WordsSaid
from voicetech.procedure import Hold, Measure, Needs, Procedure, SafetyRole
from voicetech.session import Session
from voicetech.turn import Turn

DEAD_V: Final = Decimal(1)
"""Source: common practice, no source."""
LIVE_V: Final = Decimal(90)
LONGEST_PROOF_S: Final = 30 * 60.0
"""No proof of dead stands longer, whatever a shop has set. Source: common practice, no source."""
SUPPLY_LABELS: Final = ("L1", "L2", "N", "frame")
"""What a supply brings to an appliance, as readings are labelled."""
AT_WORK: Final = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON})


@dataclass(frozen=True, slots=True)
class Watch:
    """What the watcher believes."""

    isolated: bool = False
    tester_at_s: float | None = None
    dead: frozenset[str] = frozenset()
    proved: bool = False
    safety_seq: int = 0
    """The number of the latest answer that any of this rests on."""
    hold: str | None = None
    power_on: bool = False
    handed_over: bool = False
    opened: bool = False
    """Whether hands have been inside since the covers were last said to be on."""

    def dead_is_proved(self, at_s: float, proof_s: float) -> bool:
        """Return whether a proof of dead stands at this time: nobody knows how old one is where the clock went back."""
        return self.proved and self.tester_at_s is not None and 0 <= at_s - self.tester_at_s < proof_s


NOTHING_PROVED: Final = Watch()


def nothing_proved(watch: Watch) -> Watch:
    """Return the watch with everything that makes safe or ready for power at its beginning."""
    return Watch(handed_over=watch.handed_over, opened=watch.opened)


def watched(procedure: Procedure, watch: Watch, before: Session, given: Given, events: Sequence[Event]) -> Watch:
    """Return what the watcher believes after an input and the events it caused."""
    if isinstance(given, Reopening) or (isinstance(given, Words) and _handed_over(given, before)):
        watch = nothing_proved(watch)
    told = given.meaning if isinstance(given, Words) else None
    if isinstance(told, CommandSaid) and told.command is Command.POWER_IS_ON and before.turn in AT_WORK:
        watch = replace(nothing_proved(watch), hold=watch.hold, safety_seq=watch.safety_seq, power_on=True)
    for event in events:
        watch = _after(procedure, watch, event)
    return watch


def _handed_over(given: Words, before: Session) -> bool:
    overheard = given.weighed in (Weighed.IGNORED, Weighed.LATE)
    return given.channel is not before.channel and not overheard


def _after(procedure: Procedure, watch: Watch, event: Event) -> Watch:
    match event:
        case Paused() | Resumed() | JobReopened() | DangerStopped():
            return nothing_proved(watch)
        case HandedOver():
            return replace(nothing_proved(watch), handed_over=True)
        case AnswerWithdrawn(seq=seq):
            return nothing_proved(watch) if seq <= watch.safety_seq else watch
        case StepEntered(section=section, step=step_id):
            if procedure.step(section, step_id).role is SafetyRole.POWER_ON:
                return replace(nothing_proved(watch), hold=watch.hold, safety_seq=watch.safety_seq, power_on=True)
            opens = procedure.step(section, step_id).needs is Needs.DEAD and not watch.opened
            return replace(watch, opened=True) if opens else watch
        case StepDone(section=section, step=step_id):
            return _hold_done(procedure, watch, procedure.step(section, step_id).role, event)
        case ReadingTaken():
            return _reading(procedure, watch, event)
        case _:
            return watch


def _hold_done(procedure: Procedure, watch: Watch, role: SafetyRole | None, done: StepDone) -> Watch:
    match role:
        case SafetyRole.ISOLATE_PLUG | SafetyRole.ISOLATE_LOCKOUT:
            return replace(nothing_proved(watch), isolated=True, safety_seq=done.seq)
        case SafetyRole.LIVE_HOLD | SafetyRole.COVERS_ON:
            covers = role is SafetyRole.COVERS_ON
            if not watch.dead_is_proved(done.at_s, lasts_s(procedure)) and (watch.opened or not covers):
                # The common lead is clipped, and what is open is closed, while it is dead or not at all.
                return watch
            hold = "covers" if covers else "live"
            return replace(watch, hold=hold, safety_seq=done.seq, opened=watch.opened and not covers)
        case _:
            return watch


def lasts_s(procedure: Procedure) -> float:
    """Return how long the watcher lets a proof of dead stand, in seconds: as set, and never beyond half an hour."""
    try:
        set_s = float(Decimal(procedure.settings.get("proof_minutes", "30")) * 60)
    except InvalidOperation:
        return LONGEST_PROOF_S
    return min(set_s, LONGEST_PROOF_S)


def _reading(procedure: Procedure, watch: Watch, taken: ReadingTaken) -> Watch:
    step = procedure.step(taken.section, taken.step)
    value = taken.value
    if value is None or not isinstance(step, Measure):
        return watch
    match step.role:
        case SafetyRole.TESTER_BEFORE if value >= LIVE_V and watch.isolated:
            return replace(watch, tester_at_s=taken.at_s, dead=frozenset(), proved=False, safety_seq=taken.seq)
        case SafetyRole.DEAD_PAIRS if value <= DEAD_V:
            return replace(watch, dead=watch.dead | {taken.label}, safety_seq=taken.seq)
        case SafetyRole.DEAD_PAIRS:
            return replace(watch, dead=watch.dead - {taken.label}, proved=False)
        case SafetyRole.TESTER_AFTER if value >= LIVE_V and _every_pair(procedure, watch):
            return replace(watch, proved=True, safety_seq=taken.seq)
        case _:
            return watch


def _every_pair(procedure: Procedure, watch: Watch) -> bool:
    if not watch.isolated or watch.tester_at_s is None:
        return False
    return every_pair_dead(watch, wanted_pairs(procedure))


def every_pair_dead(watch: Watch, wanted: Sequence[tuple[str, str]]) -> bool:
    """Return whether each of these pairs was measured dead, whichever way round it is labelled."""
    return all(watch.dead & {f"{one}-{other}", f"{other}-{one}"} for one, other in wanted)


def wanted_pairs(procedure: Procedure) -> tuple[tuple[str, str], ...]:
    """Return every two of the legs, the neutral and the frame that the procedure measures anywhere.

    What its own proof of dead says it takes is not asked.
    """
    measured = {
        end
        for section in procedure.sections
        for step in section.steps
        if isinstance(step, Measure)
        for pair in step.pairs
        for end in pair.label.split("-")
    }
    return tuple(combinations([label for label in SUPPLY_LABELS if label in measured], 2))


def broken_rule(
    procedure: Procedure,
    believed: Watch,
    watch: Watch,
    before: Session,
    given: Given,
    events: Sequence[Event],
    after: Session,
    proof_s: float,
) -> str | None:
    """Return which safety rule an input broke, in words, or None.

    `believed` is what the watcher believed before the input, `watch` what it believes after it.
    """
    return (
        _hands_on_without_proof(procedure, watch, after, given.at_s, proof_s)
        or _reading_without_proof(believed, events, given.at_s, proof_s)
        or _hold_left(procedure, events)
        or _unconfirmed_number(procedure, given, events)
        or _danger_missed(given, before, after)
        or _stop_left(given, before, after)
        or _work_after_hand_over(watch, after)
        or _stop_ignored(procedure, events, after)
    )


def _hands_on_without_proof(
    procedure: Procedure, watch: Watch, after: Session, at_s: float, proof_s: float
) -> str | None:
    if after.turn not in AT_WORK or after.at is None:
        return None
    step = procedure.step(after.at.section, after.at.step)
    place = f"{after.at.section}/{after.at.step}"
    match step.needs:
        case Needs.DEAD if not watch.dead_is_proved(at_s, proof_s):
            return f"{place} is hands-on and asked without a proof of dead that stands"
        case Needs.LIVE if not watch.power_on or watch.hold != "live":
            return f"{place} is a live test and asked without its hold"
        case Needs.POWERED if not watch.power_on or watch.hold != "covers":
            return f"{place} needs power and is asked without its covers on"
        case _:
            return None


def _reading_without_proof(watch: Watch, events: Sequence[Event], at_s: float, proof_s: float) -> str | None:
    for event in events:
        if (
            isinstance(event, ReadingTaken)
            and event.needs == Needs.DEAD.value
            and not watch.dead_is_proved(at_s, proof_s)
        ):
            return f"a reading of {event.section}/{event.step} was taken without a proof of dead that stands"
    return None


def _hold_left(procedure: Procedure, events: Sequence[Event]) -> str | None:
    for event in events:
        if isinstance(event, StepSkipped):
            step = procedure.step(event.section, event.step)
            if isinstance(step, Hold) or step.role is not None:
                return f"the safety step {event.section}/{event.step} was skipped"
        if isinstance(event, StepDone):
            step = procedure.step(event.section, event.step)
            if isinstance(step, Hold) and event.words.lower() not in {words.lower() for words in step.until}:
                return f"the hold {event.section}/{event.step} was left by {event.words!r}"
    return None


_PROVING: Final = (SafetyRole.TESTER_BEFORE, SafetyRole.DEAD_PAIRS, SafetyRole.TESTER_AFTER)


def _unconfirmed_number(procedure: Procedure, given: Given, events: Sequence[Event]) -> str | None:
    if isinstance(given, Words) and isinstance(given.meaning, AnswerSaid) and given.meaning.yes:
        return None
    for event in events:
        if isinstance(event, ReadingTaken) and procedure.step(event.section, event.step).role in _PROVING:
            return f"{event.label} of {event.section}/{event.step} decides safety and was taken without a yes"
    return None


def _danger_missed(given: Given, before: Session, after: Session) -> str | None:
    if not isinstance(given, Words) or not isinstance(given.meaning, DangerSaid):
        return None
    if given.meaning.present and after.turn is not Turn.STOPPED:
        return f"danger words did not stop the job while {before.turn.value}"
    if after.turn in AT_WORK and before.turn not in (Turn.RECOUNTING,):
        return f"danger words that may be past were passed over while {before.turn.value}"
    return None


def _stop_left(given: Given, before: Session, after: Session) -> str | None:
    said = given.meaning if isinstance(given, Words) else None
    if before.turn is Turn.STOPPED and after.turn is not Turn.STOPPED:
        cleared = isinstance(said, WordsSaid) and said.text.lower() in CLEAR_WORDS
        if not cleared or after.turn is not Turn.RECOUNTING:
            return "a danger stop was left without its own words"
    denied = isinstance(said, AnswerSaid) and not said.yes
    if before.turn is Turn.SAFETY_QUESTION and after.turn in AT_WORK and not denied:
        return "the safety question was left without a no"
    return None


def _work_after_hand_over(watch: Watch, after: Session) -> str | None:
    if watch.handed_over and after.turn in AT_WORK:
        return "work went on after a stop-work result"
    return None


def _stop_ignored(procedure: Procedure, events: Sequence[Event], after: Session) -> str | None:
    """Return which result stops the work by the procedure's own list and did not."""
    for event in events:
        match event:
            case AnswerTaken(section=section, step=step, value=result):
                pass
            case StepDone(section=section, step=step):
                result = "done"
            case PartInspected(section=section, step=step, fault=fault):
                result = "fault" if fault else "clean"
            case _:
                continue
        if result not in procedure.stop_work.get(f"{section}.{step}", {}):
            continue
        if isinstance(procedure.step(section, step), Measure):
            continue
        if after.turn not in (Turn.HANDED_OVER, Turn.STOPPED):
            return f"the job went on after {result} at {section}/{step}, which stops the work"
    return None
