"""What stands at the parts and nodes of the circuit's drawing."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from string import ascii_lowercase
from typing import Final

from voicetech.drawing.limits_told import figure_words
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.words import condition_words, plain
from voicetech.electrical.appliance import Appliance, Contact, Heater, Leg, Part, Platinum, Wire
from voicetech.procedure import Condition, Measure, Procedure
from voicetech.showing.wiring import COUPLED_OHM, LOAD_OHM
from voicetech.units import Unit

OPEN_OHM: Final = 1e9
"""From here on what is written as a wire is a contact that stands open."""


@dataclass(frozen=True, slots=True)
class Naming:
    """The names of a circuit's nodes and parts on paper.

    `tests` are the numbers of the test points, in the order they are written in; `only` the letters of the notes that
    say with which answers a part is there, by part, and `notes` what each letter says.
    """

    circuit: Appliance
    labels: Mapping[str, str]
    tests: Mapping[str, int]
    only: Mapping[str, str]
    notes: Mapping[str, str] = field(default_factory=dict)

    def label(self, node: str) -> str:
        """Return what a node is called: a test point by its label, another by its own name."""
        return self.labels.get(node, plain(node))

    def part_lines(self, part: Part | Leg) -> tuple[str, ...]:
        """Return what stands beneath a part, each a line where there is room: its name first."""
        only = f"only {self.only[part.name]}" if part.name in self.only else ""
        return tuple(filter(None, [plain(part.name), *self._of(part), only]))

    def _of(self, part: Part | Leg) -> Iterator[str]:
        match part:
            case Contact(knob=knob, closed=closed):
                yield f"{plain(knob)}: {_positions(self.circuit.knobs[knob], closed)}"
                if knob in self.circuit.isolated:
                    yield "isolates"
            case Wire(ohm=ohm) if ohm >= OPEN_OHM:
                yield "open"
            case Wire(ohm=ohm) if ohm >= COUPLED_OHM:
                yield f"no wire: coupled, {_ohms(ohm)}"
            case Wire(ohm=ohm) if ohm >= LOAD_OHM:
                yield f"{_ohms(ohm)}, always on"
            case Heater(watts=watts, volts=volts):
                yield figure_words(Decimal(str(watts)), Unit.WATT)
                yield figure_words(Decimal(str(volts)), Unit.VOLT)
            case Platinum():
                yield "platinum"
            case Leg(volts=volts, turn_deg=turn):
                yield f"{figure_words(Decimal(str(volts)), Unit.VOLT)}, {turn:g}°"
            case _:
                pass


def _positions(there: tuple[str, ...], closed: frozenset[str]) -> str:
    """Return the positions in which a contact is closed; where it is open in one only, that one."""
    others = [name for name in there if name not in closed]
    if len(others) == 1 and len(there) > 2:
        return f"all but {plain(others[0])}"
    return ", ".join(plain(name) for name in there if name in closed)


def _ohms(ohm: float) -> str:
    return figure_words(Decimal(str(ohm)), Unit.OHM)


def naming_of(procedure: Procedure, circuit: Appliance, numbers: Numbers) -> Naming:
    """Return the names on paper of a procedure's circuit."""
    labels = {name: point.label for name, point in procedure.points.items()}
    tests = {name: number for number, name in enumerate(procedure.points, start=1)}
    letters: dict[str, str] = {}
    only: dict[str, str] = {}
    for part, wanted in circuit.only.items():
        says = condition_words(procedure, numbers, [Condition(name, values) for name, values in wanted.items()])
        letter = letters.setdefault(says, ascii_lowercase[len(letters) % len(ascii_lowercase)])
        only[part] = letter
    return Naming(circuit, labels, tests, only, {letter: says for says, letter in letters.items()})


def measured_at(numbers: Numbers) -> Mapping[str, tuple[str, ...]]:
    """Return the marks of the steps that measure at each test point."""
    found: dict[str, dict[str, None]] = {}
    for section in numbers.sections:
        for step in section.steps:
            if isinstance(step, Measure):
                for end in (end for pair in step.pairs for end in (pair.first, pair.second)):
                    found.setdefault(end, {})[numbers.step(section, step.id)] = None
    return {point: tuple(marks) for point, marks in found.items()}
