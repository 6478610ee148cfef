"""Whose turn it is: the state machine of the job's conversation.

One table of legal moves, built with `transitions` (no auto transitions, callbacks or conditions), asked and never
triggered: `advance` looks a move up and returns the turn after it. The same machine is drawn for the manual and
walked by the safety proof. What a move means for the job stands in `events`; a refusal is an event too, so
`advance` raises only where the program itself is wrong.
"""

from enum import StrEnum
from typing import Final

from transitions import Machine


class Turn(StrEnum):
    """What the conversation waits for."""

    ASKING = "asking"
    """A prompt stands open."""
    CONFIRMING = "confirming"
    """A value was read back and needs its own yes."""
    CHOOSING = "choosing"
    """Two rivals were offered."""
    PROBES_ON = "probes-on"
    """A live value was said back; nothing follows until the probes are off."""
    REASON = "reason"
    """Free words are owed: why a test is to be skipped, or a note."""
    SAFETY_QUESTION = "safety-question"
    """Danger words that may be past or denied: is it happening now?"""
    PAUSED = "paused"
    """Everything waits for "resume"; danger words are heard."""
    ON_CALL = "on-call"
    """The technician talks to somebody: only "resume" and danger words are heard."""
    STOPPED = "stopped"
    """Danger: everything waits for the words that end the stop."""
    RECOUNTING = "recounting"
    """The stop has ended and what happened is asked."""
    HANDED_OVER = "handed-over"
    """Work has stopped for good: left safe, reported, passed on."""
    CLOSED = "closed"
    """The job is over."""


class Move(StrEnum):
    """What moves the conversation on."""

    ASK = "ask"
    PROPOSE = "propose"
    OFFER = "offer"
    KEEP_PROBES = "keep_probes"
    WANT_REASON = "want_reason"
    DOUBT_SAFETY = "doubt_safety"
    PAUSE = "pause"
    CALL = "call"
    RESUME = "resume"
    ALARM = "alarm"
    CLEAR = "clear"
    HAND_OVER = "hand_over"
    CLOSE = "close"


_WORKING = (Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON)
_ANSWERING = (Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING)

MOVES: Final[tuple[tuple[Move, tuple[Turn, ...], Turn], ...]] = (
    (Move.ASK, (*_WORKING, Turn.RECOUNTING, Turn.PAUSED, Turn.SAFETY_QUESTION), Turn.ASKING),
    (Move.PROPOSE, _ANSWERING, Turn.CONFIRMING),
    (Move.OFFER, _ANSWERING, Turn.CHOOSING),
    (Move.KEEP_PROBES, _ANSWERING, Turn.PROBES_ON),
    (Move.WANT_REASON, _ANSWERING, Turn.REASON),
    (Move.DOUBT_SAFETY, (*_WORKING, Turn.PAUSED, Turn.ON_CALL, Turn.HANDED_OVER), Turn.SAFETY_QUESTION),
    (Move.PAUSE, (*_WORKING, Turn.SAFETY_QUESTION), Turn.PAUSED),
    (Move.CALL, (*_WORKING, Turn.PAUSED), Turn.ON_CALL),
    (Move.RESUME, (Turn.PAUSED, Turn.ON_CALL), Turn.ASKING),
    (Move.ALARM, tuple(Turn), Turn.STOPPED),
    (Move.CLEAR, (Turn.STOPPED,), Turn.RECOUNTING),
    (Move.HAND_OVER, (*_WORKING, Turn.RECOUNTING, Turn.SAFETY_QUESTION), Turn.HANDED_OVER),
    (Move.CLOSE, (*_WORKING, Turn.HANDED_OVER, Turn.RECOUNTING), Turn.CLOSED),
)
"""Every legal move: its name, the turns it may start from, the turn it leads to."""


def machine() -> Machine:
    """Return the conversation's machine, for asking, drawing and walking."""
    return Machine(
        states=Turn,
        initial=Turn.ASKING,
        auto_transitions=False,
        send_event=False,
        transitions=[
            {"trigger": move.value, "source": list(sources), "dest": target} for move, sources, target in MOVES
        ],
    )


def _looked_up(built: Machine) -> dict[tuple[Turn, Move], Turn]:
    table: dict[tuple[Turn, Move], Turn] = {}
    for move in Move:
        for edge in built.get_transitions(move.value):
            table[Turn[edge.source], move] = Turn[str(edge.dest)]
    return table


_TABLE: Final = _looked_up(machine())


class IllegalMoveError(Exception):
    """The program tried a move the table does not have: a bug, never a technician's mistake."""


def may(turn: Turn, move: Move) -> bool:
    """Return whether the move is legal from this turn."""
    return (turn, move) in _TABLE


def advance(turn: Turn, move: Move) -> Turn:
    """Return the turn after the move; IllegalMoveError where the table has no such move."""
    try:
        return _TABLE[turn, move]
    except KeyError:
        raise IllegalMoveError(f"{move.value} is not possible while {turn.value}") from None
