"""A record gone through again: its turns, and what today's program would decide in each of them.

Every turn is decided anew from the session that the recorded events had led to, so that one difference does not make
the rest of the job look different. Nothing is written.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Given, KeepSound, Listening, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.reply import reply
from voicetech.events import (
    Event,
    InputReceived,
    JobOpened,
    JobReopened,
    ListeningBegan,
    ProgramTold,
    Replied,
    SoundAgreed,
    SoundAsked,
    TimePassed,
    kind_of,
    payload,
)
from voicetech.language.lexicon import Lexicon
from voicetech.procedure import Procedure
from voicetech.sense import heard_then, made_of
from voicetech.session import Session, followed

Began = JobOpened | JobReopened | InputReceived | ListeningBegan | TimePassed | ProgramTold
"""What a turn begins with."""


@dataclass(frozen=True, slots=True)
class RecordedTurn:
    """One turn of a job as it is on record: what came in, what that caused, and what the program said.

    `number` is the job's number of its first event. `began` is None where a record from before `TimePassed` has what
    time alone had caused; `caused` begins with it otherwise. `before` is the session it was decided in, None for the
    job's opening.
    """

    number: int
    began: Began | None
    caused: tuple[Event, ...]
    replied: Replied | None
    before: Session | None


@dataclass(frozen=True, slots=True)
class Difference:
    """A turn that today's program would decide or word otherwise.

    `then` and `now` are the events in words, those that both have left out; `worded_only` says that the same was
    decided and only the reply reads otherwise. `error` is why the turn cannot be decided by today's program at all.
    """

    number: int
    said: str
    then: tuple[str, ...]
    now: tuple[str, ...]
    worded_only: bool = False
    error: str = ""


def turns_of(events: Sequence[Event], numbers: Sequence[int] | None = None) -> tuple[RecordedTurn, ...]:
    """Return the turns of a job; `numbers` are those of its events where some could not be read.

    Raises ValueError where the events do not begin with the job's opening, or where one of them cannot follow
    the others by the table of turns.
    """
    return tuple(_turns(events, numbers or range(1, len(events) + 1)))


def _turns(events: Sequence[Event], numbers: Sequence[int]) -> Iterator[RecordedTurn]:
    if not events or not isinstance(events[0], JobOpened):
        raise ValueError("a job's record begins with its opening")
    session: Session | None = None
    before: Session | None = None
    current: list[Event] = []
    first = 1
    replied: Replied | None = None
    for number, event in zip(numbers, events, strict=True):
        if current and (isinstance(event, Began) or replied is not None):
            yield _turn(first, current, replied, before)
            current, replied = [], None
        if not current:
            first, before = number, session
        if isinstance(event, Replied):
            replied = event
        current.append(event)
        session = followed(session, event)
    if current:
        yield _turn(first, current, replied, before)


def _turn(number: int, events: list[Event], replied: Replied | None, before: Session | None) -> RecordedTurn:
    caused = tuple(event for event in events if not isinstance(event, Replied))
    began = caused[0] if caused and isinstance(caused[0], Began) else None
    return RecordedTurn(number, began, caused, replied, before)


def differences(procedure: Procedure, lexicon: Lexicon, turns: Iterable[RecordedTurn]) -> Iterator[Difference | None]:
    """Yield for each turn what today's program would decide otherwise, None where it decides and says the same."""
    for turn in turns:
        yield _difference(procedure, lexicon, turn)


def _difference(procedure: Procedure, lexicon: Lexicon, turn: RecordedTurn) -> Difference | None:
    said = _said(turn)
    try:
        now, replied = decided_again(procedure, lexicon, turn)
    except (KeyError, RuntimeError, ValueError) as error:
        # A step, a cause or a move that today's procedure or program does not have any more.
        return Difference(turn.number, said, (), (), error=f"{type(error).__name__}: {error}")
    if now != turn.caused:
        return Difference(turn.number, said, _only_in(turn.caused, now), _only_in(now, turn.caused))
    if replied != turn.replied:
        return Difference(turn.number, said, _spoken(turn.replied), _spoken(replied), worded_only=True)
    return None


