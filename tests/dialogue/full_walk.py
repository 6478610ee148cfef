"""The walk of records: every reachable combination of step, power, age of the proof and turn, along real jobs.

It follows the order of tests and whole records, so that it takes hours on a whole appliance where `proof.walk` takes a
minute; on the small range the two have to agree. The walk starts from an opened job and gives every state every kind of
input (`full_walk_inputs`). After each, the watcher's own account of the rules is compared with what the job does next.
A broken rule comes back with the path that leads to it, in words. What makes two states the same is `full_walk_key`'s.

A section that is put in front of a waiting step (making safe, going live, powering up) behaves the same
whatever waits, so it is walked once; each way out of it is then taken for every step that was seen waiting, with that
step's own record. What other facts two sessions of one state may differ in only chooses which step is entered next,
and every step is entered through one gate. Starts other than an opened job (a tripped breaker, a hard-wired range,
nothing found) are given as lines to say first.
"""

from collections import defaultdict, deque
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from itertools import takewhile

from tests.dialogue.full_walk_inputs import SOON_S, Memo, Understand, inputs
from tests.dialogue.full_walk_key import CHANGING_POWER, state_key, waiting_step_key
from voicetech.dialogue.decide import decide
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.given import Given, Opening, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.watch import NOTHING_PROVED, Watch, broken_rule, watched
from voicetech.events import (
    AnswerTaken,
    Channel,
    Event,
    PartInspected,
    ReadingTaken,
    SectionEnded,
    StepDeferred,
    StepDone,
    StepEntered,
    StepSkipped,
)
from voicetech.heard import typed
from voicetech.procedure import Procedure
from voicetech.session import Session, Taken, evolve, opened

Progress = Callable[[int, int, int], None]
Decide = Callable[[Procedure, Session | None, Given], tuple[Event, ...]]


@dataclass(frozen=True, slots=True)
class State:
    """One state of the walk: a session that stands for it, and what the watcher believes."""

    session: Session
    watch: Watch
    at_s: float


@dataclass(frozen=True, slots=True)
class Walked:
    """What a walk found: how many states and moves, which steps were asked, and the first broken rule with its path."""

    states: int
    moves: int
    steps_asked: frozenset[tuple[str, str]]
    broken: str | None
    path: tuple[str, ...]


def walk(
    procedure: Procedure,
    understand: Understand,
    decide: Decide = decide,
    starts: Sequence[Sequence[str]] = ((),),
    most_states: int = 1_000_000,
    progress: Progress = lambda _found, _left, _moves: None,
) -> Walked:
    """Return what walking every reachable state of the procedure found; RuntimeError past `most_states`.

    Each of `starts` is what is said after the opening before the walk begins. `progress` is told after each thousand
    states how many were found, how many of them are left to try, and the moves made.
    """
    return _Walk(procedure, understand, decide, most_states, proof_s(procedure), progress).run(starts)


@dataclass(frozen=True, slots=True)
class _WayOut:
    """A move that ends a section put in front of a waiting step: from which state, by which input."""

    state: State
    key: Hashable
    name: str
    given: Given


