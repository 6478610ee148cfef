"""The proof of safety: every state of a procedure that any record could lead to, through the real `decide`.

Every step is entered through one gate, which looks at how far making safe has come and at what the step needs, and at
nothing else on record. So the walk does not follow the order of steps: whatever way making safe may stand when some
step is entered (a view), every step is entered in that view, and what can happen at it is walked until no new view
comes about. That covers every order of steps and every record. Sections put in front of a waiting step are walked with
what that step needs in place of the step, and with every answer to be on record that their own conditions look at.

After each move the watcher's own account of the rules is compared with what the job does next. A broken rule comes
back with the way that leads to it.
"""

from collections import deque
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from typing import Final

from voicetech.dialogue import flow
from voicetech.dialogue.decide import drafted
from voicetech.dialogue.draft import Draft
from voicetech.dialogue.given import KeepSound, Opening
from voicetech.dialogue.reply import reply
from voicetech.dialogue.watch import NOTHING_PROVED, broken_rule, watched
from voicetech.events import (
    AnswerTaken,
    Asked,
    Channel,
    Event,
    Ignored,
    InputReceived,
    NoteTaken,
    PromptsSet,
    Refused,
    Remarked,
    SaidAgain,
    SectionEnded,
    StepDeferred,
    StepEntered,
    VoiceChanged,
)
from voicetech.procedure import Procedure, SectionRole
from voicetech.proof.compiled import Compiled, compiled, wants_leads
from voicetech.proof.looking import counting, plain
from voicetech.proof.moves import SOON_S, Tried, at_work, moves_anywhere, moves_here, step_kind
from voicetech.proof.states import (
    LEAD_FIELD,
    Key,
    State,
    but_for_pending,
    past_half,
    small,
    state_key,
    trusting_no_more,
    view_key,
)
from voicetech.session import Cursor, Session, Taken, changed, evolve, opened
from voicetech.turn import IllegalMoveError, Turn

TOLD_EACH: Final = 100
"""How many states are tried between two times that it is told how far the walk has come."""
Progress = Callable[[int, int, int], None]
_BEGIN_S: Final = 1_000_000.0
_TALK: Final = (InputReceived, Asked, VoiceChanged, SaidAgain, Refused, Ignored, Remarked, PromptsSet, NoteTaken)
"""Events after which the job stands as it stood before."""
_BREAKS_DOWN: Final = (ArithmeticError, AssertionError, AttributeError, IllegalMoveError, LookupError, RuntimeError,
                       StopIteration, TypeError, ValueError)  # fmt: skip
"""What a program that is wrong raises."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One part of a way: the step it was at, what was said or done there, and the turn and step it led to.

    `words` is None where the step is one that comes up next, in whatever order the job takes.
    """

    at: tuple[str, str] | None
    words: str | None
    turn: Turn
    to: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class Walked:
    """What a walk found: states, moves, ways making safe may stand, the steps asked, and the first broken rule."""

    states: int
    moves: int
    views: int
    steps_asked: frozenset[tuple[str, str]]
    broken: str | None
    way: tuple[Leg, ...]


def walk(
    procedure: Procedure,
    most_states: int = 1_000_000,
    progress: Progress = lambda _found, _left, _moves: None,
) -> Walked:
    """Return what walking every state of the procedure found; RuntimeError past `most_states`.

    `progress` is told after every `TOLD_EACH` states how many were found and are left, and the moves made.
    """
    return _Walk(compiled(procedure), most_states, progress).run()


