"""A job as it stands: what the events so far add up to.

`evolve` folds one event into the session and decides nothing. What may happen next is `dialogue.decide`'s.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Final, assert_never

from voicetech.events import (
    AnswerProposed,
    AnswerTaken,
    AnswerWithdrawn,
    Asked,
    CausesExcluded,
    CauseShown,
    Channel,
    DangerDenied,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    DeadProved,
    Event,
    HandedOver,
    HoldTaken,
    Ignored,
    InputReceived,
    Isolated,
    JobClosed,
    JobOpened,
    JobReopened,
    ListeningBegan,
    NoteTaken,
    PairReadDead,
    PairReadLive,
    PartInspected,
    Paused,
    PowerRestored,
    ProbesAwaited,
    ProgramTold,
    PromptsSet,
    ProofEnded,
    ProposalDropped,
    ReadingTaken,
    ReasonAwaited,
    Refused,
    Remarked,
    Replied,
    Resumed,
    RivalsOffered,
    SaidAgain,
    SectionEnded,
    SoundAgreed,
    SoundAsked,
    StepDeferred,
    StepDone,
    StepEntered,
    StepSkipped,
    StopCleared,
    SupplyClassified,
    TesterProved,
    TimePassed,
    VoiceChanged,
)
from voicetech.heard import PRESSED, TYPED
from voicetech.language.meaning import DangerKind
from voicetech.turn import Move, Turn, advance

Taken = (
    ReadingTaken
    | SupplyClassified
    | AnswerTaken
    | PartInspected
    | StepDone
    | StepSkipped
    | SectionEnded
    | CauseShown
    | CausesExcluded
    | HandedOver
)
"""Events that count as results; each carries the number of the answer it came from."""


REOPENED = "reopened"
"""How a section ended that is begun anew: what was measured in it before no longer counts for it."""
OVERHEARD = frozenset({"ignored", "late"})
MOST_UNHEEDED = 3
"""Sounds that are remembered though they were not taken."""
"""The outcomes of words that were not meant for the program, or for what stood open: they hand no job to another
device."""

ANSWERS = (ReadingTaken, AnswerTaken, PartInspected, StepDone, StepSkipped)
"""The results a technician gave; the others follow from them."""


class Power(StrEnum):
    """What is known of the appliance's power."""

    UNKNOWN = "unknown"
    """Nothing was said since the last thing that could have changed it: treated as on."""
    ON = "on"
    OFF = "off"
    """Isolated; dead only once that is proved."""


@dataclass(frozen=True, slots=True)
class Safety:
    """How far making safe, or making ready for power, has come."""

    power: Power = Power.UNKNOWN
    isolated_by: str | None = None
    tester_before: bool = False
    dead_pairs: frozenset[str] = frozenset()
    began_at_s: float | None = None
    """When the tester was proved for the proof that stands or is being made; a proof ages from here."""
    proved_at_s: float | None = None
    ready: str | None = None
    """Which hold before power was taken since the last isolation: "live" or "covers"."""


@dataclass(frozen=True, slots=True)
class Cursor:
    """Which step is asked: its section, the pair of a measuring step (from 0) and the attempt (from 1)."""

    section: str
    step: str
    pair: int = 0
    attempt: int = 1


@dataclass(frozen=True, slots=True)
class Unheeded:
    """What was likeliest in a sound that was not taken, and when, in seconds."""

    text: str
    at_s: float


