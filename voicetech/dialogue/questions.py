"""The open question: what may be answered now, for understanding and for the recogniser's grammar."""

from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import PROBES_OFF
from voicetech.dialogue.keeping_sound import SOUND_QUESTION
from voicetech.events import AnswerTaken, ReadingTaken
from voicetech.language.meaning import MEASURED, Asking, Choice, Question
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Phase, Procedure, Step
from voicetech.session import Session
from voicetech.turn import Turn
from voicetech.units import Quantity

_ASKING = {
    Quantity.VOLTAGE: Asking.VOLTAGE,
    Quantity.RESISTANCE: Asking.RESISTANCE,
    Quantity.CURRENT: Asking.CURRENT,
    Quantity.CONTINUITY: Asking.CONTINUITY,
    Quantity.TEMPERATURE: Asking.TEMPERATURE,
    Quantity.POWER: Asking.POWER,
    Quantity.DURATION: Asking.DURATION,
}


def question_for(procedure: Procedure, session: Session) -> Question:
    """Return the question that stands open, with everything that may be said to it."""
    places = places_of(procedure)
    if session.sound_asked:
        return Question(Asking.YES_NO, SOUND_QUESTION)
    match session.turn:
        case Turn.STOPPED:
            return Question(Asking.COMMAND, exact_words=CLEAR_WORDS)
        case Turn.SAFETY_QUESTION:
            return Question(Asking.YES_NO, "is it happening now?")
        case Turn.RECOUNTING | Turn.REASON:
            return Question(Asking.NOTE)
        case Turn.PAUSED | Turn.ON_CALL | Turn.HANDED_OVER | Turn.CLOSED:
            return Question(Asking.COMMAND)
        case _:
            pass
    if session.at is None:
        return Question(Asking.COMMAND, places=places)
    step = procedure.step(session.at.section, session.at.step)
    if session.turn is Turn.PROBES_ON:
        return Question(asking_of(step), after_read_back=True, exact_words=PROBES_OFF, places=places)
    return Question(
        asking=_asking_now(session, step),
        wording=step.prompt.full,
        after_read_back=session.read_back or session.turn in (Turn.CONFIRMING, Turn.CHOOSING),
        read_back=_read_back(procedure, session, step),
        choices=step.choices if isinstance(step, Ask) else (),
        places=places,
        likely=step.likely if isinstance(step, (Ask, Measure)) else None,
        labels=tuple(pair.label for pair in step.pairs) if isinstance(step, Measure) else (),
        exact_words=step.until if isinstance(step, Hold) else (),
    )


def _read_back(procedure: Procedure, session: Session, step: Step) -> Asking | None:
    """Return what kind of value the last reply read back, where the open step asks for another kind."""
    last = session.last_answer
    if not session.read_back or session.turn is not Turn.ASKING or not isinstance(last, (ReadingTaken, AnswerTaken)):
        return None
    asking = asking_of(procedure.step(last.section, last.step))
    return asking if asking in MEASURED and asking is not asking_of(step) else None


def _asking_now(session: Session, step: Step) -> Asking:
    """Return what the turn wants: a read-back of words wants a yes or no, one of a number also another number."""
    asking = asking_of(step)
    words_read_back = session.turn is Turn.CONFIRMING and asking in (Asking.SERIAL, Asking.CHOICE, Asking.NOTE)
    return Asking.YES_NO if words_read_back else asking


def asking_of(step: Step) -> Asking:
    """Return what kind of answer a step wants."""
    match step:
        case Ask(asking=asking):
            return asking
        case Measure(quantity=quantity):
            return _ASKING[quantity]
        case Inspect():
            return Asking.INSPECTION
        case Hold() | Instruct():
            return Asking.COMMAND


def places_of(procedure: Procedure) -> tuple[Choice, ...]:
    """Return the tests that may be asked for by name."""
    return tuple(
        Choice(section.id, section.call)
        for section in procedure.sections
        if section.phase is Phase.TEST and section.role is None and section.call
    )
