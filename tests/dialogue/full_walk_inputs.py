"""What the walk says at every state: each verdict class, choice, request and word of danger, and time running out."""

from collections.abc import Callable, Hashable, Iterator
from decimal import Decimal

from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import PROBES_OFF
from voicetech.dialogue.given import Given, Reopening, Tick, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.events import Channel
from voicetech.heard import typed
from voicetech.language.meaning import Asking, Meaning, Question
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Measure, Procedure, Step
from voicetech.session import Session
from voicetech.turn import Turn
from voicetech.units import Unit

Understand = Callable[[str, Question], Meaning]
Memo = dict[tuple[str, Hashable], Meaning]
"""What each line meant at each place: understanding is the slow part of a walk."""

SOON_S = 0.001
_REQUESTS = (
    "repeat",
    "undo",
    "pause",
    "resume",
    "skip",
    "skip because it is fine",
    "not fitted",
    "can't reach it",
    "i'm leaving",
    "call mode",
    "take a note",
    "power is on",
    "done",
    "later",
    "cancel",
    "close the job",
    "yes",
    "no",
    "no two forty",
    "scratch that",
    "it's sparking",
    "it sparked last night",
    "banana bread",
)


def inputs(
    procedure: Procedure, session: Session, at_s: float, understand: Understand, memo: Memo, lasts_s: float
) -> Iterator[tuple[str, Given]]:
    """Yield every input worth trying at this state, with what it is in words; a proof of dead lasts `lasts_s`."""
    soon_s = at_s + SOON_S
    late_s = at_s + lasts_s + 1
    question = question_for(procedure, session)
    here = (session.at, session.turn, session.read_back)
    other = Channel.VOICE if session.channel is Channel.CHAT else Channel.CHAT
    answers = ("yes", *_answers_here(procedure, session))
    for text in (*_REQUESTS, *_places(session, question), CLEAR_WORDS[0], PROBES_OFF[0], *answers[1:]):
        meaning = memo.get((text, here))
        if meaning is None:
            meaning = memo[text, here] = understand(text, question)

        def said(channel: Channel, at_s: float, text: str = text, meaning: Meaning = meaning) -> Words:
            return Words(typed(text), Weighed.ACCEPTED, channel, at_s, meaning)

        yield text, said(session.channel, soon_s)
        if text not in answers:
            continue
        yield f"{text} (from another device)", said(other, soon_s)
        if session.safety.began_at_s is not None:
            yield f"{text} (after the proof has run out)", said(session.channel, late_s)
    yield "time runs out", Tick(late_s)
    yield "the program is started again", Reopening(session.channel, "the program was started again", soon_s)
    yield "noise", Words(typed("noise"), Weighed.IGNORED, session.channel, soon_s)


def _places(session: Session, question: Question) -> tuple[str, ...]:
    if session.turn is not Turn.ASKING:
        return ()
    return tuple(f"go to {place.hear[0]}" for place in question.places)


def _answers_here(procedure: Procedure, session: Session) -> tuple[str, ...]:
    if session.at is None:
        return ()
    return tuple(_answers(session, procedure.step(session.at.section, session.at.step)))


def _answers(session: Session, step: Step) -> Iterator[str]:
    match step:
        case Measure():
            yield from _readings(session, step)
        case Ask(asking=Asking.CHOICE, choices=choices):
            yield from (choice.hear[0] for choice in choices)
        case Ask(asking=Asking.SERIAL):
            yield "a b one two"
        case Ask(asking=Asking.YES_NO):
            return
        case Ask():
            yield "two forty"
            yield "ten"
        case Inspect():
            yield "looks good"
            yield "it's burnt"
        case Hold(until=until):
            yield until[0]
        case Instruct():
            return


def _readings(session: Session, step: Measure) -> Iterator[str]:
    limits = limits_for(step.limits, session.answers)
    yield "zero"
    yield "one twenty"
    yield "two forty"
    yield "two forty volst"
    if len(step.pairs) > 1:
        yield "all zero"
    if step.unit is Unit.OHM:
        yield "open"
        yield "it beeps"
        yield "five hundred thousand ohms"
        yield "five megohms"
    low, high = limits.low, limits.high
    if low is not None and high is not None:
        yield f"{((low + high) / 2).quantize(Decimal('0.1'))}"
        yield f"{(high * 3 + 5).quantize(Decimal('0.1'))}"