@dataclass(frozen=True)
class Session:
    """One job, folded from its events.

    Without slots, so that `changed` copies its fields at once.
    """

    job: str
    procedure: str
    digest: str
    channel: Channel
    by_voice: bool = False
    """Whether the last words were spoken, so that they may have been misheard."""
    turn: Turn = Turn.ASKING
    at: Cursor | None = None
    resume: Cursor | None = None
    """The step that waits while another is put in front of it."""
    safety: Safety = Safety()
    record: tuple[Taken, ...] = ()
    next_seq: int = 1
    pending: AnswerProposed | RivalsOffered | None = None
    words_for: str | None = None
    doubt: DangerKind | None = None
    doubt_words: str = ""
    doubt_finding: bool = False
    doubt_answers: str = ""
    before_doubt: Turn | None = None
    danger: DangerKind | None = None
    handed_over: str | None = None
    notes: tuple[str, ...] = ()
    times_said_again: int = 0
    unheeded: tuple[Unheeded, ...] = ()
    """What was heard since the question was asked, or last answered, and not taken."""
    covers_open: bool = False
    """Whether hands have been inside since the covers were last said to be on."""
    short_prompts: bool = False
    read_back: bool = False
    """Whether the last reply read an answer back, so that "no, two forty" replaces it."""
    sound_asked: bool = False
    """Whether the open question is whether sound may be kept, before the open step's own."""
    sound_kept: bool | None = None
    """Whether sound may be kept; None where nobody was asked, and then it is not."""
    last_at_s: float = 0.0
    opened_at_s: float = 0.0
    outcome: str | None = None

    @property
    def answers(self) -> Mapping[str, str]:
        """Return the standing answer of each field."""
        return {taken.field: taken.value for taken in self.record if isinstance(taken, AnswerTaken)}

    @property
    def open(self) -> Hashable:
        """Return what stands open, as far as an answer to it may be an answer to nothing else."""
        return self.turn, self.at, self.pending, self.sound_asked

    @property
    def readings(self) -> tuple[ReadingTaken, ...]:
        """Return the standing readings in the order they were taken."""
        return tuple(taken for taken in self.record if isinstance(taken, ReadingTaken))

    @property
    def current_readings(self) -> tuple[ReadingTaken, ...]:
        """Return the standing readings of each section's latest visit: those before it was begun anew do not count."""
        current: dict[str, list[ReadingTaken]] = {}
        for taken in self.record:
            match taken:
                case SectionEnded(section=section, how=how) if how == REOPENED:
                    current.pop(section, None)
                case ReadingTaken(section=section):
                    current.setdefault(section, []).append(taken)
                case _:
                    pass
        return tuple(reading for readings in current.values() for reading in readings)

    def readings_of(self, cursor: Cursor) -> Mapping[str, ReadingTaken]:
        """Return this visit's and attempt's readings of the step at the cursor, by label, the latest of each."""
        return {
            r.label: r
            for r in self.current_readings
            if (r.section, r.step, r.attempt) == (cursor.section, cursor.step, cursor.attempt)
        }

    @property
    def ended(self) -> Mapping[str, str]:
        """Return how each section that is over ended."""
        over: dict[str, str] = {}
        for taken in self.record:
            if isinstance(taken, SectionEnded):
                if taken.how == REOPENED:
                    over.pop(taken.section, None)
                else:
                    over[taken.section] = taken.how
        return over

    @property
    def excluded(self) -> frozenset[str]:
        """Return the causes that were ruled out."""
        return frozenset(c for taken in self.record if isinstance(taken, CausesExcluded) for c in taken.causes)

    @property
    def proved(self) -> tuple[str, ...]:
        """Return the causes proved and not ruled out since, in the order they were shown."""
        shown: dict[str, None] = {}
        for taken in self.record:
            match taken:
                case CauseShown(cause=cause, proved=True):
                    shown[cause] = None
                case CausesExcluded(causes=causes):
                    for cause in causes:
                        shown.pop(cause, None)
                case _:
                    pass
        return tuple(shown)

    @property
    def lead_ohm(self) -> Decimal | None:
        """Return what the leads read touched together, or None while they are not nulled."""
        value = self.answers.get("lead_ohm")
        return None if value is None else Decimal(value)

    @property
    def last_answer(self) -> "ReadingTaken | AnswerTaken | PartInspected | StepDone | StepSkipped | None":
        """Return the latest result the technician gave that still counts, or None."""
        return next((taken for taken in reversed(self.record) if isinstance(taken, ANSWERS)), None)

    def proof_stands(self, at_s: float, proof_s: float) -> bool:
        """Return whether a proof of dead stands at this time; `proof_s` is how long one lasts in seconds."""
        began_at_s = self.safety.began_at_s
        if self.safety.proved_at_s is None or began_at_s is None:
            return False
        return 0 <= at_s - began_at_s < proof_s


if TYPE_CHECKING:
    changed = replace
