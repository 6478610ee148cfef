"""One appliance with this fault or that, as plates and set-ups differ: networks of one layout, solved together."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from voicetech.electrical.appliance import (
    SOURCE_OHM,
    Appliance,
    Bridged,
    Contact,
    Effect,
    Fault,
    Fed,
    Heater,
    Held,
    Leaks,
    Opened,
    Part,
    Platinum,
    ReadOff,
    Setup,
    Swapped,
    branches_of,
    ends_of,
    is_there,
    knobs_at,
    source_of,
)
from voicetech.electrical.layout import Floats, Layout, Places, Solution
from voicetech.electrical.network import Branch

Answers = tuple[tuple[str, str], ...]
"""Recorded answers, as pairs of field and value."""
_Slot = tuple[str, str, str]
"""A branch that may be: its name and its two nodes."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """The whole appliance in one set-up: its conductances by row, twice, and its knobs.

    `bare` is the same set-up with nothing taken off.
    """

    setup: Setup
    bare: Setup
    siemens: Floats
    listed: Sequence[float]
    positions: Mapping[str, str]
    islands: Sequence[int]
    """What each node hangs together with, by its place."""


@dataclass(frozen=True, slots=True)
class Variant:
    """What differs in one network from the whole appliance in the same set-up.

    `siemens` are the conductances that are others, by their row in the layout, `rows` where the branch of a part's name
    is to be found if not in its usual place, `driven_a` what other legs drive.
    """

    stand: Stand
    siemens: Mapping[int, float]
    rows: Mapping[str, int]
    driven_a: Mapping[int, complex]

    @property
    def is_whole(self) -> bool:
        """Return whether nothing differs."""
        return not self.siemens and not self.driven_a


@dataclass(frozen=True, slots=True)
class _Change:
    """What faults and answers make of the parts they touch, with nothing taken off: conductances by row and part."""

    siemens: Mapping[int, tuple[str, float]]
    rows: Mapping[str, int]
    driven_a: Mapping[int, complex]


@dataclass(frozen=True, slots=True)
class _Reach:
    """What faults and answers touch, and what they change so far as it is known.

    `touched` names parts, knobs, legs and bridges, `knobs` those that the change hangs on. `places` are the nodes
    between which something may be otherwise, None where the layout does not have one of them. `changes` go by whether
    the set-up is live and hot, and by where those knobs are; None has no room in the layout.
    """

    touched: frozenset[str]
    knobs: tuple[str, ...]
    places: tuple[int, ...] | None
    changes: dict[tuple[bool | str, ...], _Change | None] = field(default_factory=dict)


_NO_LEGS: Final[Mapping[int, complex]] = {}
_BRIDGE = ""
"""What the branch of a bridge goes by: no part has this name, so none that is taken off takes a bridge with it."""


class Variants:
    """The networks of one appliance, as what differs from the whole one."""

    def __init__(self, appliance: Appliance) -> None:
        self._appliance = appliance
        self._parts = {part.name: part for part in appliance.parts}
        self._rows: dict[_Slot, int] = {}
        for part in appliance.parts:
            self._row((part.name, part.first, part.second))
        for fault in appliance.faults:
            for slot in _slots_of(self._parts, fault):
                self._row(slot)
        legs = len(self._rows)
        ends = [(first, second) for _, first, second in self._rows] + [(leg.plus, leg.minus) for leg in appliance.legs]
        nodes = tuple(dict.fromkeys(node for pair in ends for node in pair))
        self._nodes = frozenset(nodes)
        self._layout = Layout(nodes, ends, range(legs, len(ends)))
        self._ends = ends
        self._places = [(self._layout.place(first), self._layout.place(second)) for first, second in ends]
        self._turned_by: dict[str, list[str]] = {}
        self._plated_by: dict[str, list[str]] = {}
        for part in appliance.parts:
            if isinstance(part, Contact):
                self._turned_by.setdefault(part.knob, []).append(part.name)
            for recorded in (*_plate_fields(part), *appliance.only.get(part.name, {})):
                self._plated_by.setdefault(recorded, []).append(part.name)
        self._stands: dict[Setup, Stand] = {}
        self._bare: dict[tuple[bool, Answers], list[float]] = {}
        self._reaches: dict[tuple[Answers, tuple[Fault, ...]], _Reach] = {}

    def _row(self, slot: _Slot) -> int:
        return self._rows.setdefault(slot, len(self._rows))

    def variant(self, plate: Answers, faults: tuple[Fault, ...], stand: Stand) -> Variant | None:
        """Return what these faults and recorded answers change, or None where the layout has no room for it.

        That is where faults make a branch that none of the appliance's own faults makes alone.
        """
        change = self._in_pieces(plate, faults, stand)
        if change is None:
            return None
        siemens = {
            row: value
            for row, (name, value) in change.siemens.items()
            if value != stand.listed[row] and name not in stand.setup.off
        }
        return Variant(stand, siemens, change.rows, change.driven_a if stand.setup.live else _NO_LEGS)

    def _in_pieces(self, plate: Answers, faults: tuple[Fault, ...], stand: Stand) -> _Change | None:
        """Return what they change, put together from pieces of which none touches what another touches."""
        if len(plate) + len(faults) == 1:
            return self._change_alone(plate, faults, stand)
        pieces = self._pieces(plate, faults)
        if len(pieces) == 1:
            return self._change_alone(*pieces[0], stand)
        siemens: dict[int, tuple[str, float]] = {}
        rows: dict[str, int] = {}
        driven_a: dict[int, complex] = {}
        for piece in pieces:
            change = self._change_alone(*piece, stand)
            if change is None:
                return None
            siemens |= change.siemens
            rows |= change.rows
            driven_a |= change.driven_a
        return _Change(siemens, rows, driven_a)

    def _pieces(self, plate: Answers, faults: tuple[Fault, ...]) -> list[tuple[Answers, tuple[Fault, ...]]]:
        alone = [((answer,), ()) for answer in plate] + [((), (fault,)) for fault in faults]
        found: list[tuple[Answers, tuple[Fault, ...], frozenset[str]]] = []
        for answers, wrong in alone:
            touched = self._reach(answers, wrong).touched
            apart: list[tuple[Answers, tuple[Fault, ...], frozenset[str]]] = []
            # Earlier answers and faults come first in a piece, so that each piece is the same whichever others are.
            before: Answers = ()
            wrong_before: tuple[Fault, ...] = ()
            for piece in found:
                if touched.isdisjoint(piece[2]):
                    apart.append(piece)
                else:
                    before, wrong_before, touched = before + piece[0], wrong_before + piece[1], touched | piece[2]
            apart.append((before + answers, wrong_before + wrong, touched))
            found = apart
        return [(answers, wrong) for answers, wrong, _ in found]

    def _change_alone(self, plate: Answers, faults: tuple[Fault, ...], stand: Stand) -> _Change | None:
        reach = self._reach(plate, faults)
        setup, positions = stand.setup, stand.positions
        key: tuple[bool | str, ...] = (setup.live, setup.hot, *[positions[knob] for knob in reach.knobs])
        if key not in reach.changes:
            reach.changes[key] = self._changed(plate, faults, stand.bare)
        return reach.changes[key]

    def _changed(self, plate: Answers, faults: tuple[Fault, ...], setup: Setup) -> _Change | None:
        answers = dict(plate)
        effects = [effect for fault in faults for effect in fault.effects]
        positions = knobs_at(self._appliance, effects, setup)
        ends = self._ends_with(effects, answers)
        siemens: dict[int, tuple[str, float]] = {}
        rows: dict[str, int] = {}
        for name in self._touched(plate, effects):
            part = self._parts[name]
            own = part.first, part.second
            siemens[self._rows[name, *own]] = name, 0.0
            if not is_there(self._appliance, part, answers):
                continue
            for branch in branches_of(part, ends.get(name, own), answers, positions, effects, setup):
                row = self._rows.get((branch.name, branch.first, branch.second))
                if row is None:
                    return None
                siemens[row] = name, _siemens(branch)
                rows[branch.name] = row
        for effect in effects:
            if isinstance(effect, Bridged):
                row = self._rows.get((_BRIDGE, effect.first, effect.second))
                if row is None:
                    return None
                siemens[row] = _BRIDGE, siemens.get(row, (_BRIDGE, 0.0))[1] + 1 / effect.ohm
        return _Change(siemens, rows, self._driven_a(effects))

    def _reach(self, plate: Answers, faults: tuple[Fault, ...]) -> "_Reach":
        found = self._reaches.get((plate, faults))
        if found is None:
            effects = [effect for fault in faults for effect in fault.effects]
            touched = set(self._touched(plate, effects))
            parts = [self._parts[name] for name in touched]
            nodes = {end for part in parts for end in (part.first, part.second)}
            nodes |= {part.sheath for part in parts if isinstance(part, Heater)}
            knobs = {part.knob for part in parts if isinstance(part, Contact)}
            for effect in effects:
                match effect:
                    case Held(knob=knob):
                        touched.add(f"knob {knob}")
                    case Opened(until=(knob, _)):
                        knobs.add(knob)
                        touched.add(f"knob {knob}")
                    case Fed(leg=leg):
                        touched.add(f"leg {leg}")
                    case Bridged(first=first, second=second):
                        touched.add(f"bridge {first} {second}")
                        nodes |= {first, second}
                    case _:
                        pass
            known = tuple(sorted(knobs & self._appliance.knobs.keys()))
            places = tuple(self.place(node) for node in nodes) if nodes <= self._nodes else None
            found = self._reaches[plate, faults] = _Reach(frozenset(touched), known, places)
        return found

    def may_move(
        self, cases: Iterable[tuple[Answers, tuple[Fault, ...]]], stand: Stand, nodes: Iterable[str]
    ) -> list[bool]:
        """Return of each of these whether it may change ohms between these nodes: what it touches hangs on one."""
        islands = stand.islands
        asked = {islands[self.place(node)] for node in nodes if node in self._nodes}
        found: list[bool] = []
        for plate, faults in cases:
            places = self._reach(plate, faults).places
            found.append(places is None or not asked.isdisjoint([islands[place] for place in places]))
        return found

    def is_usual(self, answer: tuple[str, str]) -> bool:
        """Return whether the appliance is the same without this recorded answer, in every set-up."""
        told = dict([answer])
        for name in self._touched((answer,), ()):
            part = self._parts[name]
            if is_there(self._appliance, part, told) != is_there(self._appliance, part, {}):
                return False
            if not isinstance(part, Contact):
                ends = part.first, part.second
                for setup in (Setup(live=True), Setup(live=False)):
                    if branches_of(part, ends, told, {}, (), setup) != branches_of(part, ends, {}, {}, (), setup):
                        return False
        return True

    def solve(self, variants: Sequence[Variant]) -> "SolvedVariants":
        """Return the networks solved, in this order. All of them are live, or none is."""
        number_of: dict[Stand, int] = {}
        numbers = [number_of.setdefault(variant.stand, len(number_of)) for variant in variants]
        siemens = np.stack([stand.siemens for stand in number_of], axis=1)[:, numbers]
        changed = [
            (row, column, value) for column, variant in enumerate(variants) for row, value in variant.siemens.items()
        ]
        if changed:
            rows, columns, values = zip(*changed, strict=True)
            siemens[rows, columns] = values
        driven_a = self._drives(variants) if variants[0].stand.setup.live else None
        return SolvedVariants(self, variants, self._layout.solve(siemens, driven_a), siemens)

    def has_node(self, node: str) -> bool:
        """Return whether the layout has a node of that name."""
        return node in self._nodes

    def has_part(self, name: str) -> bool:
        """Return whether the appliance has a part of that name."""
        return name in self._parts

    def place(self, node: str) -> int:
        """Return the place of a node in the layout; KeyError for one that the appliance does not have."""
        return self._layout.place(node)

    def row_of(self, name: str) -> int:
        """Return the row of a part's own branch; KeyError for a part that the appliance does not have."""
        part = self._parts[name]
        return self._rows[name, part.first, part.second]

    def ends_of_row(self, row: int) -> tuple[int, int]:
        """Return the places of the two nodes of a row's branch."""
        return self._places[row]

    def stand(self, setup: Setup) -> Stand:
        """Return the whole appliance in this set-up."""
        found = self._stands.get(setup)
        if found is None:
            bare = replace(setup, off=frozenset())
            positions = knobs_at(self._appliance, (), setup)
            siemens = list(self._with_nothing_off(bare, positions))
            for name in setup.off & self._parts.keys():
                siemens[self.row_of(name)] = 0.0
            found = self._stands[setup] = Stand(
                setup, bare, np.array(siemens), siemens, positions, self._islands(siemens)
            )
        return found

    def _islands(self, siemens: Sequence[float]) -> list[int]:
        leads_to = list(range(len(self._nodes)))

        def last(place: int) -> int:
            while leads_to[place] != place:
                place = leads_to[place]
            return place

        for (first, second), each in zip(self._places, siemens, strict=True):
            if each:
                leads_to[last(first)] = last(second)
        return [last(place) for place in leads_to]

    def _with_nothing_off(self, bare: Setup, positions: Mapping[str, str]) -> list[float]:
        # Set-ups that differ in what is taken off have this in common.
        key = bare.live, tuple(positions.items())
        found = self._bare.get(key)
        if found is None:
            found = [0.0] * len(self._ends)
            for part in self._appliance.parts:
                if is_there(self._appliance, part, {}):
                    (branch,) = branches_of(part, (part.first, part.second), {}, positions, (), bare)
                    found[self.row_of(part.name)] = _siemens(branch)
            if bare.live:
                found[len(self._rows) :] = [1 / SOURCE_OHM] * len(self._appliance.legs)
            self._bare[key] = found
        return found

    def _ends_with(self, effects: Sequence[Effect], plate: Mapping[str, str]) -> Mapping[str, tuple[str, str]]:
        if not any(isinstance(effect, Swapped) for effect in effects):
            return {}
        return ends_of((part for part in self._appliance.parts if is_there(self._appliance, part, plate)), effects)

    def _touched(self, plate: Answers, effects: Sequence[Effect]) -> Iterable[str]:
        """Return the parts that may be otherwise, each once."""
        found = [name for recorded, _ in plate for name in self._plated_by.get(recorded, ())]
        for effect in effects:
            match effect:
                case Held(knob=knob):
                    found += self._turned_by.get(knob, ())
                case Swapped(part=part, other=other):
                    found += [part, other]
                case Bridged() | Fed() | ReadOff():
                    pass
                case _:
                    found.append(effect.part)
        return dict.fromkeys(name for name in found if name in self._parts)

    def _driven_a(self, effects: Sequence[Effect]) -> dict[int, complex]:
        fed = {effect.leg for effect in effects if isinstance(effect, Fed)}
        return {
            number: source_of(leg, effects).volts / SOURCE_OHM
            for number, leg in enumerate(self._appliance.legs)
            if leg.name in fed
        }

    def _drives(self, variants: Sequence[Variant]) -> Floats:
        usual = [source_of(leg, ()).volts / SOURCE_OHM for leg in self._appliance.legs]
        driven = [[variant.driven_a.get(number, each) for variant in variants] for number, each in enumerate(usual)]
        both = np.array(driven, dtype=np.complex128).reshape(len(usual), len(variants))
        return np.stack([both.real, both.imag], axis=1)


