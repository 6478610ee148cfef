"""The test points of the open step as a drawing.

The symbols are drawn here, a few of IEC 60617 and IEEE 315, because the library for them (schemdraw) sets its looks in
style attributes, which a page with a strict content policy does not take, and keeps its settings for the whole process.
"""

from collections.abc import Mapping
from typing import Final

from voicetech.dialogue.reply import shown_value
from voicetech.events import ReadingTaken
from voicetech.procedure import Measure, Pair, Procedure
from voicetech.session import Session
from voicetech.showing.rung import Rung, drawn_rung
from voicetech.showing.terminal_rows import Pairs, drawn_rows, label_of
from voicetech.showing.wiring import rails, way_past
from voicetech.units import Quantity, Unit

SIGNS: Final = {
    Unit.VOLT: "V",
    Unit.OHM: "Ω",
    Unit.AMPERE: "A",
    Unit.SECOND: "s",
    Unit.CELSIUS: "°C",
    Unit.FAHRENHEIT: "°F",
    Unit.WATT: "W",
}
_PROBED: Final = frozenset({Quantity.VOLTAGE, Quantity.RESISTANCE, Quantity.CONTINUITY})
_MEASURED: Final = {
    Quantity.VOLTAGE: "volts between",
    Quantity.RESISTANCE: "ohms between",
    Quantity.CONTINUITY: "continuity between",
    Quantity.CURRENT: "current between",
    Quantity.DURATION: "seconds between",
}


def drawn_points(procedure: Procedure, session: Session) -> str:
    """Return the points that are measured now as SVG, "" where nothing is measured between two points."""
    cursor = session.at
    if cursor is None:
        return ""
    step = procedure.step(cursor.section, cursor.step)
    if not isinstance(step, Measure) or not step.pairs:
        return ""
    read = {label: _short(taken) for label, taken in session.readings_of(cursor).items()}
    return drawn_step(procedure, step, cursor.pair, session.answers, read)


def drawn_step(procedure: Procedure, step: Measure, now: int, plate: Mapping[str, str], read: Mapping[str, str]) -> str:
    """Return a step's drawing at one of its pairs; `read` is what was read of them, by label."""
    pair = step.pairs[now]
    first, second = (label_of(procedure.points, node) for node in (pair.first, pair.second))
    title = f"{_MEASURED.get(step.quantity, 'reading between')} {first} and {second}"
    title = title[:1].upper() + title[1:]
    sign, probed = SIGNS.get(step.unit, ""), step.quantity in _PROBED
    circuit = procedure.circuit
    if len(step.pairs) > 1:
        joined = () if circuit is None else rails(circuit, plate)
        return drawn_rows(Pairs(step.pairs, now, read, procedure.points, joined, sign, probed), title)
    way = None if circuit is None else way_past(circuit, step, pair, plate, procedure.points)
    return drawn_rung(
        Rung(
            pair, way, procedure.points, sign, probed, step.quantity is Quantity.CURRENT, _lifted(procedure, step, pair)
        ),
        title,
    )


def _lifted(procedure: Procedure, step: Measure, pair: Pair) -> str:
    """Return the point of the pair that a wire is taken off at, "" where none is."""
    off = frozenset[str]() if step.setup is None else step.setup.off
    if not off and not step.one_wire_off:
        return ""
    parts = () if procedure.circuit is None else procedure.circuit.parts
    at = {end for part in parts if part.name in off for end in (part.first, part.second)}
    if pair.first in at or pair.second not in at:
        return pair.first if step.one_wire_off or pair.first in at else ""
    return pair.second


def _short(taken: ReadingTaken) -> str:
    return shown_value(taken) if taken.state is None else taken.state.value
