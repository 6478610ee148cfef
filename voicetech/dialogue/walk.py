"""The safety proof: every reachable combination of step, power, age of the proof and turn, through the real `decide`.

The walk starts from an opened job and gives every state every kind of input: each verdict class of each reading,
each choice, yes and no, every request, danger words present and past, the words that end a stop, time running out,
a restart and a hand-over to another device. After each, the watcher's own account of the rules is compared with what
the job does next. A broken rule comes back with the path that leads to it, in words.

Two sessions count as one state when they agree on the open step, pair and attempt, the turn, what waits for a yes,
how far making safe has come and whether the proof's time has run out, what the waiting step needs, what an undo would
reach, which steps of the open section apply, whether a test is left to do, and the watcher's account. What they may
differ in only chooses which step is entered next: which parts are already tested, what else was answered, which step
waits, which device speaks. Every step is entered through one gate, and the walk enters every section from every
safety state by asking for it. Starts other than an opened job (a tripped breaker, a hard-wired range, nothing found)
are given as lines to say first.
"""

from collections import deque
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from voicetech.diagnosis import next_test
from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import PROBES_OFF, decide
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.flow import facts, holds
from voicetech.dialogue.given import Given, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.watch import AT_WORK, NOTHING_PROVED, Watch, broken_rule, watched
from voicetech.events import AnswerProposed, Channel, Event
from voicetech.heard import typed
from voicetech.language.meaning import Asking, Meaning, Question
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Procedure, SectionRole, Step
from voicetech.session import Session, evolve, opened
from voicetech.turn import Turn
from voicetech.units import Unit

Understand = Callable[[str, Question], Meaning]
Decide = Callable[[Procedure, Session | None, Given], tuple[Event, ...]]

_SOON_S = 0.001
_ANSWERING = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON})
_REQUESTS = (
    "repeat",
    "undo",
    "pause",
    "resume",
    "skip",
    "skip because it is fine",
    "not fitted",
    "can't reach it",
    "i'm leaving",
    "call mode",
    "power is on",
    "done",
    "later",
    "cancel",
    "close the job",
    "yes",
    "no",
    "no two forty",
    "scratch that",
    "it's sparking",
    "it sparked last night",
    "banana bread",
)


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
    most_states: int = 200_000,
) -> Walked:
    """Return what walking every reachable state of the procedure found; RuntimeError past `most_states`.

    Each of `starts` is what is said after the opening before the walk begins.
    """
    memo: dict[tuple[str, Hashable], Meaning] = {}
    lasts_s = proof_s(procedure)
    came_from: dict[Hashable, tuple[Hashable | None, str]] = {}
    queue: deque[State] = deque()
    for lines in starts:
        start = _start(procedure, decide, understand, lines)
        told = f"the job is opened, then: {', '.join(lines) or 'nothing'}"
        came_from.setdefault(_key(procedure, start), (None, told))
        queue.append(start)
    moves = 0
    asked: set[tuple[str, str]] = set()
    while queue:
        state = queue.popleft()
        here = _key(procedure, state)
        if state.session.at is not None:
            asked.add((state.session.at.section, state.session.at.step))
        for name, given in _inputs(procedure, state, understand, memo, lasts_s):
            moves += 1
            events = decide(procedure, state.session, given)
            reached = _after(procedure, state, given, events)
            after = reached.session
            broken = broken_rule(procedure, state.watch, reached.watch, state.session, given, events, after, lasts_s)
            key = _key(procedure, reached)
            if broken is not None:
                return Walked(
                    len(came_from), moves, frozenset(asked), broken, (*_path(came_from, here), _told(name, after))
                )
            if key not in came_from:
                came_from[key] = (here, _told(name, after))
                queue.append(reached)
                if len(came_from) > most_states:
                    raise RuntimeError(f"more than {most_states} states; the walk does not end")
    return Walked(len(came_from), moves, frozenset(asked), None, ())


def _start(procedure: Procedure, decide: Decide, understand: Understand, lines: Sequence[str]) -> State:
    events = decide(procedure, None, Opening("walk", Channel.CHAT, 0.0))
    first, *rest = events
    session = opened(first)  # type: ignore[arg-type]  # an opening's first event is the job's opening
    for event in rest:
        session = evolve(session, event)
    state = State(session, NOTHING_PROVED, 0.0)
    for line in lines:
        meaning = understand(line, question_for(procedure, state.session))
        given = Words(typed(line), Weighed.ACCEPTED, Channel.CHAT, state.at_s + _SOON_S, meaning)
        state = _after(procedure, state, given, decide(procedure, state.session, given))
    return state


def _after(procedure: Procedure, state: State, given: Given, events: Sequence[Event]) -> State:
    session = state.session
    for event in events:
        session = evolve(session, event)
    return State(session, watched(procedure, state.watch, state.session, given, events), given.at_s)


def _told(name: str, after: Session) -> str:
    place = f"{after.at.section}/{after.at.step}" if after.at else "nowhere"
    return f"{name} -> {after.turn.value} at {place}"


def _path(came_from: dict[Hashable, tuple[Hashable | None, str]], key: Hashable) -> tuple[str, ...]:
    steps: list[str] = []
    at: Hashable | None = key
    while at is not None:
        at, told = came_from[at]
        steps.append(told)
    return tuple(reversed(steps))


