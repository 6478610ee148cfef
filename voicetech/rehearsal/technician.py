"""A careful technician's answer to whatever the program asks, worked out from the appliance at hand."""

import math
from collections.abc import Mapping

from voicetech.dialogue.decide import PROBES_OFF
from voicetech.electrical.appliance import read_off
from voicetech.language.meaning import Asking
from voicetech.procedure import (
    Ask,
    Hold,
    Inspect,
    Instruct,
    Measure,
    Needs,
    Outcome,
    Procedure,
    SafetyRole,
)
from voicetech.rehearsal.appliance_at_hand import COLD_SHARE, LEADS_OHM, AtHand, Chance
from voicetech.rehearsal.customer import complaint, is_mended
from voicetech.session import Session
from voicetech.turn import Turn
from voicetech.units import Unit

ROOM_F = 72
USUAL_V = 240
USUAL_W = 5000
_TESTED = {
    SafetyRole.TESTER_BEFORE: "120 volts",
    SafetyRole.TESTER_AFTER: "120 volts",
    SafetyRole.DEAD_PAIRS: "zero",
    SafetyRole.NULL_LEADS: f"{LEADS_OHM} ohms",
}
_UNIT_WORD = {Unit.VOLT: "volts", Unit.OHM: "ohms", Unit.AMPERE: "amps", Unit.SECOND: "seconds",
              Unit.FAHRENHEIT: "degrees fahrenheit", Unit.CELSIUS: "degrees celsius"}  # fmt: skip


def answer(procedure: Procedure, session: Session, at_hand: AtHand, chance: Chance) -> str:
    """Return the words, typed, that answer the open question."""
    match session.turn:
        case Turn.CONFIRMING:
            return "yes"
        case Turn.CHOOSING:
            return "the first"
        case Turn.PROBES_ON:
            return PROBES_OFF[0]
        case Turn.SAFETY_QUESTION:
            return "no"
        case _:
            pass
    if session.at is None:
        return "next"
    step = procedure.step(session.at.section, session.at.step)
    match step:
        case Hold(until=until):
            return until[0]
        case Instruct():
            return "done"
        case Inspect(part=part):
            return "it's burnt" if at_hand.looks_bad(part) else "looks good"
        case Measure():
            return _reading(session, step, at_hand, chance)
        case Ask():
            return _told(step, session, at_hand)


def found_at(procedure: Procedure, session: Session, at_hand: AtHand, chance: Chance) -> str | None:
    """Return what is found at the open question: the meter, a look, what is told; None where nothing is asked."""
    if session.turn is not Turn.ASKING or session.at is None:
        return None
    step = procedure.step(session.at.section, session.at.step)
    return None if isinstance(step, (Hold, Instruct)) else answer(procedure, session, at_hand, chance)


def _reading(session: Session, step: Measure, at_hand: AtHand, chance: Chance) -> str:
    if step.role in _TESTED:
        return _TESTED[step.role]
    pair = session.at.pair if session.at else 0
    value = at_hand.shows(step, step.pairs[pair], chance, low_impedance=_on_low_impedance(session, step))
    return "over range" if value is None else f"{value} {_UNIT_WORD.get(step.unit, '')}".strip()


def _on_low_impedance(session: Session, step: Measure) -> bool:
    """Return whether the meter is on its low-impedance input: a supply is measured so when it is measured again."""
    return step.judged_as != "each" and session.at is not None and session.at.attempt > 1


def _told(step: Ask, session: Session, at_hand: AtHand) -> str:
    match step.asking:
        case Asking.SERIAL:
            return "later"
        case Asking.NOTE:
            return "wear, as far as I can tell"
        case Asking.CHOICE:
            return _choice(step, at_hand)
        case Asking.YES_NO:
            return _yes_or_no(step, session, at_hand)
        case _:
            return _number(step, at_hand)


def _answers(at_hand: AtHand) -> dict[str, str]:
    """Return the answers that hold of this appliance before anybody asks."""
    return {**at_hand.circuit.usual, **at_hand.plate}


def _choice(step: Ask, at_hand: AtHand) -> str:
    wanted = _wanted(step, at_hand)
    found = next((choice for choice in step.choices if choice.key in wanted), None)
    if found is None:
        found = next((c for c in step.choices if _harmless(step.outcomes, c.key)), step.choices[-1])
    return found.hear[0]


def _wanted(step: Ask, at_hand: AtHand) -> tuple[str, ...]:
    """Return the answers that hold of the appliance; where a question has none of them, a harmless one is given."""
    match step.field:
        case "complaint":
            return (complaint(at_hand),)
        case "breaker_state":
            reset = step.needs is Needs.POWERED
            return ("tripped",) if at_hand.trips or (at_hand.has_tripped and not reset) else ("on",)
        case "consent":
            return ("repair", "put-back")
        case _ if set(at_hand.leaking) & {choice.key for choice in step.choices}:
            return at_hand.leaking
        case field if field in at_hand.plate:
            return (at_hand.plate[field],)
        case field:
            return at_hand.fitted(field) or at_hand.tells(field)


def _yes_or_no(step: Ask, session: Session, at_hand: AtHand) -> str:
    told = at_hand.tells(step.field)
    if told:
        return told[0]
    match step.field:
        case "complaint_seen":
            return "yes"
        case "complaint_gone":
            return "yes" if is_mended(at_hand, session.answers.get("complaint", "")) else "no"
        case field if field in at_hand.circuit.works:
            return "yes" if at_hand.works()[at_hand.circuit.works[field]] >= COLD_SHARE else "no"
        case field if field in _answers(at_hand):
            return _answers(at_hand)[field]
        case _:
            pass
    yes, no = (_harmless(step.outcomes, key) for key in ("yes", "no"))
    return "yes" if yes or not no else "no"


def _harmless(outcomes: Mapping[str, Outcome], key: str) -> bool:
    outcome = outcomes.get(key) or outcomes.get("any")
    if outcome is None:
        return True
    return not (outcome.cause or outcome.suspects or outcome.hand_over or outcome.danger or outcome.say)


def _number(step: Ask, at_hand: AtHand) -> str:
    for heater in at_hand.circuit.heaters:
        if step.field == heater.watts_field:
            return f"{heater.watts:.0f} watts"
    known = _answers(at_hand).get(step.field)
    match step.asking:
        case Asking.VOLTAGE:
            return f"{known or USUAL_V} volts"
        case Asking.POWER:
            return f"{known or USUAL_W} watts"
        case Asking.TEMPERATURE:
            read = read_off(at_hand.circuit, at_hand.faults, step.field)
            return f"{ROOM_F if math.isnan(read) else round(read)} degrees fahrenheit"
        case _:
            return "0"