@dataclass(slots=True)
class _Walk:
    compiled: Compiled
    most_states: int
    progress: Progress
    tried: int = 0
    moves: int = 0
    broken: str | None = None
    way: tuple[Leg, ...] = ()
    asked: set[tuple[str, str]] = field(default_factory=set)
    came_from: dict[Hashable, tuple[Hashable | None, tuple[Leg, ...]]] = field(default_factory=dict)
    queue: deque[tuple[State, Key]] = field(default_factory=deque)
    views: set[Hashable] = field(default_factory=set)
    tried_anywhere: set[Hashable] = field(default_factory=set)
    warned: set[Hashable] = field(default_factory=set)
    never_looked: set[Hashable] = field(default_factory=set)
    """What was tried and went by nothing that was read back."""

    def run(self) -> Walked:
        for keep in (KeepSound.OFF, KeepSound.ASK):
            self._open(keep)
        while self.queue and self.broken is None:
            self._from(*self.queue.popleft())
        return Walked(len(self.came_from), self.moves, len(self.views), frozenset(self.asked), self.broken, self.way)

    def _open(self, keep: KeepSound) -> None:
        events = drafted(self.compiled.procedure, None, Opening("walk", Channel.CHAT, _BEGIN_S, keep)).events
        session = opened(events[0])  # type: ignore[arg-type]  # an opening's first event is the job's opening
        state = State(session, NOTHING_PROVED, _BEGIN_S)
        leg = Leg(None, "the job is opened", session.turn, None)
        for event in events[1:]:
            if isinstance(event, StepEntered):
                self._view(state, None, (leg,))
            state = replace(state, session=evolve(state.session, event))
        self._reach(state, events, None, (replace(leg, to=_place(state.session)),))

    def _from(self, state: State, key: Key) -> None:
        session = state.session
        self.tried += 1
        if self.tried % TOLD_EACH == 0:
            self.progress(len(self.came_from), len(self.queue), self.moves)
        unread = but_for_pending(key)
        for number, tried in enumerate(moves_here(self.compiled, state)):
            self._unless_alike(key, unread and ("here", unread, number, tried.words), tried)
            if self.broken is not None:
                return
        kind = step_kind(self.compiled, session)
        if (kind, key[1:]) in self.tried_anywhere:
            return
        self.tried_anywhere.add((kind, key[1:]))
        for number, tried in enumerate(moves_anywhere(self.compiled, state)):
            self._unless_alike(key, unread and ("anywhere", unread, number, tried.words), tried)
            if self.broken is not None:
                return

    def _unless_alike(self, key: Key, alike: Hashable, tried: Tried) -> None:
        """Try something, unless it was tried where only another answer was read back, and nobody looked at that."""
        if alike is None:
            self._try(key, tried)
        elif alike not in self.never_looked:
            session = counting(tried.state.session)
            state = State(session, tried.state.watch, tried.state.at_s)
            self._try(key, Tried(tried.words, state, tried.given))
            if not session.looked_at:
                self.never_looked.add(alike)

    def _try(self, key: Key, tried: Tried) -> None:
        """Try something, and with all answers before it where it leads past the gate to what is put in front."""
        front = self._move(key, tried)
        if front is None or front == self._front(tried.state.session):
            return
        session = tried.state.session
        for answers in self.compiled.told_before[front]:
            if self.broken is None:
                told = changed(session, record=(*answers, *session.record))
                words = f"{tried.words} ({_told(answers)})"
                self._move(key, Tried(words, replace(tried.state, session=told), tried.given))

    def _front(self, session: Session) -> str | None:
        """Return the section that the open step is in, where the engine puts it in front of others."""
        if session.at is None or self.compiled.at(session.at)[0].role is None:
            return None
        return session.at.section

    def _move(self, key: Key, tried: Tried) -> str | None:
        """Take one move, and return the section put in front that it leads to otherwise than through the gate, or None.

        In front of what comes to the gate, such sections are entered with everything that may have been answered.
        """
        self.moves += 1
        before, given, procedure = tried.state.session, tried.given, self.compiled.procedure
        try:
            draft = drafted(procedure, before, given)
        except _BREAKS_DOWN as error:
            self.broken = f"the program breaks down: {type(error).__name__}: {error}"
            self.way = (*self._way(key), Leg(_place(before), tried.words, before.turn, None))
            return None
        events, after = draft.events, plain(draft.session)
        believed = tried.state.watch
        watch = watched(procedure, believed, before, given, events)
        self.broken = broken_rule(procedure, believed, watch, before, given, events, after, self.compiled.lasts_s)
        leg = Leg(_place(before), tried.words, after.turn, _place(after))
        if self.broken is not None:
            self.way = (*self._way(key), leg)
            return None
        if watch == believed and _changes_nothing(tried, events):
            return None
        self._reach(State(after, watch, given.at_s), events, key, (leg,))
        gated = False
        for number, event in enumerate(events):
            if isinstance(event, (StepEntered, StepDeferred)) and self._is_own(event):
                gated = True
                session = plain(reduce(evolve, events[:number], before))
                so_far = watched(procedure, believed, before, given, events[:number])
                self._view(State(session, so_far, given.at_s), key, (leg,))
        return None if gated else self._front(after)

    def _is_own(self, event: StepEntered | StepDeferred) -> bool:
        return self.compiled.at(Cursor(event.section, event.step))[0].role is None

    def _reach(self, state: State, events: Sequence[Event], came_from: Hashable | None, legs: tuple[Leg, ...]) -> None:
        key = state_key(self.compiled, state)
        at = state.session.at
        if at is not None and at_work(state.session):
            self.asked.add((at.section, at.step))
        if key in self.came_from:
            self._warn(state, events, key)
            return
        if len(self.came_from) == self.most_states:
            raise RuntimeError(f"more than {self.most_states} states; the walk does not end")
        self.came_from[key] = (came_from, legs)
        self.queue.append((small(self.compiled, state), key))
        self._warn(state, events, key)

    def _warn(self, state: State, events: Sequence[Event], key: Hashable) -> None:
        """Look whether the warnings of a step are said, once for each step in each state that steps like it have."""
        at = state.session.at
        if at is None or (key, at.section, at.step) in self.warned or not self.compiled.at(at)[1].warnings:
            return
        self.warned.add((key, at.section, at.step))
        self.broken = _warning_left_out(self.compiled, state.session, events)
        if self.broken is not None:
            self.way = self._way(key)

    def _view(self, state: State, came_from: Hashable | None, legs: tuple[Leg, ...]) -> None:
        """Enter every step in this view, where it is new."""
        key = view_key(self.compiled, state)
        if key in self.views or self.broken is not None:
            return
        self.views.add(key)
        half = past_half(self.compiled, state)
        state = trusting_no_more(state)
        told: set[Hashable] = set()
        for (section_id, step_id), (section, step) in self.compiled.steps.items():
            if section.role is not None or (half and (section_id, step_id) not in self.compiled.typical_steps):
                continue
            for leads_known in (True, False) if wants_leads(step) else (True,):
                cursor = Cursor(section_id, step_id)
                leads = self._leads() if leads_known else ()
                front = self._enter(state, cursor, leads, came_from, legs)
                # What is put in front goes by what the step needs; for one of each need every answer is tried.
                kind = front, step.needs, leads_known
                for answers in () if front is None or kind in told else self.compiled.told_before[front]:
                    if self.broken is None:
                        self._enter(state, cursor, (*answers, *leads), came_from, legs)
                told.add(kind)
                if self.broken is not None:
                    return

    def _enter(
        self,
        view: State,
        cursor: Cursor,
        record: tuple[Taken, ...],
        came_from: Hashable | None,
        legs: tuple[Leg, ...],
    ) -> str | None:
        """Enter a step with this on record, and return the section that is put in front of it, or None."""
        self.moves += 1
        procedure = self.compiled.procedure
        session = changed(
            view.session,
            turn=Turn.ASKING,
            at=cursor,
            resume=None,
            pending=None,
            words_for=None,
            doubt=None,
            before_doubt=None,
            danger=None,
            record=record,
        )
        draft = Draft(procedure, session, view.at_s)
        try:
            flow.enter(draft, cursor)
        except _BREAKS_DOWN as error:
            self.broken = f"the program breaks down: {type(error).__name__}: {error}"
            self.way = (*self._way(came_from), *legs, Leg((cursor.section, cursor.step), None, session.turn, None))
            return None
        watch = view.watch
        given = Opening("", session.channel, view.at_s)
        watch = watched(procedure, watch, session, given, draft.events)
        after = State(draft.session, watch, view.at_s)
        leg = Leg((cursor.section, cursor.step), None, draft.session.turn, _place(draft.session))
        self.broken = broken_rule(
            procedure, view.watch, watch, session, given, draft.events, draft.session, self.compiled.lasts_s
        )
        if self.broken is not None:
            self.way = (*self._way(came_from), *legs, leg)
            return None
        self._reach(after, draft.events, came_from, (*legs, leg))
        return self._front(draft.session)

    def _leads(self) -> tuple[Taken, ...]:
        section = self.compiled.by_role(SectionRole.NULL_LEADS)
        if section is None:
            return ()
        nulled = AnswerTaken(0, section.id, section.steps[0].id, LEAD_FIELD, "0.2", unverified=False, at_s=_BEGIN_S)
        return (nulled, SectionEnded(0, section.id, "done"))

    def _way(self, key: Hashable | None) -> tuple[Leg, ...]:
        found: list[tuple[Leg, ...]] = []
        at = key
        while at is not None:
            at, legs = self.came_from[at]
            found.append(legs)
        return tuple(leg for legs in reversed(found) for leg in legs)


