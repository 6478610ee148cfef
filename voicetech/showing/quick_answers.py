"""Answers that need one touch: every one is a line that could have been typed, and is understood as one.

No figure is ever among them: what a meter shows is said, never picked from a list.
"""

from dataclasses import dataclass

from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import PROBES_OFF
from voicetech.dialogue.flow import open_step
from voicetech.dialogue.reply import rival_words
from voicetech.events import RivalsOffered
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Procedure, Step
from voicetech.session import Session
from voicetech.turn import Turn
from voicetech.units import Quantity


@dataclass(frozen=True, slots=True)
class Quick:
    """An answer or a request: how a button calls it, and the line that it sends."""

    label: str
    say: str


YES_NO = (Quick("Yes", "yes"), Quick("No", "no"))


def quick_answers(procedure: Procedure, session: Session) -> tuple[Quick, ...]:
    """Return the answers to what stands open that need no figure and no words of one's own."""
    if session.sound_asked:
        return YES_NO
    match session.turn:
        case Turn.SAFETY_QUESTION | Turn.CONFIRMING:
            return YES_NO
        case Turn.STOPPED:
            return (_line(CLEAR_WORDS[0]),)
        case Turn.PAUSED | Turn.ON_CALL:
            return (Quick("Resume", "resume"),)
        case Turn.PROBES_ON:
            return (_line(PROBES_OFF[0]),)
        case Turn.HANDED_OVER:
            return (Quick("Close the job", "close the job"),)
        case Turn.REASON:
            return (Quick("Never mind", "cancel"),)
        case Turn.CHOOSING if isinstance(session.pending, RivalsOffered):
            step = open_step(procedure, session)
            first, second = (rival_words(rival, step) for rival in (session.pending.first, session.pending.second))
            return (_line(first), _line(second), Quick("Neither", "no"))
        case Turn.ASKING if session.at is not None:
            return _to_the_step(procedure.step(session.at.section, session.at.step))
        case _:
            return ()


def _to_the_step(step: Step) -> tuple[Quick, ...]:
    match step:
        case Hold(until=until):
            return tuple(_line(words) for words in until[:1])
        case Ask(asking=Asking.YES_NO) | Inspect():
            return YES_NO
        case Ask(choices=choices):
            return tuple(_line(choice.hear[0]) for choice in choices)
        case Measure(quantity=Quantity.RESISTANCE | Quantity.CONTINUITY, accepts_beep=accepts_beep):
            beep = (Quick("It beeps", "it beeps"),) if accepts_beep else ()
            return (*beep, Quick("Open, OL", "open"))
        case Instruct():
            return (Quick("Done", "done"),)
        case _:
            return ()


def _line(words: str) -> Quick:
    return Quick(words[:1].upper() + words[1:], words)


_AT_WORK = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON})


def requests(session: Session) -> tuple[Quick, ...]:
    """Return what may be asked of the program now."""
    if session.turn not in _AT_WORK or session.sound_asked:
        return ()
    undo = (Quick("Undo", "undo"),) if session.last_answer is not None else ()
    return (
        Quick("Say it again", "repeat"),
        Quick("How?", "how"),
        Quick("Where?", "where"),
        Quick("Why?", "why"),
        Quick("What should it read?", "what's the limit"),
        Quick("Status", "status"),
        *undo,
        Quick("Skip", "skip"),
        Quick("Later", "later"),
        Quick("Pause", "pause"),
    )
