"""A state of the walk, what makes two states the same, and the small job that stands for a state.

What the engine looks at in a job is the open step with its readings, whose turn it is, how far making safe has come,
and, only to choose the next step, everything else on record. The walk lets any step follow any other, so everything
else on record is left out: a state is kept as a small job that has the rest of it.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import takewhile
from typing import Final

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import facts, holds
from voicetech.dialogue.making_safe import is_proving
from voicetech.dialogue.measuring import verdict_of
from voicetech.dialogue.outcomes import worst
from voicetech.dialogue.watch import AT_WORK, DEAD_V, LIVE_V, Watch, every_pair_dead, nothing_proved
from voicetech.events import Answer, AnswerProposed, AnswerTaken, Channel, ReadingTaken, RivalsOffered, SectionEnded
from voicetech.judge import VerdictWord
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Measure, Section, SectionRole, Step
from voicetech.proof.compiled import Compiled, wants_leads
from voicetech.proof.shapes import follows
from voicetech.session import ANSWERS, REOPENED, Cursor, Safety, Session, Taken, changed
from voicetech.turn import Turn

LEAD_FIELD: Final = "lead_ohm"
NOTE: Final = "note"
_NOTHING_SAFE: Final = Safety()
_MOST_ATTEMPTS: Final = 2
"""Attempts beyond the second are like it: the engine asks only whether one is the first."""


@dataclass(frozen=True, slots=True)
class State:
    """A job, what the watcher believes of it, and the time in seconds."""

    session: Session
    watch: Watch
    at_s: float


def view_key(compiled: Compiled, whole: State, halves: bool = True) -> Hashable:
    """Return what the gate in front of every step looks at, in the engine's eyes and in the watcher's.

    With `halves` a proof that is past half its time is told from a fresh one, so that one that ages from another
    moment than it should is found out. That is the same at every step, and tried at a step of each need.
    """
    state = trusting_no_more(whole)
    session, watch, lasts_s = state.session, state.watch, compiled.lasts_s
    safety = session.safety

    def age(began_at_s: float | None) -> str:
        return _age(began_at_s, state.at_s, lasts_s, halves)

    return (
        (safety.power, safety.isolated_by is not None, safety.tester_before, safety.ready, session.covers_open),
        (age(safety.began_at_s), safety.proved_at_s is not None),
        compiled.dead_pairs <= safety.dead_pairs,
        (watch.isolated, age(watch.tester_at_s), watch.proved),
        every_pair_dead(watch, compiled.wanted_pairs),
        (watch.hold, watch.power_on, watch.handed_over, watch.opened),
    )


def _age(began_at_s: float | None, at_s: float, lasts_s: float, halves: bool) -> str:
    if began_at_s is None:
        return "none"
    age_s = at_s - began_at_s
    if age_s < 0:
        return "ahead"
    if age_s >= lasts_s:
        return "old"
    return "half" if halves and age_s >= lasts_s / 2 else "fresh"


def past_half(compiled: Compiled, state: State) -> bool:
    """Return whether a proof that stands or is being made is past half its time, in the engine's or watcher's eyes."""
    began = (state.session.safety.began_at_s, state.watch.tester_at_s)
    return any(_age(each, state.at_s, compiled.lasts_s, halves=True) == "half" for each in began)


Key = tuple[Hashable, ...]
"""What has to agree for two states to be one."""


def state_key(compiled: Compiled, state: State) -> Key:
    """Return what has to agree for two states to be one: the step first, then what is read back."""
    session = state.session
    turn = session.turn
    return (
        _position_key(compiled, state),
        _pending_key(compiled, session),
        (turn, session.words_for if turn is Turn.REASON else None),
        _doubt_key(session),
        (session.danger is None, session.handed_over is None, session.outcome is None),
        (session.sound_asked, session.sound_asked and session.times_said_again > 0),
        view_key(compiled, state, halves=_ages_here(compiled, session)),
    )


def but_for_pending(key: Key) -> Key | None:
    """Return a state's key without what is read back; None where nothing is."""
    return None if key[1] is None else (key[0], *key[2:])