def _told(answers: Sequence[Taken]) -> str:
    """Return answers in words, for a way."""
    return " and ".join(f"{each.field} {each.value}" for each in answers if isinstance(each, AnswerTaken))


def _changes_nothing(tried: Tried, events: Sequence[Event]) -> bool:
    """Return whether the job stands as it stood: it was only asked something, or refused."""
    soon = tried.given.at_s - tried.state.at_s < 2 * SOON_S and not tried.state.session.sound_asked
    return soon and tried.given.at_s > tried.state.at_s and all(isinstance(event, _TALK) for event in events)


def _warning_left_out(compiled: Compiled, session: Session, events: Sequence[Event]) -> str | None:
    """Return which warning of a step is not said where the step is first asked, in words, or None."""
    at = session.at
    entered = any(isinstance(event, StepEntered) for event in events)
    if at is None or not entered or not at_work(session) or session.turn is not Turn.ASKING:
        return None
    _section, step = compiled.at(at)
    if not step.warnings or (at.pair, at.attempt) != (0, 1):
        return None
    said = " ".join(reply(compiled.procedure, session, events).show)
    for name in step.warnings:
        warning = compiled.procedure.warnings.get(name)
        if warning is None or warning.say not in said:
            return f"{at.section}/{at.step} is asked without its warning {name}"
    return None


def _place(session: Session) -> tuple[str, str] | None:
    return None if session.at is None else (session.at.section, session.at.step)
