"""What a job's record says for and against each fault."""

from dataclasses import dataclass
from decimal import Decimal

from voicetech.events import AnswerTaken, PartInspected, ReadingTaken
from voicetech.language.meaning import State
from voicetech.procedure import Measure, Procedure
from voicetech.session import Session
from voicetech.units import READ_OFF, Quantity, Unit


@dataclass(frozen=True, slots=True)
class Read:
    """What one pair of a step read: a value in the base unit, or over range where value and state are None."""

    section: str
    step: str
    pair: int
    value: float | None
    state: State | None


@dataclass(frozen=True, slots=True)
class Looked:
    """What was seen of a part."""

    part: str
    fault: bool


@dataclass(frozen=True, slots=True)
class Told:
    """What was answered to a question, by the field it is recorded under."""

    field: str
    value: str


Evidence = tuple[Read | Looked | Told, ...]


def evidence_of(procedure: Procedure, session: Session) -> Evidence:
    """Return the standing evidence, in the order it came: of a repeated reading the last, leads taken off."""
    found: dict[tuple[str, ...], Read | Looked | Told] = {}
    lead_ohm = float(session.lead_ohm or Decimal(0))
    current = set(session.current_readings)
    for taken in session.record:
        match taken:
            case ReadingTaken() if taken in current:
                read = _read(procedure, taken, lead_ohm)
                if read is not None:
                    found.pop(("read", taken.section, taken.step, taken.label), None)
                    found["read", taken.section, taken.step, taken.label] = read
            case PartInspected(part=part, fault=fault):
                found["looked", part] = Looked(part, fault)
            case AnswerTaken(field=field, value=value):
                found["told", field] = Told(field, value)
            case _:
                pass
    return tuple(found.values())


def _read(procedure: Procedure, taken: ReadingTaken, lead_ohm: float) -> Read | None:
    step = procedure.step(taken.section, taken.step)
    if not isinstance(step, Measure) or (step.setup is None and step.quantity not in READ_OFF):
        return None
    pair = next((number for number, pair in enumerate(step.pairs) if pair.label == taken.label), None)
    if pair is None or (taken.unit is not None and taken.unit is not step.unit and step.unit is not Unit.OHM):
        return None
    value = None if taken.value is None else float(taken.value)
    if value is not None and step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY):
        value = max(value - lead_ohm, 0.0)
    return Read(taken.section, taken.step, pair, value, taken.state)