def _ages_here(compiled: Compiled, session: Session) -> bool:
    """Return whether the walk tells a proof past half its time from a fresh one here."""
    at = session.at
    if at is None:
        return False
    making_safe = compiled.at(at)[0].role is SectionRole.MAKE_SAFE
    return making_safe or (at.section, at.step) in compiled.typical_steps


def _pending_key(compiled: Compiled, session: Session) -> Hashable:
    """Return what is read back, as far as it tells states apart; None where nothing is."""
    match session.pending:
        case AnswerProposed(answers=answers, why=why, others=others):
            if session.at is None:
                return why, answers, bool(others)
            section, step = compiled.at(session.at)
            if isinstance(step, Measure) and is_proving(step):
                # Of what decides safety only how many pairs it is for, and what engine and watcher make of each.
                return why, tuple(_told_apart(compiled, session, step, answer) for answer in answers)
            if section.role is not None:
                return why, answers, bool(others)
            return why, tuple(_what_it_is(compiled, session, step, answer) for answer in answers), bool(others)
        case RivalsOffered():
            return "rivals"
        case None:
            return None


def _told_apart(compiled: Compiled, session: Session, step: Measure, answer: Answer) -> Hashable:
    verdict = verdict_of(Draft(compiled.procedure, session, session.last_at_s), step, answer)
    value = answer.value or Decimal(0)
    return verdict.word == VerdictWord.WITHIN, value <= DEAD_V, value >= LIVE_V


def _what_it_is(compiled: Compiled, session: Session, step: Step, answer: Answer) -> Hashable:
    """Return what an answer comes to: which result, of which pair; not in which words or figures."""
    match step:
        case Measure():
            key = session.at and (session.at.section, session.at.step), answer, session.lead_ohm is None
            if key not in compiled.memory:
                bare = changed(session, record=tuple(each for each in session.record if _is_of_leads(compiled, each)))
                verdict = verdict_of(Draft(compiled.procedure, bare, bare.last_at_s), step, answer)
                pair = next((number for number, each in enumerate(step.pairs) if each.label == answer.label), None)
                compiled.memory[key] = answer.kind, answer.state, answer.unit, pair, verdict.word
            return compiled.memory[key]
        case Ask(asking=Asking.CHOICE) if session.at is not None:
            # Of the steps alike, one may have as its first choice what is another's last.
            section = compiled.at(session.at)[0]
            return answer.kind, follows(compiled.procedure, section, step, answer.text or "")
        case _:
            return answer.kind


def _doubt_key(session: Session) -> Hashable:
    """Return where a denied danger leads back to: every turn at work leads back to the open step being asked.

    Only an answer that came with the danger words is taken where the step was just being asked.
    """
    before = session.before_doubt
    if session.turn is not Turn.SAFETY_QUESTION:
        return None
    asking = before is Turn.ASKING
    return (
        Turn.ASKING if before in AT_WORK else before,
        session.doubt_finding,
        session.doubt_answers if asking else "",
        asking and bool(session.doubt_answers),
    )


def looks_at_step(session: Session) -> bool:
    """Return whether the engine looks at the open step for more than to enter it again."""
    if session.sound_asked:
        return False
    if session.turn is Turn.SAFETY_QUESTION:
        return session.before_doubt in AT_WORK and (session.doubt_finding or bool(session.doubt_answers))
    return session.turn in AT_WORK and not (session.turn is Turn.REASON and session.words_for == NOTE)


