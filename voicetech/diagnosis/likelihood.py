"""How likely a piece of evidence is where a reading, a look or an answer is predicted."""

import math

from voicetech.diagnosis.evidence import Read
from voicetech.diagnosis.predictions import Predicted
from voicetech.electrical.meter import BUZZER_HIGH_OHM, BUZZER_LOW_OHM
from voicetech.language.meaning import State
from voicetech.units import Quantity

SLIP = 0.01
"""How often a reading is none at all: the wrong terminals, a bad contact, a slip. Judgement, no source."""
SPREAD_PART = {Quantity.VOLTAGE: 0.03, Quantity.CURRENT: 0.08, Quantity.RESISTANCE: 0.07, Quantity.CONTINUITY: 0.07,
               Quantity.DURATION: 0.5, Quantity.TEMPERATURE: 0.06}  # fmt: skip
"""Standard deviation of a reading beside its prediction: the supply of a house, an element's power tolerance and
alloy, a switch's contacts; switches differ most in how long they are on, thermostats by
some degrees. Judgement from the tolerances in
`electrical.element` and ANSI C84.1."""
SENSOR_PART = 0.012
"""The same for a platinum sensor whose temperature was measured: three degrees Celsius of thermometer and meter."""
FLOOR = {Quantity.VOLTAGE: 1.0, Quantity.CURRENT: 0.2, Quantity.RESISTANCE: 0.25, Quantity.CONTINUITY: 0.25,
         Quantity.DURATION: 2.0, Quantity.TEMPERATURE: 2.0}  # fmt: skip
"""The same in volts, amperes, ohms and seconds for small readings: the meter's last digits, the leads, a contact."""
DECADES = 9.0
"""Decades of ohms over which a slip may fall; volts and amperes are taken in the same way."""
SEEN_WHERE_IT_IS = 0.9
SEEN_WHERE_IT_IS_NOT = 0.03
"""How often a look finds damage that is there, and finds some that the fault does not make. Judgement, no source."""
TOLD_WHERE_IT_IS = 0.75
TOLD_WHERE_IT_IS_NOT = 0.06
"""How often a customer or technician tells what a fault makes them notice, and tells it without. Judgement."""
LEFT_ON = 0.15
"""How often a knob that should be off is found on, or an element is closed unnoticed. Judgement, no source."""
_CLOSED_OHM = 2.0


def of_reading(read: Read, predicted: Predicted, quantity: Quantity, *, sensor: bool = False) -> float:
    """Return the probability density of a reading, in ohms, volts or amperes on a logarithmic scale.

    `sensor` readings are known closer than others. On that scale a slip is as likely anywhere, so that readings of all
    kinds are compared alike.
    """
    if math.isnan(predicted.value):
        return 1.0
    slip = SLIP / (DECADES * math.log(10))
    if read.state is not None:
        return SLIP + (1 - 2 * SLIP) * _state(read.state, predicted.value)
    if read.value is None:
        return 1 - SLIP if predicted.value == math.inf else SLIP
    if predicted.value == math.inf:
        return slip
    part = SENSOR_PART if sensor else SPREAD_PART[quantity]
    spread = math.hypot(part * predicted.value, FLOOR[quantity])
    value = max(read.value, 0.0)
    per_log = value + spread
    if predicted.loose:
        return slip + (1 - SLIP) * (per_log / (2 * predicted.value) if value <= 2 * predicted.value else 0.0)
    off = (value - predicted.value) / spread
    return slip + (1 - SLIP) * per_log / spread / math.sqrt(2 * math.pi) * math.exp(-off * off / 2)


def _state(state: State, ohm: float) -> float:
    """Return how likely an answer without a number is at so many ohms."""
    match state:
        case State.OPEN:
            return 1.0 if ohm == math.inf else 0.0
        case State.BEEP:
            if ohm < BUZZER_LOW_OHM:
                return 1.0
            return 0.5 if ohm < BUZZER_HIGH_OHM else 0.0
        case State.CLOSED | State.SHORT:
            return 1.0 if ohm < _CLOSED_OHM else 0.0


def of_look(fault: bool, shows: bool) -> float:
    """Return the probability of what was seen, where the part shows damage or does not."""
    damage = SEEN_WHERE_IT_IS if shows else SEEN_WHERE_IT_IS_NOT
    return damage if fault else 1 - damage


def of_answer(telling: bool, expected: bool) -> float:
    """Return the probability of an answer that tells of a fault, where one that makes it is there or is not."""
    told = TOLD_WHERE_IT_IS if expected else TOLD_WHERE_IT_IS_NOT
    return told if telling else 1 - told
