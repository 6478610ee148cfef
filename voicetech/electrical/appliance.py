"""An appliance as a circuit: its parts and knobs, and what each fault does to it, turned into a network.

What is here is data and arithmetic; the circuit of an appliance is written beside its procedure.
"""

import cmath
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation

from voicetech.electrical.element import HOT_OVER_COLD
from voicetech.electrical.network import Branch, Network, Source
from voicetech.electrical.recorded import figure
from voicetech.electrical.sensor import HIGHEST_C, LOWEST_C, Curve, resistance_ohm, to_celsius
from voicetech.units import Unit

SOURCE_OHM = 0.02
"""What a service has behind its terminals, transformer and drop together. Source: common practice, no source."""
COLD_PART = float(2 / sum(HOT_OVER_COLD))
"""A cold element's resistance over that at its rated power: the middle of what its alloy gives."""
ROOM_C = Decimal(22)


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg of the supply: volts rms of its plus against its minus, and its turn in degrees.

    Two legs of a house are 180 degrees apart, of a wye supply 120.
    """

    name: str
    plus: str
    minus: str
    volts: float
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Wire:
    """A conductor, a joint or a load that is always on, between two nodes, in ohms."""

    name: str
    first: str
    second: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Contact:
    """What a knob opens and closes: a switch's pole, a relay, a breaker, the blade of a plug."""

    name: str
    first: str
    second: str
    ohm: float
    knob: str
    closed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Heater:
    """An element in its sheath. `watts_field` and `volts_field` name the recorded answers of its plate.

    `watts` and `volts` hold where none is recorded; `used` are the positions of the knobs it heats with.
    """

    name: str
    first: str
    second: str
    sheath: str
    watts: float
    volts: float
    watts_field: str
    volts_field: str
    used: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Platinum:
    """A platinum sensor of 1000 ohms at 0 degrees Celsius; `fahrenheit_field` names its recorded temperature."""

    name: str
    first: str
    second: str
    fahrenheit_field: str


@dataclass(frozen=True, slots=True)
class Motor:
    """A motor: the watts it takes at its volts while it runs, and the ohms of its winding for a meter.

    `used` are the positions of the knobs it runs with. While it stands it conducts as its winding does.
    """

    name: str
    first: str
    second: str
    watts: float
    volts: float
    winding_ohm: float
    used: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Lamp:
    """A lamp, in ohms as a meter finds them while it is dark; one that glows by gas is over range."""

    name: str
    first: str
    second: str
    ohm: float


Part = Wire | Contact | Heater | Platinum | Motor | Lamp
Load = Heater | Motor
"""What a customer sees work or not."""


@dataclass(frozen=True, slots=True)
class Opened:
    """The part conducts nothing, or with `hot` nothing once it is hot.

    `until` is the position of a knob that closes it again: the button of a limit that has tripped.
    """

    part: str
    hot: bool = False
    until: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Joint:
    """The part has `ohm` more while current heats it, and `at_rest_ohm` more for an ohmmeter."""

    part: str
    ohm: float
    at_rest_ohm: float


@dataclass(frozen=True, slots=True)
class Welded:
    """The contact stays closed wherever its knob is."""

    part: str


@dataclass(frozen=True, slots=True)
class Leaks:
    """A path of so many ohms to the sheath, from a place along the element: 0 its first end, 1 its second.

    With `hot` it is there only once the element is hot.
    """

    part: str
    at: float
    ohm: float
    hot: bool = False


@dataclass(frozen=True, slots=True)
class Scaled:
    """The part has its resistance times a factor: another part was fitted, or it is off its curve."""

    part: str
    factor: float


@dataclass(frozen=True, slots=True)
class Bridged:
    """Two nodes that should not be are joined by so many ohms."""

    first: str
    second: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Swapped:
    """The far ends of two parts are exchanged: a wire on the wrong terminal."""

    part: str
    other: str


@dataclass(frozen=True, slots=True)
class Fed:
    """The leg is fed with another turn in degrees, or with its volts times a factor."""

    leg: str
    turn_deg: float | None = None
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Held:
    """The knob does as if it stood at this position, whatever is asked of it: a lock, a timer, a tripped breaker."""

    knob: str
    position: str