else:

    def changed(session, /, **changes):
        """Return the session with these changes; a tenth of what `replace` takes, which makes every field anew."""
        made = object.__new__(type(session))
        made.__dict__.update(session.__dict__, **changes)
        if len(made.__dict__) != len(session.__dict__):
            raise TypeError(f"a session has no {', '.join(changes.keys() - session.__dict__.keys())}")
        return made


def opened(event: JobOpened) -> Session:
    """Return the session of a job that has just begun."""
    return Session(
        job=event.job,
        procedure=event.procedure,
        digest=event.digest,
        channel=event.channel,
        by_voice=event.channel is Channel.VOICE,
        last_at_s=event.at_s,
        opened_at_s=event.at_s,
    )


def fold(events: Iterable[Event]) -> Session:
    """Return the session all these events add up to; ValueError where the first is not the job's opening."""
    stream = iter(events)
    first = next(stream, None)
    if not isinstance(first, JobOpened):
        raise ValueError("a job's record begins with its opening")
    session = opened(first)
    for event in stream:
        session = evolve(session, event)
    return session


def followed(session: Session | None, event: Event) -> Session:
    """Return the session after the event; ValueError where a job's first event is not its opening."""
    if isinstance(event, JobOpened):
        return opened(event)
    if session is None:
        raise ValueError("a job's record begins with its opening")
    return evolve(session, event)


def _spoken(channel: Channel, engine: str) -> bool:
    return channel is Channel.VOICE or (channel is Channel.PAGE and engine not in (TYPED, PRESSED))


_NOT_TAKEN: Final = frozenset({"ignored", "again"})


def _unheeded(session: Session, received: InputReceived) -> tuple[Unheeded, ...]:
    if received.outcome not in _NOT_TAKEN or not _spoken(received.channel, received.engine):
        return ()
    if not received.alternatives or received.for_us <= 0.0:
        return session.unheeded
    latest = Unheeded(received.alternatives[0].text, received.at_s)
    return (*session.unheeded, latest)[-MOST_UNHEEDED:]


def evolve(session: Session, event: Event) -> Session:
    """Return the session after the event."""
    match event:
        case JobOpened():
            return opened(event)
        case JobReopened(channel=channel):
            by_voice = channel is Channel.VOICE
            return changed(session, channel=channel, by_voice=by_voice, pending=None, sound_asked=False)
        case SoundAsked():
            return changed(session, sound_asked=True, times_said_again=0)
        case SoundAgreed(kept=kept):
            return changed(session, sound_asked=False, sound_kept=kept, times_said_again=0)
        case InputReceived(channel=channel, at_s=at_s, outcome=outcome, engine=engine):
            overheard = outcome in OVERHEARD
            return changed(
                session,
                unheeded=_unheeded(session, event),
                channel=session.channel if overheard else channel,
                by_voice=session.by_voice if overheard else _spoken(channel, engine),
                last_at_s=max(at_s, session.last_at_s),
                read_back=session.read_back and overheard,
            )
        case StepEntered(section=section, step=step, pair=pair, attempt=attempt):
            return changed(
                _moved(session, Move.ASK),
                at=Cursor(section, step, pair, attempt),
                pending=None,
                words_for=None,
                times_said_again=0,
                unheeded=(),
            )
        case StepDeferred(section=section, step=step, pair=pair, attempt=attempt):
            return changed(session, resume=Cursor(section, step, pair, attempt))
        case AnswerProposed():
            return changed(_moved(session, Move.PROPOSE), pending=event, read_back=True, times_said_again=0)
        case RivalsOffered():
            return changed(_moved(session, Move.OFFER), pending=event)
        case ProposalDropped():
            return changed(_moved(session, Move.ASK), pending=None)
        case ReadingTaken() | SupplyClassified() | AnswerTaken() | PartInspected() | StepDone() | StepSkipped():
            return _taken(session, event)
        case SectionEnded() | CauseShown() | CausesExcluded():
            return _taken(session, event)
        case AnswerWithdrawn(seq=seq):
            return changed(session, record=tuple(taken for taken in session.record if taken.seq < seq))
        case PowerRestored() | Isolated() | TesterProved() | PairReadDead() | PairReadLive():
            return changed(session, safety=_safety_after(session.safety, event))
        case DeadProved():
            return changed(session, safety=_safety_after(session.safety, event), covers_open=True)
        case HoldTaken(hold=hold):
            still_open = session.covers_open and hold != "covers"
            return changed(session, safety=_safety_after(session.safety, event), covers_open=still_open)
        case ProofEnded():
            return changed(session, safety=_safety_after(session.safety, event))
        case ProbesAwaited():
            return changed(_moved(session, Move.KEEP_PROBES), pending=None)
        case ReasonAwaited(how=how):
            return changed(_moved(session, Move.WANT_REASON), words_for=how, pending=None)
        case Paused(on_call=on_call):
            return changed(_moved(session, Move.CALL if on_call else Move.PAUSE), pending=None, sound_asked=False)
        case Resumed():
            return _moved(session, Move.RESUME)
        case DangerDoubted(kind=kind, words=words, finding=finding, answers=answers):
            return changed(
                _moved(session, Move.DOUBT_SAFETY),
                doubt=kind,
                doubt_words=words,
                doubt_finding=finding,
                doubt_answers=answers,
                before_doubt=session.turn,
                pending=None,
                sound_asked=False,
            )
        case DangerDenied():
            return _after_denial(session)
        case DangerStopped(kind=kind):
            return changed(
                _moved(session, Move.ALARM),
                danger=kind,
                doubt=None,
                before_doubt=None,
                pending=None,
                words_for=None,
                sound_asked=False,
            )
        case StopCleared():
            return _moved(session, Move.CLEAR)
        case DangerRecounted():
            return changed(session, danger=None)
        case HandedOver(reason=reason):
            after = _moved(session, Move.HAND_OVER)
            return changed(_taken(after, event), handed_over=reason, pending=None, resume=None)
        case NoteTaken(text=text):
            return changed(session, notes=(*session.notes, text))
        case SaidAgain():
            return changed(session, times_said_again=session.times_said_again + 1)
        case PromptsSet(short=short):
            return changed(session, short_prompts=short)
        case JobClosed(outcome=outcome):
            return changed(_moved(session, Move.CLOSE), outcome=outcome, pending=None)
        case Asked():
            return changed(session, times_said_again=0)
        case Refused() | Remarked() | VoiceChanged() | Ignored() | Replied():
            return session
        case TimePassed() | ProgramTold() | ListeningBegan():
            return session
        case _:
            assert_never(event)


