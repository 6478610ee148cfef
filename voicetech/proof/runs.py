"""A section worked through on an appliance at hand: what its steps show of the sound appliance and of each fault.

Readings come from the circuit, looks and answers from what each fault is seen and told by; what nothing tells is
answered as of a sound appliance.
"""

import math
from collections import deque
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from itertools import product
from typing import Final

from voicetech.diagnosis.predictions import Predicted
from voicetech.electrical.appliance import Appliance, Fault
from voicetech.procedure import Ask, Condition, Inspect, Measure, Outcome, Procedure, Section, Step
from voicetech.proof.shown import foresee, plate_of, readings, result_of, shown, volts_of
from voicetech.proof.ways import UNKNOWN, Edge, Spot, Ways, holds, outcome_of, results

_NOT_TOLD: Final = frozenset({"supply", "cause", "found", "remedy"})
"""Fields that come from what was found, which is nothing where a section begins."""
_OUT: Final = ("over_range", "above", "below")


@dataclass(frozen=True, slots=True)
class AtHand:
    """An appliance: its faults, the answers that say which parts it has, and whether knobs were left on."""

    faults: tuple[Fault, ...]
    parts: tuple[tuple[str, str], ...] = ()
    left_on: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """How a way through a section ends: the last step and result, what was told of causes on it, and the way."""

    step: str
    result: str
    outcome: Outcome
    excluded: frozenset[str]
    told: frozenset[str]
    way: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Came:
    """A result that came about at a step, told before it on the way, and how."""

    step: str
    result: str
    outcome: Outcome
    told: frozenset[str]
    way: tuple[tuple[str, str], ...]