def decided_again(
    procedure: Procedure, lexicon: Lexicon, turn: RecordedTurn
) -> tuple[tuple[Event, ...], Replied | None]:
    """Return what today's program decides and says in a turn.

    Raises KeyError, RuntimeError or ValueError where the turn does not fit today's procedure or program.
    """
    if isinstance(turn.began, ProgramTold):
        events: tuple[Event, ...] = (turn.began,)
    else:
        events = decide(procedure, turn.before, _given(procedure, lexicon, turn))
    if isinstance(turn.began, JobOpened):
        # Which text of the procedure it was is no decision.
        events = (turn.began, *events[1:])
    session = turn.before
    for event in events:
        session = followed(session, event)
    if session is None:
        raise ValueError("a job's record begins with its opening")
    if turn.began is None:
        events = tuple(event for event in events if not isinstance(event, TimePassed))
    answer = reply(procedure, session, events)
    return events, Replied(answer.speak, answer.show) if answer.lines else None


def _given(procedure: Procedure, lexicon: Lexicon, turn: RecordedTurn) -> Given:
    match turn.began:
        case JobOpened(job=job, channel=channel, at_s=at_s):
            return Opening(job, channel, at_s, _kept_sound(turn.caused))
        case JobReopened(channel=channel, reason=reason, at_s=at_s):
            return Reopening(channel, reason, at_s, _kept_sound(turn.caused))
        case InputReceived(outcome=Weighed.LATE) as received:
            # What made it late is not among the words.
            return Words(
                heard_then(received), Weighed.LATE, received.channel, received.at_s, None, None, received.sound_sha256
            )
        case InputReceived() as received if turn.before is not None:
            return made_of(
                procedure,
                turn.before,
                lexicon,
                heard_then(received),
                received.channel,
                received.at_s,
                received.sound_sha256,
            )
        case ListeningBegan(channel=channel, at_s=at_s):
            return Listening(channel, at_s, _kept_sound(turn.caused))
        case TimePassed(at_s=at_s):
            return Tick(at_s)
        case None:
            return Tick(_at_s(turn.caused))
        case _:
            raise ValueError("nothing can be received before the job is opened")


def _kept_sound(caused: Iterable[Event]) -> KeepSound:
    """Return what was wished for the sound when the job was opened or listening began, told by what that led to."""
    for event in caused:
        match event:
            case SoundAsked():
                return KeepSound.ASK
            case SoundAgreed(kept=kept):
                return KeepSound.AGREED if kept else KeepSound.REFUSED
            case _:
                pass
    return KeepSound.OFF


def _at_s(events: Iterable[Event]) -> float:
    return next((float(told["at_s"]) for event in events if "at_s" in (told := payload(event))), 0.0)


def _said(turn: RecordedTurn) -> str:
    match turn.began:
        case InputReceived(text=text, free_text=free):
            return text or free or "(no words)"
        case ProgramTold(words=words):
            return f"({words})"
        case None:
            return "(time passed)"
        case began:
            return f"({kind_of(began).partition('/')[0].replace('-', ' ')})"


def _only_in(these: Sequence[Event], others: Sequence[Event]) -> tuple[str, ...]:
    left = list(others)
    told: list[str] = []
    for event in these:
        if event in left:
            left.remove(event)
        else:
            told.append(in_words(event))
    return tuple(told)


def _spoken(replied: Replied | None) -> tuple[str, ...]:
    return () if replied is None else replied.show


def in_words(event: Event) -> str:
    """Return an event on one line: its kind and the fields that say something."""
    kind = kind_of(event).partition("/")[0].replace("-", " ")
    told = ", ".join(
        f"{name} {value.value if isinstance(value, Enum) else value}"
        for name, value in payload(event).items()
        if name not in ("at_s", "source", "sound_sha256") and value not in (None, "", ())
    )
    return f"{kind}: {told}" if told else kind
