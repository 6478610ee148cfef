"""What a job waits for, said once more: the open prompt, a read-back, a stop that still stands."""

from voicetech.dialogue.reply import Reply, reply
from voicetech.events import (
    Asked,
    DangerDoubted,
    DangerStopped,
    Event,
    HandedOver,
    Paused,
    ReasonAwaited,
    RivalsOffered,
    SoundAsked,
    StopCleared,
)
from voicetech.language.meaning import DangerKind
from voicetech.procedure import Procedure
from voicetech.session import Session
from voicetech.turn import Turn


def said_of_what_stands(procedure: Procedure, session: Session) -> Reply:
    """Return what the job waits for, in full; nothing where it waits for nothing."""
    standing = _standing(session)
    return Reply(()) if standing is None else reply(procedure, session, (standing,))


def _standing(session: Session) -> Event | None:
    """Return an event whose reply says what the job waits for, None where it waits for nothing."""
    at_s = session.last_at_s
    if session.sound_asked:
        return SoundAsked()
    match session.turn:
        case Turn.STOPPED:
            return DangerStopped(session.danger or DangerKind.STOP, "", at_s)
        case Turn.SAFETY_QUESTION:
            kind, words = session.doubt or DangerKind.STOP, session.doubt_words
            return DangerDoubted(kind, words, at_s, session.doubt_finding, session.doubt_answers)
        case Turn.RECOUNTING:
            return StopCleared(at_s)
        case Turn.HANDED_OVER if session.handed_over is not None:
            return HandedOver(0, session.handed_over, at_s)
        case Turn.PAUSED | Turn.ON_CALL:
            return Paused(session.turn is Turn.ON_CALL, at_s)
        case Turn.REASON:
            return ReasonAwaited(session.words_for or "")
        case Turn.CHOOSING if isinstance(session.pending, RivalsOffered):
            return session.pending
        case Turn.CLOSED:
            return None
        case _:
            return Asked("repeat")
