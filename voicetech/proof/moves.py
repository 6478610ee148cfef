"""What the walk tries at a state: every kind of thing that can be said, done or happen, with each verdict and choice.

Words come as what they mean, so that nothing hangs on how they were understood; each is named as a technician would
say it. What hangs on the rest of the record, such as which answer an undo reaches, is tried in every way there is.
"""

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import PROBES_OFF
from voicetech.dialogue.given import Given, KeepSound, Listening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.watch import AT_WORK
from voicetech.events import AnswerTaken, Channel, ReadingTaken, StepDone
from voicetech.heard import typed
from voicetech.language.meaning import (
    AnswerSaid,
    Command,
    CommandSaid,
    CorrectionSaid,
    DangerKind,
    DangerSaid,
    Meaning,
    ReadingSaid,
    Unclear,
    WordsSaid,
)
from voicetech.procedure import Measure, Phase, SafetyRole, SectionRole
from voicetech.proof.answers import answers, together
from voicetech.proof.compiled import Compiled
from voicetech.proof.states import LEAD_FIELD, State, own_answers
from voicetech.session import Session, Taken, changed
from voicetech.turn import Turn
from voicetech.units import Unit

SOON_S: Final = 0.001
_MOST: Final = 0.6
"""Part of the time a proof lasts: once is less than all of it, twice is more."""
_OTHER_DEVICE: Final = Channel.VOICE
_WANTED_HERE: Final[tuple[tuple[str, Command, str | None], ...]] = (
    ("done", Command.DONE, None),
    ("next", Command.NEXT, None),
    ("skip", Command.SKIP, None),
    ("skip because it is fine", Command.SKIP, "it is fine"),
    ("not fitted", Command.NOT_FITTED, None),
    ("can't reach it", Command.CANNOT_REACH, None),
    ("later", Command.LATER, None),
    ("cancel", Command.CANCEL, None),
    ("close the job", Command.CLOSE, None),
    ("power is on", Command.POWER_IS_ON, None),
)
"""Requests whose effect may hang on the open step."""
_WANTED_ANYWHERE: Final[tuple[tuple[str, Command, str | None], ...]] = (
    ("pause", Command.HOLD, None),
    ("resume", Command.RESUME, None),
    ("I'm leaving", Command.LEAVING, None),
    ("call mode", Command.CALL_MODE, None),
    ("note", Command.NOTE, None),
    ("note: the cord is chafed", Command.NOTE, "the cord is chafed"),
    ("go to the moon", Command.GO_TO, "the-moon"),
    ("it is safe again", Command.SAFE_AGAIN, None),
    *(
        (command.value, command, None)
        for command in (
            Command.REPEAT, Command.STATUS, Command.HOWTO, Command.WHERE, Command.WHY, Command.LIMIT, Command.DECIDE,
            Command.HUSH, Command.SLOWER, Command.FASTER, Command.LOUDER, Command.QUIETER, Command.SHORTER,
            Command.LONGER,
        )
    ),
)  # fmt: skip
_DANGER: Final = (
    ("stop", DangerSaid(DangerKind.STOP, words="stop")),
    ("it's sparking", DangerSaid(DangerKind.SPARKS, words="sparking")),
    ("I smell gas", DangerSaid(DangerKind.GAS, words="gas")),
    ("it sparked last night", DangerSaid(DangerKind.SPARKS, present=False, words="sparked")),
    ("it smoked, yes", DangerSaid(DangerKind.FIRE, present=False, words="smoked", answers="yes")),
    ("don't stop", DangerSaid(DangerKind.STOP, present=False, words="stop")),
)


@dataclass(frozen=True, slots=True)
class Tried:
    """One thing to try: in words, the state it is tried at, and what is handed to `decide`."""

    words: str
    state: State
    given: Given


def at_work(session: Session) -> bool:
    """Return whether the open step is what words are an answer to."""
    return session.turn in AT_WORK and not session.sound_asked


def step_kind(compiled: Compiled, session: Session) -> Hashable:
    """Return what a request that anybody may make at any time can hang on: the kind of the open step."""
    if session.at is None:
        return None
    section, step = compiled.at(session.at)
    return type(step).__name__, step.needs, step.role, section.role, section.phase