def _key(procedure: Procedure, state: State) -> Hashable:
    session, watch = state.session, state.watch
    safety = session.safety
    pairs_so_far = len(session.readings_of(session.at)) if session.at else 0
    return (
        (session.at.section, session.at.step, session.at.pair, min(session.at.attempt, 3)) if session.at else None,
        session.turn,
        _pending_key(session),
        (safety.power, safety.tester_before, safety.ready, session.covers_open),
        (safety.proved_at_s is not None, len(safety.dead_pairs), pairs_so_far),
        session.proof_stands(state.at_s, proof_s(procedure)),
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
    if session.at is None or procedure.section(session.at.section).role is not None:
        return None
    return frozenset(reading.verdict for reading in session.readings_of(session.at).values())


def _applies_key(procedure: Procedure, session: Session) -> Hashable:
    """Return which steps of the open section apply, whether a cause is proved and whether a test is left to do."""
    if session.at is None:
        return None
    known = facts(procedure, session)
    steps = tuple(holds(step.when, known) for step in procedure.section(session.at.section).steps)
    return steps, bool(session.proved), next_test(procedure, session) is None


def _before_doubt_key(session: Session) -> Hashable:
    """Return where a denied danger leads back to: every turn at work leads back to the open step being asked."""
    before = session.before_doubt
    return (Turn.ASKING if before in AT_WORK else before), session.doubt_finding


def _waiting_key(procedure: Procedure, session: Session) -> Hashable:
    """Return what the step that waits needs, or None where none waits: only sections put in front have one waiting."""
    waiting, at = session.resume, session.at
    if waiting is None or at is None or procedure.section(at.section).role is None:
        return None
    if procedure.section(at.section).role is SectionRole.NULL_LEADS:
        return waiting.section, waiting.step
    return procedure.step(waiting.section, waiting.step).needs


def _undo_key(procedure: Procedure, session: Session) -> Hashable:
    """Return what an undo would reach: nothing, a safety step, an answer before the proof or one after it."""
    last = session.last_answer
    if last is None:
        return "nothing"
    if procedure.section(last.section).role is not None:
        return "safety"
    proved_at_s = session.safety.proved_at_s
    return "before" if proved_at_s is not None and last.at_s < proved_at_s else "after"


def _inputs(
    procedure: Procedure,
    state: State,
    understand: Understand,
    memo: dict[tuple[str, Hashable], Meaning],
    lasts_s: float,
) -> Iterator[tuple[str, Given]]:
    session = state.session
    soon_s = state.at_s + _SOON_S
    late_s = state.at_s + lasts_s + 1
    question = question_for(procedure, session)
    here = (session.at, session.turn, session.read_back)
    other = Channel.VOICE if session.channel is Channel.CHAT else Channel.CHAT
    answers = ("yes", *_answers_here(procedure, session))
    for text in (*_REQUESTS, *_places(session, question), CLEAR_WORDS[0], PROBES_OFF[0], *answers[1:]):
        meaning = memo.get((text, here))
        if meaning is None:
            meaning = memo[text, here] = understand(text, question)

        def said(channel: Channel, at_s: float, text: str = text, meaning: Meaning = meaning) -> Words:
            return Words(typed(text), Weighed.ACCEPTED, channel, at_s, meaning)

        yield text, said(session.channel, soon_s)
        if text not in answers:
            continue
        yield f"{text} (from another device)", said(other, soon_s)
        if session.safety.began_at_s is not None:
            yield f"{text} (after the proof has run out)", said(session.channel, late_s)
    yield "time runs out", Tick(late_s)
    yield "the program is started again", Reopening(session.channel, "the program was started again", soon_s)
    yield "noise", Words(typed("noise"), Weighed.IGNORED, session.channel, soon_s)


def _places(session: Session, question: Question) -> tuple[str, ...]:
    if session.turn is not Turn.ASKING:
        return ()
    return tuple(f"go to {place.hear[0]}" for place in question.places)


def _answers_here(procedure: Procedure, session: Session) -> tuple[str, ...]:
    if session.at is None:
        return ()
    return tuple(_answers(session, procedure.step(session.at.section, session.at.step)))


def _answers(session: Session, step: Step) -> Iterator[str]:
    match step:
        case Measure():
            yield from _readings(session, step)
        case Ask(asking=Asking.CHOICE, choices=choices):
            yield from (choice.hear[0] for choice in choices)
        case Ask(asking=Asking.SERIAL):
            yield "a b one two"
        case Ask(asking=Asking.YES_NO):
            return
        case Ask():
            yield "two forty"
            yield "ten"
        case Inspect():
            yield "looks good"
            yield "it's burnt"
        case Hold(until=until):
            yield until[0]
        case Instruct():
            return


def _readings(session: Session, step: Measure) -> Iterator[str]:
    limits = limits_for(step.limits, session.answers)
    yield "zero"
    yield "one twenty"
    yield "two forty"
    if len(step.pairs) > 1:
        yield "all zero"
    if step.unit is Unit.OHM:
        yield "open"
        yield "it beeps"
        yield "five hundred thousand ohms"
        yield "five megohms"
    low, high = limits.low, limits.high
    if low is not None and high is not None:
        yield f"{((low + high) / 2).quantize(Decimal('0.1'))}"
        yield f"{(high * 3 + 5).quantize(Decimal('0.1'))}"