def _moved(session: Session, move: Move) -> Session:
    return changed(session, turn=advance(session.turn, move))


def _taken(session: Session, event: Taken) -> Session:
    return changed(
        session,
        record=(*session.record, event),
        next_seq=max(session.next_seq, event.seq + 1),
        read_back=session.read_back or isinstance(event, (ReadingTaken, AnswerTaken)),
    )


def _after_denial(session: Session) -> Session:
    match session.before_doubt:
        case Turn.PAUSED:
            after = _moved(session, Move.PAUSE)
        case Turn.ON_CALL:
            after = _moved(_moved(session, Move.PAUSE), Move.CALL)
        case Turn.HANDED_OVER:
            after = _moved(session, Move.HAND_OVER)
        case _:
            after = _moved(session, Move.ASK)
    return changed(after, doubt=None, before_doubt=None)


def _safety_after(
    safety: Safety,
    event: PowerRestored | Isolated | TesterProved | PairReadDead | PairReadLive | DeadProved | ProofEnded | HoldTaken,
) -> Safety:
    match event:
        case ProofEnded():
            return Safety()
        case PowerRestored():
            return Safety(power=Power.ON, ready=safety.ready)
        case HoldTaken(hold=hold):
            return replace(safety, ready=hold)
        case Isolated(by=by):
            return Safety(power=Power.OFF, isolated_by=by)
        case TesterProved(before=True, at_s=at_s):
            return replace(safety, tester_before=True, dead_pairs=frozenset(), began_at_s=at_s, proved_at_s=None)
        case TesterProved():
            return safety
        case PairReadDead(label=label):
            return replace(safety, dead_pairs=safety.dead_pairs | {label})
        case PairReadLive(label=label):
            return replace(safety, dead_pairs=safety.dead_pairs - {label}, proved_at_s=None)
        case DeadProved(at_s=at_s):
            return replace(safety, proved_at_s=at_s)
        case _:
            assert_never(event)