def moves_here(compiled: Compiled, state: State) -> Iterator[Tried]:
    """Yield what may do something else at each step: answers, and requests about the step."""
    session = state.session
    if session.at is None:
        return
    _section, step = compiled.at(session.at)
    if not at_work(session):
        return
    told: list[tuple[str, Session, Meaning]] = [
        ("yes", session, AnswerSaid(True)),
        ("no", session, AnswerSaid(False)),
        *answers(compiled, session, step),
        (PROBES_OFF[0], session, WordsSaid(PROBES_OFF[0])),
    ]
    if own_answers(session, session.at) or session.turn in (Turn.CONFIRMING, Turn.CHOOSING, Turn.REASON):
        told += [(words, session, meaning) for words, meaning in _TAKING_BACK]
    for number, (words, tried_with, meaning) in enumerate(told):
        tried = State(tried_with, state.watch, state.at_s)
        yield _said(words, tried, meaning)
        if number < 3 or words == PROBES_OFF[0]:
            yield from _otherwise(compiled, words, tried, meaning)
    for words, command, argument in _WANTED_HERE:
        yield _said(words, state, CommandSaid(command, argument))
    if isinstance(step, Measure):
        for kind, tried_with in together(session, step, session.at):
            tried = State(tried_with, state.watch, state.at_s)
            yield _said(f"{PROBES_OFF[0]} ({kind})", tried, WordsSaid(PROBES_OFF[0]))


def _rivals(state: State) -> Iterator[Tried]:
    two = ReadingSaid(Decimal(119), None), ReadingSaid(Decimal(190), None)
    yes_no = AnswerSaid(True), AnswerSaid(False)
    for rivals in (two, yes_no, (AnswerSaid(True), CommandSaid(Command.REPEAT))):
        given = Words(typed("…"), Weighed.ASK, state.session.channel, state.at_s + SOON_S, rivals=rivals)
        yield Tried("something that may be two answers", state, given)


def moves_anywhere(compiled: Compiled, state: State) -> Iterator[Tried]:
    """Yield what does the same at every step of a kind: danger, time, other devices, pauses, undo and questions."""
    session = state.session
    for words, danger in _DANGER:
        yield _said(words, state, danger)
        yield _said(f"{words} (from another device)", state, danger, _OTHER_DEVICE)
    for words, command, argument in _WANTED_ANYWHERE:
        yield _said(words, state, CommandSaid(command, argument))
    yield from _places(compiled, state)
    yield from _told_off(compiled, state)
    yield from _rivals(state)
    if not at_work(session):
        for words, meaning in (("yes", AnswerSaid(True)), ("no", AnswerSaid(False)), ("two forty", _TWO_FORTY)):
            yield _said(words, state, meaning)
            yield from _otherwise(compiled, words, state, meaning)
        for words, command, argument in _WANTED_HERE:
            yield _said(words, state, CommandSaid(command, argument))
    yield _said(CLEAR_WORDS[0], state, WordsSaid(CLEAR_WORDS[0]))
    yield _said("it is safe", state, WordsSaid("it is safe"))
    yield _said("banana bread", state, Unclear(ask="Say again?"))
    yield _said("banana bread (not sure)", state, Unclear(ask="Say again?"), weighed=Weighed.AGAIN)
    for channel in (session.channel, _OTHER_DEVICE):
        yield _said("noise", state, None, channel, Weighed.IGNORED)
    yield _said("yes (to a question that is closed)", state, AnswerSaid(True), _OTHER_DEVICE, Weighed.LATE)
    yield Tried("", state, Words(typed(""), Weighed.ACCEPTED, session.channel, state.at_s + SOON_S, None))
    late_s, early_s = _late_s(compiled, state), state.at_s - 3600
    yield Tried("time runs out", state, Tick(late_s))
    yield Tried("some time passes", state, Tick(state.at_s + _MOST * compiled.lasts_s))
    yield Tried("the clock is set back", state, Tick(early_s))
    for keep in (KeepSound.OFF, KeepSound.ASK):
        for channel in (session.channel, _OTHER_DEVICE):
            reopening = Reopening(channel, "the program was started again", state.at_s + SOON_S, keep)
            yield Tried("the program is started again", state, reopening)
    for keep in (KeepSound.ASK, KeepSound.AGREED):
        listening = Listening(_OTHER_DEVICE, state.at_s + SOON_S, keep)
        yield Tried("the microphone is turned on", state, listening)


_TWO_FORTY: Final = ReadingSaid(Decimal(240), Unit.VOLT)
_TAKING_BACK: Final[tuple[tuple[str, Meaning], ...]] = (
    ("undo", CommandSaid(Command.UNDO)),
    ("scratch that", CorrectionSaid()),
    ("no, two forty", CorrectionSaid(ReadingSaid(Decimal(240), None))),
)