@dataclass(frozen=True, slots=True)
class ReadOff:
    """What a stopwatch or a thermometer shows of the appliance is another, in seconds or degrees Fahrenheit."""

    name: str
    value: float


Effect = Opened | Joint | Welded | Leaks | Scaled | Bridged | Swapped | Fed | Held | ReadOff


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that can be wrong: what it does to the circuit, and the cause a procedure calls it by.

    `weight` is how likely it is beside the others, a judgement and no statistics. `seen` are the inspected parts whose
    look tells it; `told` are the answers that do, by the field they are recorded under; with another answer than those
    of `only` it cannot be. `complaint` is what a customer complains of where what works and what does not would not
    tell it.
    """

    id: str
    say: str
    cause: str
    weight: float
    effects: tuple[Effect, ...]
    seen: frozenset[str] = frozenset()
    told: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)
    complaint: str | None = None

    def __hash__(self) -> int:
        # Sets of faults are looked up a thousand times for an answer; the name is enough to spread them.
        return hash(self.id)

    def contradicts(self, other: "Fault") -> bool:
        """Return whether the two feed the same leg in different ways, which no supply does."""
        mine = {effect.leg for effect in self.effects if isinstance(effect, Fed)}
        return any(isinstance(effect, Fed) and effect.leg in mine for effect in other.effects)

    def can_be(self, answers: Mapping[str, str]) -> bool:
        """Return whether the recorded answers leave room for it."""
        return all(answers.get(name, values[0]) in values for name, values in self.only.items())


@dataclass(frozen=True, slots=True)
class Appliance:
    """The circuit of an appliance, whole, and the faults it may have.

    `isolated` are the knobs' positions while it is isolated. `only` says with which recorded answers a part is there
    at all: the strap of a three-wire cord; `usual` are the answers that hold where none is recorded. Positions of a
    knob come in order, the first at rest. `in_use` are the knobs while something is measured under load that names no
    set-up of its own. `works` are questions whether a load works, by their field.
    """

    legs: tuple[Leg, ...]
    parts: tuple[Part, ...]
    knobs: Mapping[str, tuple[str, ...]]
    isolated: Mapping[str, str]
    only: Mapping[str, Mapping[str, tuple[str, ...]]]
    usual: Mapping[str, str]
    faults: tuple[Fault, ...]
    read_off: Mapping[str, float] = field(default_factory=dict, hash=False)
    """What a stopwatch or a thermometer shows of the sound appliance, by the field it is recorded under."""
    in_use: Mapping[str, str] = field(default_factory=dict, hash=False)
    works: Mapping[str, str] = field(default_factory=dict, hash=False)
    memory: dict[object, object] = field(default_factory=dict, compare=False, repr=False)
    """What was worked out of this circuit before; it saves time and changes no result."""

    @property
    def plate_values(self) -> Mapping[str, tuple[str, ...]]:
        """Return the recorded answers that the circuit depends on, each with values that would move it."""
        found: dict[str, tuple[str, ...]] = {}
        for wanted in self.only.values():
            for name, answers in wanted.items():
                found[name] = (*found.get(name, ()), *answers)
        for part in self.parts:
            match part:
                case Heater(watts_field=watts, volts_field=volts):
                    found[watts], found[volts] = ("1000", "5000"), ("120", "208")
                case Platinum(fahrenheit_field=name):
                    found[name] = ("40", "400")
                case _:
                    pass
        return found

    @property
    def plates(self) -> Mapping[str, str]:
        """Return what the plates of its elements say, by the field it is recorded under."""
        return {
            name: f"{value:g}"
            for part in self.heaters
            for name, value in ((part.watts_field, part.watts), (part.volts_field, part.volts))
        }

    @property
    def nodes(self) -> frozenset[str]:
        """Return the name of every node."""
        ends = {end for part in self.parts for end in (part.first, part.second)}
        ends |= {part.sheath for part in self.parts if isinstance(part, Heater)}
        return frozenset(ends | {end for leg in self.legs for end in (leg.plus, leg.minus)})

    @property
    def heaters(self) -> tuple[Heater, ...]:
        """Return the elements, in the order they are written."""
        return tuple(part for part in self.parts if isinstance(part, Heater))

    @property
    def loads(self) -> tuple[Load, ...]:
        """Return the elements and motors, in the order they are written."""
        return tuple(part for part in self.parts if isinstance(part, (Heater, Motor)))

    def fault(self, fault_id: str) -> Fault:
        """Return the fault of that name; KeyError where there is none."""
        for fault in self.faults:
            if fault.id == fault_id:
                return fault
        raise KeyError(fault_id)


@dataclass(frozen=True, slots=True)
class Setup:
    """How the appliance stands while something is read: supply on or off, knobs, parts taken off, hot or cold.

    `left_on` are knobs that may stand elsewhere unnoticed, which makes a lost leg look otherwise.
    """

    live: bool
    knobs: tuple[tuple[str, str], ...] = ()
    off: frozenset[str] = frozenset()
    hot: bool = False
    left_on: tuple[tuple[str, str], ...] = ()


Plate = Mapping[str, str]
"""Recorded answers by field: what the plate says, how the appliance is connected."""


def network_of(appliance: Appliance, plate: Plate, faults: Iterable[Fault], setup: Setup) -> Network:
    """Return the network of the appliance with these faults, as it stands in this setup.

    An element with a path to its sheath is two branches, `<name>` from its first end and `<name>, second part`. Cold
    elements have the resistance of a cold element.
    """
    effects = [effect for fault in faults for effect in fault.effects]
    positions = knobs_at(appliance, effects, setup)
    there = [part for part in appliance.parts if is_there(appliance, part, plate)]
    ends = ends_of(there, effects)
    branches: list[Branch] = []
    nodes: list[str] = []
    for part in there:
        nodes += ends[part.name]
        branches += branches_of(part, ends[part.name], plate, positions, effects, setup)
    for number, effect in enumerate(effects):
        if isinstance(effect, Bridged):
            branches.append(Branch(f"bridge {number}", effect.first, effect.second, effect.ohm))
    sources = tuple(source_of(leg, effects) for leg in appliance.legs) if setup.live else ()
    return Network(tuple(branches), sources, tuple(dict.fromkeys(nodes)))


def branches_of(
    part: Part,
    ends: tuple[str, str],
    plate: Plate,
    positions: Mapping[str, str],
    effects: Sequence[Effect],
    setup: Setup,
) -> list[Branch]:
    """Return what one part is in the network, between these ends; empty where it is taken off."""
    if part.name in setup.off:
        return []
    first, second = ends
    ohm = _ohm(part, plate, positions, effects, setup)
    leaks = [
        effect
        for effect in effects
        if isinstance(effect, Leaks) and effect.part == part.name and (setup.hot or not effect.hot)
    ]
    if not isinstance(part, Heater) or not leaks:
        return [Branch(part.name, first, second, ohm)]
    return [
        *_leaking(part, first, second, ohm, leaks[0]),
        *(
            Branch(f"{part.name}, path {n}", first if leak.at < 0.5 else second, part.sheath, leak.ohm)
            for n, leak in enumerate(leaks[1:], start=2)
        ),
    ]


def read_off(appliance: Appliance, faults: Iterable[Fault], name: str) -> float:
    """Return what a stopwatch or a thermometer shows with these faults; `math.nan` for a figure that there is not."""
    effects = (effect for fault in faults for effect in fault.effects)
    other = next((effect.value for effect in effects if isinstance(effect, ReadOff) and effect.name == name), None)
    return appliance.read_off.get(name, math.nan) if other is None else other


def rated_ohm(heater: Heater, plate: Plate) -> float:
    """Return volts squared over watts, from the plate where both are recorded."""
    volts = float(figure(plate, heater.volts_field) or heater.volts)
    return volts * volts / rated_watts(heater, plate)


def rated_watts(load: Load, plate: Plate) -> float:
    """Return the load's rated power, an element's from the plate where it is recorded."""
    recorded = figure(plate, load.watts_field) if isinstance(load, Heater) else None
    return float(recorded or load.watts)


def is_there(appliance: Appliance, part: Part, plate: Plate) -> bool:
    """Return whether the appliance has the part at all, with these recorded answers."""
    wanted = appliance.only.get(part.name, {})
    return all(plate.get(key, appliance.usual.get(key, values[0])) in values for key, values in wanted.items())


def knobs_at(appliance: Appliance, effects: Iterable[Effect], setup: Setup) -> dict[str, str]:
    """Return where each knob is in effect, whatever is asked of it."""
    positions = {knob: names[0] for knob, names in appliance.knobs.items()}
    positions.update(setup.knobs)
    if not setup.live:
        positions.update(appliance.isolated)
    for effect in effects:
        if isinstance(effect, Held):
            positions[effect.knob] = effect.position
    return positions


def ends_of(parts: Iterable[Part], effects: Iterable[Effect]) -> dict[str, tuple[str, str]]:
    """Return the nodes each of these parts is joined to."""
    ends = {part.name: (part.first, part.second) for part in parts}
    for effect in effects:
        if isinstance(effect, Swapped) and effect.part in ends and effect.other in ends:
            (first, second), (other_first, other_second) = ends[effect.part], ends[effect.other]
            ends[effect.part], ends[effect.other] = (first, other_second), (other_first, second)
    return ends


def _ohm(part: Part, plate: Plate, positions: Mapping[str, str], effects: Iterable[Effect], setup: Setup) -> float:
    ohm = _whole(part, plate, setup)
    closed = not isinstance(part, Contact) or positions[part.knob] in part.closed
    for effect in effects:
        match effect:
            case Welded(part=name) if name == part.name:
                closed = True
            case Opened(part=name, hot=hot, until=until) if name == part.name and (setup.hot or not hot):
                if until is None or positions.get(until[0]) != until[1]:
                    return math.inf
            case Scaled(part=name, factor=factor) if name == part.name:
                ohm *= factor
            case Joint(part=name, ohm=more, at_rest_ohm=at_rest) if name == part.name:
                ohm += more if setup.live else at_rest
            case _:
                pass
    return ohm if closed else math.inf


def _whole(part: Part, plate: Plate, setup: Setup) -> float:
    match part:
        case Heater():
            return rated_ohm(part, plate) * (1.0 if setup.live else COLD_PART)
        case Motor(watts=watts, volts=volts, winding_ohm=winding_ohm):
            return volts * volts / watts if setup.live else winding_ohm
        case Platinum(fahrenheit_field=name):
            at_c = _celsius(plate, name)
            return float(resistance_ohm(at_c, Curve.PPM_3750))
        case Wire(ohm=ohm) | Contact(ohm=ohm) | Lamp(ohm=ohm):
            return ohm


def _celsius(plate: Plate, name: str) -> Decimal:
    try:
        at_c = to_celsius(Decimal(plate.get(name, "")), Unit.FAHRENHEIT)
    except InvalidOperation:
        return ROOM_C
    return at_c if at_c.is_finite() and LOWEST_C <= at_c <= HIGHEST_C else ROOM_C


def _leaking(part: Heater, first: str, second: str, ohm: float, leak: Leaks) -> Iterator[Branch]:
    at = min(max(leak.at, 0.001), 0.999)
    between = f"{part.name}, where it leaks"
    if ohm == math.inf:
        # A break has the path on one side of it.
        near, far = (ohm, 0.001) if at > 0.5 else (0.001, ohm)
    else:
        near, far = ohm * at, ohm * (1 - at)
    yield Branch(part.name, first, between, near)
    yield Branch(f"{part.name}, second part", between, second, far)
    yield Branch(f"{part.name}, path", between, part.sheath, leak.ohm)


def source_of(leg: Leg, effects: Iterable[Effect]) -> Source:
    """Return the source that a leg of the supply is."""
    volts, turn_deg = leg.volts, leg.turn_deg
    for effect in effects:
        if isinstance(effect, Fed) and effect.leg == leg.name:
            volts *= effect.factor
            turn_deg = turn_deg if effect.turn_deg is None else effect.turn_deg
    return Source(leg.name, leg.plus, leg.minus, cmath.rect(volts, math.radians(turn_deg)), SOURCE_OHM)