def _position_key(compiled: Compiled, state: State) -> Hashable:
    session = state.session
    at = session.at
    if at is None:
        return None
    section, step = compiled.at(at)
    if section.role is None and not looks_at_step(session):
        return None
    taken = session.readings_of(at)
    here = (at.pair, min(at.attempt, _MOST_ATTEMPTS), len(taken))
    if section.role is None:
        leads = wants_leads(step) and session.lead_ohm is None
        return (compiled.shape[at.section, at.step], *here, worst(list(taken.values())), leads)
    known = facts(compiled.procedure, session)
    read_dead = taken.keys() <= session.safety.dead_pairs, taken.keys() <= state.watch.dead
    shown = worst(list(taken.values()))
    return (
        at.section,
        at.step,
        *here,
        shown == VerdictWord.WITHIN if is_proving(step) else shown,
        read_dead,
        _asked_here(compiled, section, known),
        own_answers(session, at),
        session.resume is None,
    )


def _asked_here(compiled: Compiled, section: Section, known: Mapping[str, str]) -> tuple[bool, ...]:
    """Return for each step of the section whether its conditions hold."""
    key = section.id, *(known.get(field) for field in compiled.looked_at[section.id])
    found = compiled.asked_here.get(key)
    if found is None:
        found = compiled.asked_here[key] = tuple(holds(each.when, known) for each in section.steps)
    return found


def _own_visit(session: Session, section: str) -> tuple[Taken, ...]:
    """Return what was taken in this visit of a section."""

    def inside(taken: Taken) -> bool:
        if isinstance(taken, SectionEnded):
            return not (taken.section == section and taken.how == REOPENED)
        return getattr(taken, "section", section) == section

    return tuple(reversed(tuple(takewhile(inside, reversed(session.record)))))


def small(compiled: Compiled, state: State) -> State:
    """Return the small job that stands for this state: all that the engine looks at to do something, and no more."""
    session = state.session
    at = session.at
    record: tuple[Taken, ...] = ()
    if at is not None:
        section, _step = compiled.at(at)
        leads = tuple(taken for taken in session.record if _is_of_leads(compiled, taken))
        if section.role is not None:
            looked_at = compiled.looked_at[section.id]
            own = _own_visit(session, at.section)
            fields = tuple(
                taken
                for taken in session.record
                if isinstance(taken, AnswerTaken) and taken.field in looked_at and taken not in own
            )
            begun = SectionEnded(0, at.section, REOPENED)
            record = (*fields, *(taken for taken in leads if taken not in own), begun, *own)
        elif looks_at_step(session):
            record = (*leads, *session.readings_of(at).values())
        else:
            record = leads
    in_front = at is not None and compiled.at(at)[0].role is not None
    return State(
        changed(
            session,
            channel=Channel.CHAT,
            by_voice=False,
            record=record,
            resume=session.resume if in_front else None,
            notes=(),
            sound_kept=None,
            short_prompts=False,
            times_said_again=min(session.times_said_again, 1) if session.sound_asked else 0,
        ),
        trusting_no_more(state).watch,
        state.at_s,
    )


def trusting_no_more(state: State) -> State:
    """Return the state with a watcher that believes no more than the engine: nothing is safe, or covers are open.

    A watcher that believes less finds more broken, never less; and what the engine holds as not done it does again.
    """
    session, watch = state.session, state.watch
    if session.safety == _NOTHING_SAFE:
        watch = nothing_proved(watch)
    if session.covers_open and not watch.opened:
        watch = replace(watch, opened=True)
    return state if watch is state.watch else replace(state, watch=watch)


def _is_of_leads(compiled: Compiled, taken: Taken) -> bool:
    section = compiled.by_role(SectionRole.NULL_LEADS)
    if section is None:
        return False
    match taken:
        case AnswerTaken(field=field):
            return field == LEAD_FIELD
        case SectionEnded(section=name):
            return name == section.id
        case ReadingTaken():
            return False
        case _:
            return False


def own_answers(session: Session, at: Cursor) -> bool:
    """Return whether the answer taken last was given in this visit of the section, as far as the walk keeps it."""
    return any(isinstance(taken, ANSWERS) for taken in _own_visit(session, at.section))
