"""What the open question makes of words that came in: understood, weighed, and handed on as an input of the dialogue.

Live words and recorded ones take this one way, so that a record is judged again as it was judged then.
"""

from functools import partial
from typing import Final

from voicetech.dialogue.flow import open_step
from voicetech.dialogue.given import Weighed, Words
from voicetech.dialogue.measuring import verdict_key
from voicetech.dialogue.questions import question_for
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Meaning
from voicetech.language.understand import understand
from voicetech.procedure import Ask, Inspect, Measure, Procedure
from voicetech.session import Session
from voicetech.turn import Turn
from voicetech.weigh import Accepted, AskWhich, Ignored, Outcome, SayAgain, insisted_on, weigh

INSISTS_WITHIN_S: Final = 30.0
"""Who says something again because it was not taken does so within this. Judgement, no source."""


def made_of(
    procedure: Procedure,
    session: Session,
    lexicon: Lexicon,
    heard: Heard,
    channel: Channel,
    at_s: float,
    sound_sha256: str | None = None,
) -> Words:
    """Return what the session's open question makes of what was heard."""
    question = question_for(procedure, session)
    meanings: tuple[Meaning, ...] = tuple(
        understand(alternative.text, question, lexicon) for alternative in heard.alternatives
    )
    verdict_of = partial(verdict_key, procedure, session)
    outcome = weigh(heard, meanings, verdict_of)
    if _may_be_insisted_on(procedure, session, outcome):
        before = [each.text for each in session.unheeded if 0 <= at_s - each.at_s <= INSISTS_WITHIN_S]
        insisted = insisted_on(heard, meanings, verdict_of, [understand(text, question, lexicon) for text in before])
        if insisted is not None:
            return Words(heard, Weighed.ACCEPTED, channel, at_s, insisted, None, sound_sha256)
    match outcome:
        case Accepted(meaning=meaning):
            return Words(heard, Weighed.ACCEPTED, channel, at_s, meaning, None, sound_sha256)
        case AskWhich(rivals=rivals):
            return Words(heard, Weighed.ASK, channel, at_s, None, rivals, sound_sha256)
        case SayAgain(meaning=unclear):
            return Words(heard, Weighed.AGAIN, channel, at_s, unclear, None, sound_sha256)
        case Ignored():
            return Words(heard, Weighed.IGNORED, channel, at_s, None, None, sound_sha256)


def _may_be_insisted_on(procedure: Procedure, session: Session, outcome: Outcome) -> bool:
    """Return whether what was not taken answers a step that reads doubtful answers back for a yes."""
    if session.turn is not Turn.ASKING or session.sound_asked:
        return False
    if not isinstance(open_step(procedure, session), (Ask, Inspect, Measure)):
        return False
    # Words that are sure and mean nothing that can be used are asked about as they are.
    return isinstance(outcome, Ignored) or (isinstance(outcome, SayAgain) and outcome.meaning is None)


def heard_then(received: InputReceived) -> Heard:
    """Return what the recogniser had reported, as far as the record keeps it: all but how long it took."""
    alternatives = tuple(Alternative(a.text, a.probability, a.at_first) for a in received.alternatives)
    return Heard(alternatives, received.engine, received.for_us, received.free_text)