def _otherwise(compiled: Compiled, words: str, state: State, meaning: Meaning) -> Iterator[Tried]:
    """Yield an answer as it comes from another device, too late, and with the clock set back."""
    yield _said(f"{words} (from another device)", state, meaning, _OTHER_DEVICE)
    if state.session.safety.began_at_s is not None:
        late = State(state.session, state.watch, _late_s(compiled, state) - SOON_S)
        yield _said(f"{words} (after the proof has run out)", late, meaning)
        back = State(state.session, state.watch, state.at_s - 3600)
        yield _said(f"{words} (with the clock set back)", back, meaning)
        at = state.session.at
        if at is not None and compiled.at(at)[0].role is SectionRole.MAKE_SAFE:
            slow = State(state.session, state.watch, state.at_s + _MOST * compiled.lasts_s)
            yield _said(f"{words} (after some time)", slow, meaning)


def _places(compiled: Compiled, state: State) -> Iterator[Tried]:
    """Yield going to tests: one for each need of their first step, because each is entered through one gate."""
    seen: set[object] = set()
    for section in compiled.procedure.sections:
        first = next((step for step in section.steps if not step.when), section.steps[0])
        wanted = section.phase is Phase.TEST and section.role is None
        if (wanted, first.needs) in seen or not section.steps:
            continue
        seen.add((wanted, first.needs))
        name = section.call[0] if section.call else section.title
        yield _said(f"go to {name}", state, CommandSaid(Command.GO_TO, section.id))


def _told_off(compiled: Compiled, state: State) -> Iterator[Tried]:
    """Yield taking back the latest answer, for each kind of answer that may be the latest."""
    session = state.session
    if not at_work(session) or session.at is None or session.turn in (Turn.CONFIRMING, Turn.CHOOSING):
        return
    if own_answers(session, session.at):
        # Then the latest answer is one of these, and undo is tried as it is.
        return
    for words, meaning in _TAKING_BACK:
        for what, session in _last_answers(compiled, state):
            yield _said(f"{words} ({what})", State(session, state.watch, state.at_s), meaning)


def _last_answers(compiled: Compiled, state: State) -> Iterator[tuple[str, Session]]:
    session, watch = state.session, state.watch
    begun_s = session.safety.proved_at_s or state.at_s
    yield "nothing was answered", changed(session, record=())
    for needs, cursor in compiled.typical.items():
        _section, step = compiled.at(cursor)
        # Whatever the proof or a hold rests on is an answer too, so that the latest answer is never before it.
        taken: Taken = StepDone(session.next_seq, cursor.section, cursor.step, "done", state.at_s)
        if isinstance(step, Measure):
            taken = _reading(step, cursor.section, session.next_seq, state.at_s)
        yield f"of a step that needs it {needs}", _with_last(session, taken)
    for role in (SectionRole.MAKE_SAFE, SectionRole.GO_LIVE, SectionRole.NULL_LEADS):
        section = compiled.by_role(role)
        if section is None:
            continue
        step = section.steps[0]
        seq = session.next_seq if role is SectionRole.NULL_LEADS else watch.safety_seq
        done: Taken = StepDone(seq, section.id, step.id, "done", begun_s)
        kept = session
        if step.role is SafetyRole.NULL_LEADS:
            kept = changed(session, record=())
            done = AnswerTaken(seq, section.id, step.id, LEAD_FIELD, "0.2", unverified=False, at_s=state.at_s)
        # What waited for making safe is still known; any step stands for it.
        kept = kept if kept.resume is not None else changed(kept, resume=session.at)
        yield f"of {section.title}", _with_last(kept, done)


def _with_last(session: Session, taken: Taken) -> Session:
    return changed(session, record=(*session.record, taken), next_seq=max(session.next_seq, taken.seq + 1))


def _reading(step: Measure, section: str, seq: int, at_s: float) -> ReadingTaken:
    return ReadingTaken(
        seq=seq,
        section=section,
        step=step.id,
        label=step.pairs[0].label,
        value=Decimal(120),
        unit=step.unit,
        state=None,
        verdict="within",
        reason="",
        low=None,
        high=None,
        probability_inside=None,
        source="",
        attempt=1,
        needs=step.needs.value,
        lead_ohm=None,
        at_s=at_s,
    )


def _late_s(compiled: Compiled, state: State) -> float:
    return state.at_s + compiled.lasts_s + 1


def _said(
    words: str,
    state: State,
    meaning: Meaning | None,
    channel: Channel | None = None,
    weighed: Weighed = Weighed.ACCEPTED,
) -> Tried:
    given = Words(typed(words), weighed, channel or state.session.channel, state.at_s + SOON_S, meaning)
    return Tried(words, state, given)