class Workbench:
    """The sections of a procedure to be worked through on appliances with its circuit."""

    def __init__(self, procedure: Procedure, circuit: Appliance) -> None:
        self.procedure, self.circuit = procedure, circuit
        self.plate = plate_of(circuit)
        self._ways: dict[str, Ways] = {}
        self._read_before: dict[tuple[str, str, AtHand], tuple[Predicted, ...]] = {}
        self._appliances: dict[Fault | None, tuple[AtHand, ...]] = {}
        self._results: dict[tuple[str, str, AtHand, bool], str | None] = {}
        self._runs: dict[Hashable, tuple[list[Came], list[End]]] = {}
        self.telling: dict[str, set[str]] = {}
        for fault in circuit.faults:
            for field, answers in fault.told.items():
                self.telling.setdefault(field, set()).update(answers)
        steps = [step for section in procedure.sections for step in section.steps if isinstance(step, Measure)]
        for parts in self.parts:
            there = dict(parts)
            singles = [(fault,) for fault in circuit.faults if fault.can_be(there)]
            foresee(circuit, steps, [(), *singles], there)

    def ways(self, section: Section) -> Ways:
        """Return the ways of a section, worked out once."""
        found = self._ways.get(section.id)
        if found is None:
            found = self._ways[section.id] = Ways(self.procedure, section)
        return found

    @cached_property
    def parts(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """Return the answers with which the appliance has other parts, every combination of them."""
        fields: dict[str, list[str]] = {}
        for wanted in self.circuit.only.values():
            for field, answers in wanted.items():
                known = fields.setdefault(field, [])
                known += [answer for answer in answers if answer not in known]
        return tuple(tuple(zip(fields, each, strict=True)) for each in product(*fields.values()))

    def appliances(self, fault: Fault | None = None) -> tuple[AtHand, ...]:
        """Return the appliance with each set of parts that it can have with the fault, or sound."""
        found = self._appliances.get(fault)
        if found is None:
            found = self._appliances[fault] = tuple(
                AtHand(() if fault is None else (fault,), parts, left_on)
                for parts in self.parts
                if fault is None or fault.can_be(dict(parts))
                for left_on in ((False, True) if self._left_on else (False,))
            )
        return found

    @cached_property
    def _left_on(self) -> bool:
        steps = [step for section in self.procedure.sections for step in section.steps]
        return any(isinstance(step, Measure) and step.setup and step.setup.left_on for step in steps)

    def _readings(self, section: Section, step: Measure, at_hand: AtHand) -> tuple[Predicted, ...]:
        key = section.id, step.id, at_hand
        found = self._read_before.get(key)
        if found is None:
            found = readings(self.circuit, step, at_hand.faults, dict(at_hand.parts), at_hand.left_on)
            self._read_before[key] = found
        return found

    def comes_with(self, section: Section, step: Step, at_hand: AtHand) -> bool:
        """Return whether section and step come up on an appliance with these parts."""
        known = dict(at_hand.parts)
        return all(holds(c, known) for c in (*section.when, *step.when) if c.field in known)

    def result(self, section: Section, step: Step, at_hand: AtHand, again: bool = False) -> str | None:
        """Return what a measurement or a look comes to, whatever was recorded before; None where nothing tells."""
        match step:
            case Inspect(part=part):
                return "fault" if any(part in fault.seen for fault in at_hand.faults) else "clean"
            case Measure():
                key = section.id, step.id, at_hand, again
                if key not in self._results:
                    answers = {**self.plate, **dict(at_hand.parts), **self._measured(section, at_hand)}
                    self._results[key] = self._read(section, step, at_hand, answers, again)
                return self._results[key]
            case _:
                return None

    def _measured(self, section: Section, at_hand: AtHand) -> dict[str, str]:
        """Return what the section's measurements record, each by the circuit."""
        found: dict[str, str] = {}
        for step in section.steps:
            if isinstance(step, Measure) and step.field is not None:
                values = self._readings(section, step, at_hand)
                if values and math.isfinite(values[0].value):
                    found[step.field] = str(shown(values[0].value))
        return found

    def _read(
        self, section: Section, step: Measure, at_hand: AtHand, answers: Mapping[str, str], again: bool
    ) -> str | None:
        values = self._readings(section, step, at_hand)
        result = result_of(step, values, answers, self._idle(section, step, at_hand), again)
        return "within" if result == "unusable" else result

    def _idle(self, section: Section, step: Measure, at_hand: AtHand) -> Mapping[str, Decimal]:
        if step.judged_as != "supply-loaded":
            return {}
        for other in section.steps:
            if isinstance(other, Measure) and other.judged_as == "supply-idle":
                return volts_of(other, self._readings(section, other, at_hand), again=False)
        return {}

    def run(
        self, section: Section, at_hand: AtHand, slip: str | None = None, anywhere: bool = False
    ) -> tuple[list[Came], list[End]]:
        """Return all that comes about on every way through the section, and how each way ends.

        `slip` is a step that reads out of limits because of a bad contact there. With `anywhere` ways begin at every
        step, as if what comes before had shown nothing.
        """
        key = section.id, slip, anywhere, self._alike(section, at_hand)
        if key not in self._runs:
            self._runs[key] = self._run(section, at_hand, slip, anywhere)
        return self._runs[key]

    def _alike(self, section: Section, at_hand: AtHand) -> Hashable:
        """Return what makes two appliances the same to a section: what it reads, sees and is told, and how it begins."""
        shown = tuple(
            self._answers(step, at_hand)
            if isinstance(step, Ask)
            else (self.result(section, step, at_hand), self.result(section, step, at_hand, again=True))
            for step in section.steps
            if isinstance(step, (Ask, Inspect, Measure))
        )
        ways = self.ways(section)
        begins = tuple(spot for spot in ways.starts if spot is not None and self._may_begin(ways, spot, at_hand))
        return shown, begins, tuple(self._measured(section, at_hand).items())

    def _run(
        self, section: Section, at_hand: AtHand, slip: str | None, anywhere: bool
    ) -> tuple[list[Came], list[End]]:
        ways = self.ways(section)
        came: dict[tuple[str, str, bool], Came] = {}
        ends: list[End] = []
        owed = deque(
            _Way(spot, frozenset(), frozenset(), (), ())
            for spot in (ways.edges if anywhere else ways.starts)
            if spot is not None and self._may_begin(ways, spot, at_hand)
        )
        seen = {way.key for way in owed}
        while owed:
            way = owed.popleft()
            step = ways.step(way.spot)
            possible, recorded = self._possible(section, step, at_hand, way, slip)
            for edge in ways.edges[way.spot]:
                if edge.result not in possible:
                    continue
                after = way.after(step.id, edge, recorded)
                if not _is_repeat(way.spot, edge):
                    key = step.id, edge.result, bool(way.told)
                    came.setdefault(key, Came(step.id, edge.result, edge.outcome, way.told, way.way))
                if edge.to is None:
                    ends.append(End(step.id, edge.result, edge.outcome, after.excluded, after.told, after.way))
                elif after.key not in seen:
                    seen.add(after.key)
                    owed.append(after)
        return list(came.values()), ends

    def _possible(
        self, section: Section, step: Step, at_hand: AtHand, way: "_Way", slip: str | None
    ) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
        """Return the results that the step may have, and what is on record after it."""
        match step:
            case Measure():
                answers = {**self.plate, **dict(at_hand.parts), **dict(way.recorded)}
                result = self._read(section, step, at_hand, answers, way.spot.again)
                known = results(self.procedure, step)
                recorded = way.recorded
                values = self._readings(section, step, at_hand)
                if step.field is not None and values and math.isfinite(values[0].value):
                    recorded = tuple(sorted({**dict(recorded), step.field: str(shown(values[0].value))}.items()))
                if slip == step.id:
                    return tuple(word for word in _OUT if word in known)[:1], recorded
                if result is None:
                    return (("within",) if step.judged_as == "each" else ("split-phase",)), recorded
                return (result,), recorded
            case Inspect():
                return (self.result(section, step, at_hand) or "clean",), way.recorded
            case Ask():
                return self._answers(step, at_hand), way.recorded
            case _:
                return results(self.procedure, step), way.recorded

    def _answers(self, step: Ask, at_hand: AtHand) -> tuple[str, ...]:
        """Return the answers that this appliance gets: what its faults tell, else what tells nothing."""
        possible = results(self.procedure, step)
        fixed = dict(at_hand.parts).get(step.field)
        if fixed in possible:
            return (fixed,) if fixed is not None else ()
        told = [answers for fault in at_hand.faults if (answers := fault.told.get(step.field)) is not None]
        if told:
            return tuple(each for each in possible if any(each in answers for answers in told)) or possible
        only = [answers for fault in at_hand.faults if (answers := fault.only.get(step.field)) is not None]
        plain = [each for each in possible if all(each in answers for answers in only)] or list(possible)
        plain = [each for each in plain if each not in self.telling.get(step.field, ())] or plain
        return tuple(each for each in plain if _harmless(outcome_of(step, each))) or tuple(plain)

    def _may_begin(self, ways: Ways, spot: Spot, at_hand: AtHand) -> bool:
        parts = dict(at_hand.parts)
        for field, value in spot.known:
            named = ways.answers[field]
            if field in parts:
                if value != (parts[field] if parts[field] in named else UNKNOWN):
                    return False
                continue
            if field in _NOT_TOLD:
                if value:
                    return False
                continue
            told = [answers for fault in at_hand.faults if (answers := fault.told.get(field)) is not None]
            only = [answers for fault in at_hand.faults if (answers := fault.only.get(field)) is not None]
            if told:
                wanted = {each if each in named else UNKNOWN for answers in told for each in answers}
                if value not in wanted:
                    return False
            elif value in self.telling.get(field, ()) or any(value not in answers for answers in only if value):
                return False
            elif only and not value and any(each in named for answers in only for each in answers):
                return False
        return True


@dataclass(frozen=True, slots=True)
class _Way:
    spot: Spot
    excluded: frozenset[str]
    told: frozenset[str]
    recorded: tuple[tuple[str, str], ...]
    way: tuple[tuple[str, str], ...]

    @property
    def key(self) -> object:
        return self.spot, self.excluded, self.told, self.recorded

    def after(self, step: str, edge: Edge, recorded: tuple[tuple[str, str], ...]) -> "_Way":
        """Return the way with one result more."""
        spot = edge.to or self.spot
        way = (*self.way, (step, edge.result))
        if _is_repeat(self.spot, edge):
            return _Way(spot, self.excluded, self.told, recorded, way)
        outcome = edge.outcome
        told = self.told | set(outcome.suspects) | ({outcome.cause} if outcome.cause else set())
        return _Way(spot, self.excluded | set(outcome.excludes), told, recorded, way)


def _is_repeat(spot: Spot, edge: Edge) -> bool:
    return edge.to is not None and edge.to.step == spot.step and edge.to.again and not spot.again


def _harmless(outcome: Outcome) -> bool:
    return not (outcome.cause or outcome.suspects or outcome.hand_over or outcome.danger)


def conditions_fit(conditions: tuple[Condition, ...], parts: Mapping[str, str]) -> bool:
    """Return whether conditions leave room for an appliance with these parts."""
    return all(holds(condition, parts) for condition in conditions if condition.field in parts)