@dataclass(slots=True)
class _Walk:
    procedure: Procedure
    understand: Understand
    decide: Decide
    most_states: int
    lasts_s: float
    progress: Progress
    tried: int = 0
    moves: int = 0
    broken: str | None = None
    path: tuple[str, ...] = ()
    asked: set[tuple[str, str]] = field(default_factory=set)
    came_from: dict[Hashable, tuple[Hashable | None, str]] = field(default_factory=dict)
    queue: deque[tuple[State, Hashable]] = field(default_factory=deque)
    memo: Memo = field(default_factory=dict)
    waiting: dict[Hashable, dict[Hashable, Session]] = field(default_factory=lambda: defaultdict(dict))
    """Sessions in which a step waits, by the section in front of it and what the step needs."""
    ways_out: dict[Hashable, list[_WayOut]] = field(default_factory=lambda: defaultdict(list))

    def run(self, starts: Sequence[Sequence[str]]) -> Walked:
        for lines in starts:
            start = self._start(lines)
            key = self._key(start)
            self.came_from.setdefault(key, (None, f"the job is opened, then: {', '.join(lines) or 'nothing'}"))
            self.queue.append((start, key))
        while self.queue and self.broken is None:
            self._from(*self.queue.popleft())
        return Walked(len(self.came_from), self.moves, frozenset(self.asked), self.broken, self.path)

    def _from(self, state: State, key: Hashable) -> None:
        session = state.session
        self.tried += 1
        if self.tried % 1000 == 0:
            self.progress(len(self.came_from), len(self.queue), self.moves)
        if session.at is not None:
            self.asked.add((session.at.section, session.at.step))
        for name, given in inputs(self.procedure, session, state.at_s, self.understand, self.memo, self.lasts_s):
            events = self._try(state, key, name, given)
            if self.broken is not None:
                return
            if self._front(session) is not None and _leads_out(session, events):
                self._led_out(_WayOut(state, key, name, given))

    def _try(self, state: State, key: Hashable, name: str, given: Given) -> tuple[Event, ...]:
        self.moves += 1
        before = state.session
        events = self.decide(self.procedure, before, given)
        reached = self._after(state, given, events)
        after = reached.session
        self.broken = broken_rule(
            self.procedure, state.watch, reached.watch, before, given, events, after, self.lasts_s
        )
        if self.broken is not None:
            self.path = (*self._path(key), _told(name, after))
            return events
        reached_key = self._key(reached)
        if reached_key not in self.came_from:
            if len(self.came_from) == self.most_states:
                raise RuntimeError(f"more than {self.most_states} states; the walk does not end")
            self.came_from[reached_key] = (key, _told(name, after))
            self.queue.append((reached, reached_key))
        if after.resume != before.resume or _section_at(after) != _section_at(before):
            self._waits(after)
        return events

    def _waits(self, session: Session) -> None:
        """Note a step that waits, and take every way out known so far for it."""
        front = self._front(session)
        if front is None or session.resume is None:
            return
        known = self.waiting[front]
        which = waiting_step_key(self.procedure, session, session.resume)
        if which in known:
            return
        known[which] = session
        for way in tuple(self.ways_out[front]):
            self._take(way, session)

    def _led_out(self, way: _WayOut) -> None:
        """Note a way out, and take it for every step that was seen waiting."""
        front = self._front(way.state.session)
        self.ways_out[front].append(way)
        for session in tuple(self.waiting[front].values()):
            self._take(way, session)

    def _take(self, way: _WayOut, waiting: Session) -> None:
        if self.broken is None and waiting.resume is not None:
            state = _in_place_of(self.procedure, way.state, waiting)
            told = f"{way.name} (with {waiting.resume.section}/{waiting.resume.step} waiting)"
            self._try(state, way.key, told, way.given)

    def _front(self, session: Session) -> Hashable | None:
        """Return the section in front of the waiting step and what that step needs, or None where none waits."""
        at, waiting = session.at, session.resume
        if at is None or waiting is None or self.procedure.section(at.section).role not in CHANGING_POWER:
            return None
        return at.section, self.procedure.step(waiting.section, waiting.step).needs

    def _start(self, lines: Sequence[str]) -> State:
        first, *rest = self.decide(self.procedure, None, Opening("walk", Channel.CHAT, 0.0))
        session = opened(first)  # type: ignore[arg-type]  # an opening's first event is the job's opening
        for event in rest:
            session = evolve(session, event)
        state = State(session, NOTHING_PROVED, 0.0)
        for line in lines:
            meaning = self.understand(line, question_for(self.procedure, state.session))
            given = Words(typed(line), Weighed.ACCEPTED, Channel.CHAT, state.at_s + SOON_S, meaning)
            state = self._after(state, given, self.decide(self.procedure, state.session, given))
        return state

    def _after(self, state: State, given: Given, events: Sequence[Event]) -> State:
        session = state.session
        for event in events:
            session = evolve(session, event)
        return State(session, watched(self.procedure, state.watch, state.session, given, events), given.at_s)

    def _key(self, state: State) -> Hashable:
        return state_key(self.procedure, state.session, state.watch, state.at_s)

    def _path(self, key: Hashable) -> tuple[str, ...]:
        steps: list[str] = []
        at: Hashable | None = key
        while at is not None:
            at, told = self.came_from[at]
            steps.append(told)
        return tuple(reversed(steps))


def _told(name: str, after: Session) -> str:
    place = f"{after.at.section}/{after.at.step}" if after.at else "nowhere"
    return f"{name} -> {after.turn.value} at {place}"


def _leads_out(before: Session, events: Sequence[Event]) -> bool:
    """Return whether the step that waited is tried from another section."""
    at, waiting = before.at, before.resume
    if at is None or waiting is None or at.section == waiting.section:
        return False
    tried = [e for e in events if isinstance(e, (StepEntered, StepDeferred))]
    return any((e.section, e.step) == (waiting.section, waiting.step) for e in tried) and (
        tried[-1].section != at.section
    )


def _in_place_of(procedure: Procedure, front: State, waiting: Session) -> State:
    """Return the state in the section in front, reached from another session in which a step waits.

    What the sections in front put on record follows what the other session has on record, as it does in a job.
    """
    session = front.session
    own = tuple(reversed(list(takewhile(lambda taken: _in_front(procedure, taken), reversed(session.record)))))
    numbers = {taken.seq: waiting.next_seq + n for n, taken in enumerate(own)}
    earlier = tuple(_made_earlier(taken, session.opened_at_s) for taken in waiting.record)
    return State(
        replace(
            session,
            resume=waiting.resume,
            record=(*earlier, *(replace(taken, seq=numbers[taken.seq]) for taken in own)),
            next_seq=waiting.next_seq + len(own),
        ),
        replace(front.watch, safety_seq=numbers.get(front.watch.safety_seq, 0)),
        front.at_s,
    )


def _in_front(procedure: Procedure, taken: Taken) -> bool:
    section = _section_of(taken)
    return section is not None and procedure.section(section).role is not None


def _made_earlier(taken: Taken, at_s: float) -> Taken:
    """Return a result from before the proof that is in the making: two sessions do not share a clock."""
    match taken:
        case ReadingTaken() | AnswerTaken() | PartInspected() | StepDone() | StepSkipped():
            return replace(taken, at_s=at_s)
        case _:
            return taken


def _section_at(session: Session) -> str | None:
    return None if session.at is None else session.at.section


def _section_of(taken: Taken) -> str | None:
    match taken:
        case ReadingTaken() | AnswerTaken() | PartInspected() | StepDone() | StepSkipped() | SectionEnded():
            return taken.section
        case _:
            return None