class SolvedVariants:
    """Networks of one appliance with their voltages worked out, made by `Variants.solve`.

    Questions come in arrays: which of the networks is asked, and the places of two nodes.
    """

    def __init__(self, layout: Variants, variants: Sequence[Variant], solution: Solution, siemens: Floats) -> None:
        self._layout, self._variants, self._solution, self._siemens = layout, variants, solution, siemens

    def volts(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the volts rms between two nodes without a meter, without their sign; 0 where nothing joins them."""
        return self._solution.volts(columns, first, second)

    def ohms(self, columns: Places, first: Places, second: Places) -> Floats:
        """Return the resistance between two nodes in ohms, `math.inf` where nothing joins them."""
        return self._solution.ohms(columns, first, second)

    def amperes(self, columns: Places, name: str) -> Floats:
        """Return the amperes rms through the branch of a part's name; KeyError for a part that there is not."""
        usual = self._layout.row_of(name)
        rows = np.array([self._variants[column].rows.get(name, usual) for column in columns], dtype=np.intp)
        ends = {int(row): self._layout.ends_of_row(int(row)) for row in set(rows.tolist())}
        first = np.array([ends[row][0] for row in rows.tolist()], dtype=np.intp)
        second = np.array([ends[row][1] for row in rows.tolist()], dtype=np.intp)
        return self._solution.volts(columns, first, second) * self._siemens[rows, columns]


def _siemens(branch: Branch) -> float:
    return 0.0 if branch.is_open else 1 / branch.ohm


def _plate_fields(part: Part) -> tuple[str, ...]:
    match part:
        case Heater(watts_field=watts, volts_field=volts):
            return watts, volts
        case Platinum(fahrenheit_field=fahrenheit):
            return (fahrenheit,)
        case _:
            return ()


def _slots_of(parts: Mapping[str, Part], fault: Fault) -> Iterator[_Slot]:
    """Return the branches that a fault may add, alone or with another."""
    for effect in fault.effects:
        match effect:
            case Bridged(first=first, second=second):
                yield _BRIDGE, first, second
            case Swapped(part=name, other=other) if name in parts and other in parts:
                yield name, parts[name].first, parts[other].second
                yield other, parts[other].first, parts[name].second
            case Leaks(part=name) if isinstance(heater := parts.get(name), Heater):
                hot = Setup(live=False, hot=True)
                for branch in branches_of(heater, (heater.first, heater.second), {}, {}, (effect,), hot):
                    yield branch.name, branch.first, branch.second
                # Beside another path of the same element it is taken at the nearer end.
                yield f"{name}, path 2", heater.first if effect.at < 0.5 else heater.second, heater.sheath
            case _:
                pass
