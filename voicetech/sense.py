"""What the open question makes of words that came in: understood, weighed, and handed on as an input of the dialogue.

Live words and recorded ones take this one way, so that a record is judged again as it was judged then.
"""

from voicetech.dialogue.given import Weighed, Words
from voicetech.dialogue.measuring import verdict_key
from voicetech.dialogue.questions import question_for
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import Meaning
from voicetech.language.understand import understand
from voicetech.procedure import Procedure
from voicetech.session import Session
from voicetech.weigh import Accepted, AskWhich, Ignored, SayAgain, weigh


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
    outcome = weigh(heard, meanings, lambda meaning: verdict_key(procedure, session, meaning))
    match outcome:
        case Accepted(meaning=meaning):
            return Words(heard, Weighed.ACCEPTED, channel, at_s, meaning, None, sound_sha256)
        case AskWhich(rivals=rivals):
            return Words(heard, Weighed.ASK, channel, at_s, None, rivals, sound_sha256)
        case SayAgain(meaning=unclear):
            return Words(heard, Weighed.AGAIN, channel, at_s, unclear, None, sound_sha256)
        case Ignored():
            return Words(heard, Weighed.IGNORED, channel, at_s, None, None, sound_sha256)


def heard_then(received: InputReceived) -> Heard:
    """Return what the recogniser had reported, as far as the record keeps it: all but how long it took."""
    alternatives = tuple(Alternative(a.text, a.probability, a.at_first) for a in received.alternatives)
    return Heard(alternatives, received.engine, received.for_us, received.free_text)
