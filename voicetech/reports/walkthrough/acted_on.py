"""Which of the things that may have been said a turn acted on.

The record keeps everything that was heard and what it led to. Weighed and decided once more it tells which of it that
was, where today's program comes to the very same; where it does not, nothing is claimed.
"""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Final

from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Words
from voicetech.dialogue.questions import question_for
from voicetech.events import InputReceived
from voicetech.language.lexicon import Lexicon
from voicetech.language.understand import understand
from voicetech.procedure import Procedure
from voicetech.replaying import RecordedTurn
from voicetech.scoring import same_key
from voicetech.sense import heard_then, made_of
from voicetech.session import Session


@dataclass(frozen=True, slots=True)
class ActedOn:
    """The words that were taken, empty where none were or it is not known; those it was asked between."""

    taken: str = ""
    offered: tuple[str, ...] = ()


NOT_KNOWN: Final = ActedOn()


def acted_on(procedure: Procedure, lexicon: Lexicon, turn: RecordedTurn) -> ActedOn:
    """Return which of the alternatives heard in a turn it acted on."""
    received = turn.began
    if not isinstance(received, InputReceived) or turn.before is None:
        return NOT_KNOWN
    heard = heard_then(received)
    try:
        words = made_of(procedure, turn.before, lexicon, heard, received.channel, received.at_s, received.sound_sha256)
        if decide(procedure, turn.before, words) != turn.caused:
            return NOT_KNOWN
        keys = _keys(procedure, turn.before, lexicon, words)
    except KeyError:
        # The job followed a procedure with steps that this one does not have.
        return NOT_KNOWN
    taken = "" if words.meaning is None or words.weighed != "accepted" else _first(keys, same_key(words.meaning))
    return ActedOn(taken, tuple(_first(keys, same_key(rival)) for rival in words.rivals or ()))


def _keys(procedure: Procedure, session: Session, lexicon: Lexicon, words: Words) -> tuple[tuple[str, Hashable], ...]:
    question = question_for(procedure, session)
    return tuple((each.text, same_key(understand(each.text, question, lexicon))) for each in words.heard.alternatives)


def _first(keys: tuple[tuple[str, Hashable], ...], wanted: Hashable) -> str:
    return next((text for text, key in keys if key == wanted), "")
