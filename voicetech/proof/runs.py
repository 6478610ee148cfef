"""A section worked through on an appliance at hand: what comes about in it on the sound one and with each fault.

Readings come from the circuit, looks and answers from what each fault is seen and told by; what nothing tells is
answered as of a sound appliance.
"""

import math
from collections import deque
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Final

from voicetech.diagnosis.predictions import Predicted
from voicetech.dialogue.flow import FROM_DIAGNOSIS
from voicetech.electrical.appliance import Appliance, Fault
from voicetech.procedure import Ask, Inspect, Measure, Outcome, Procedure, Section, Step
from voicetech.proof.shown import Idle, foresee, plate_of, readings, result_of, shown, volts_of
from voicetech.proof.ways import UNKNOWN, Edge, Spot, Ways, holds, is_repeat, outcome_of, results

_OUT: Final = ("over_range", "above", "below")


@dataclass(frozen=True, slots=True)
class AtHand:
    """An appliance: its fault or none, the answers that say which parts it has, and whether knobs were left on."""

    fault: Fault | None
    parts: tuple[tuple[str, str], ...] = ()
    left_on: bool = False

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Return its faults, none or one."""
        return () if self.fault is None else (self.fault,)


@dataclass(frozen=True, slots=True)
class Came:
    """A result that comes about at a step, and what the procedure says of it."""

    step: str
    result: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class End:
    """How a way through a section ends: the last result, and the causes that were shown or suspected on the way."""

    last: Came
    told: frozenset[str]


@dataclass(frozen=True, slots=True)
class Run:
    """All that comes about on the ways through a section, and how each of them ends."""

    came: tuple[Came, ...]
    ends: tuple[End, ...]


class Workbench:
    """The sections of a procedure, to be worked through on appliances with its circuit."""

    def __init__(self, procedure: Procedure, circuit: Appliance) -> None:
        self.procedure, self.circuit = procedure, circuit
        self.telling = _telling(circuit)
        self._plate = plate_of(circuit)
        self._ways: dict[str, Ways] = {}
        self._appliances: dict[tuple[Fault | None, bool], tuple[AtHand, ...]] = {}
        self._verdicts: dict[Hashable, str | None] = {}
        self._results: dict[Hashable, str | None] = {}
        self._runs: dict[Hashable, Run] = {}
        # By the step itself, not by what it says: a hash of all its words would cost more than is saved.
        self._read_off: dict[tuple[int, AtHand], tuple[Predicted, ...]] = {}
        self._possibly: dict[int, tuple[str, ...]] = {}
        self._on_record: dict[tuple[str, AtHand], Mapping[str, str]] = {}
        self._shown: dict[tuple[str, AtHand], Hashable] = {}
        steps = [step for section in procedure.sections for step in section.steps if isinstance(step, Measure)]
        for parts in self._parts:
            there = dict(parts)
            foresee(circuit, steps, [(), *((each,) for each in circuit.faults if each.can_be(there))], there)

    def ways(self, section: Section) -> Ways:
        """Return the ways of a section, worked out once."""
        found = self._ways.get(section.id)
        if found is None:
            found = self._ways[section.id] = Ways(self.procedure, section)
        return found

    @cached_property
    def _parts(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """Return the answers with which the appliance has other parts, every combination of them."""
        fields: dict[str, dict[str, None]] = {}
        for wanted in self.circuit.only.values():
            for field, answers in wanted.items():
                fields.setdefault(field, {}).update(dict.fromkeys(answers))
        return tuple(tuple(zip(fields, each, strict=True)) for each in product(*fields.values()))

    def appliances(self, section: Section, fault: Fault | None = None) -> tuple[AtHand, ...]:
        """Return the appliance, sound or with a fault, with each set of parts that it can have.

        Where a step of the section has knobs that may be left on, it is there with them off and on.
        """
        left_on = any(isinstance(step, Measure) and step.setup and step.setup.left_on for step in section.steps)
        key = fault, left_on
        if key not in self._appliances:
            self._appliances[key] = tuple(
                AtHand(fault, parts, left)
                for parts in self._parts
                if fault is None or fault.can_be(dict(parts))
                for left in ((False, True) if left_on else (False,))
            )
        return self._appliances[key]

    def comes_with(self, section: Section, step: Step, at_hand: AtHand) -> bool:
        """Return whether section and step come up on an appliance with these parts."""
        known = dict(at_hand.parts)
        return all(holds(each, known) for each in (*section.when, *step.when) if each.field in known)

    def result(self, section: Section, step: Step, at_hand: AtHand, again: bool = False) -> str | None:
        """Return what a measurement or a look comes to, whatever was recorded before; None where nothing tells."""
        match step:
            case Inspect(part=part):
                return "fault" if any(part in fault.seen for fault in at_hand.faults) else "clean"
            case Measure():
                key = section.id, step.id, at_hand, again
                if key not in self._results:
                    self._results[key] = self._read(section, step, at_hand, self._measured(section, at_hand), again)
                return self._results[key]
            case _:
                return None

    def run(self, section: Section, at_hand: AtHand, slip: str | None = None, anywhere: bool = False) -> Run:
        """Return all that comes about on every way through the section.

        `slip` is a step that reads out of limits because of a bad contact there. With `anywhere` ways begin at every
        step, as if what comes before it had shown nothing.
        """
        key = section.id, slip, anywhere, self._alike(section, at_hand)
        if key not in self._runs:
            self._runs[key] = self._run(section, at_hand, slip, anywhere)
        return self._runs[key]

    def reads(self, step: Measure, at_hand: AtHand) -> tuple[float, ...]:
        """Return what each pair of the step reads; nothing where the circuit cannot tell."""
        return tuple(each.value for each in self._readings(step, at_hand))

    # --- what is read, seen and told

    def _readings(self, step: Measure, at_hand: AtHand) -> tuple[Predicted, ...]:
        key = id(step), at_hand
        found = self._read_off.get(key)
        if found is None:
            found = readings(self.circuit, step, at_hand.faults, at_hand.parts, at_hand.left_on)
            self._read_off[key] = found
        return found

    def _measured(self, section: Section, at_hand: AtHand) -> Mapping[str, str]:
        """Return what the section's measurements record, each by the circuit."""
        found = self._on_record.get((section.id, at_hand))
        if found is None:
            found = self._on_record[section.id, at_hand] = {
                field: value
                for step in section.steps
                if isinstance(step, Measure) and step.field is not None
                for field, value in _recorded(step, self._readings(step, at_hand)).items()
            }
        return found

    def _read(
        self, section: Section, step: Measure, at_hand: AtHand, recorded: Mapping[str, str], again: bool
    ) -> str | None:
        values = self._readings(step, at_hand)
        idle = self._idle(section, step, at_hand)
        parts = dict(at_hand.parts)
        looked_at = tuple(
            recorded.get(field, parts.get(field, self._plate.get(field))) for field in step.limits.fields.values()
        )
        key = section.id, step.id, values, looked_at, tuple(idle.volts.items()), again
        if key not in self._verdicts:
            answers = {**self._plate, **parts, **recorded}
            found = result_of(step, values, answers, idle, again)
            self._verdicts[key] = "within" if found == "unusable" else found
        return self._verdicts[key]

    def _may_come(self, step: Step) -> tuple[str, ...]:
        found = self._possibly.get(id(step))
        if found is None:
            found = self._possibly[id(step)] = results(self.procedure, step)
        return found

    def _idle(self, section: Section, step: Measure, at_hand: AtHand) -> Idle:
        """Return what a supply under load is judged beside."""
        for other in section.steps if step.judged_as == "supply-loaded" else ():
            if isinstance(other, Measure) and other.judged_as in ("supply-idle", "supply-alone"):
                volts = volts_of(other, self._readings(other, at_hand), again=False)
                return Idle(volts, alone=other.judged_as == "supply-alone")
        return Idle()

    def _answers(self, step: Ask, at_hand: AtHand) -> tuple[str, ...]:
        """Return the answers that this appliance gets: what its fault tells, else what tells nothing."""
        possible = self._may_come(step)
        fixed = dict(at_hand.parts).get(step.field)
        if fixed is not None and fixed in possible:
            return (fixed,)
        fault = at_hand.fault
        told = fault.told.get(step.field) if fault is not None else None
        if told is not None:
            return tuple(each for each in possible if each in told) or possible
        only = fault.only.get(step.field) if fault is not None else None
        plain = [each for each in possible if only is None or each in only] or list(possible)
        plain = [each for each in plain if each not in self.telling.get(step.field, ())] or plain
        return tuple(each for each in plain if _harmless(outcome_of(step, each))) or tuple(plain)

    # --- the ways

    def _alike(self, section: Section, at_hand: AtHand) -> Hashable:
        """Return what makes two appliances the same to a section: what it reads, sees and is told, where it begins."""
        known = self._shown.get((section.id, at_hand))
        if known is not None:
            return known
        shows = tuple(
            self._answers(step, at_hand)
            if isinstance(step, Ask)
            else (self.result(section, step, at_hand), self.result(section, step, at_hand, again=True))
            for step in section.steps
            if isinstance(step, (Ask, Inspect, Measure))
        )
        known = shows, self._begins(section, at_hand), tuple(self._measured(section, at_hand).items())
        self._shown[section.id, at_hand] = known
        return known

    def _begins(self, section: Section, at_hand: AtHand) -> tuple[Spot, ...]:
        ways = self.ways(section)
        return tuple(spot for spot in ways.starts if spot is not None and self._may_be(ways, spot, at_hand))

    def _run(self, section: Section, at_hand: AtHand, slip: str | None, anywhere: bool) -> Run:
        ways = self.ways(section)
        begins: Iterable[Spot] = self._begins(section, at_hand)
        if anywhere:
            begins = (spot for spot in ways.edges if self._may_be(ways, spot, at_hand))
        came: dict[tuple[str, str], Came] = {}
        ends: dict[End, None] = {}
        owed = deque(dict.fromkeys(_Way(spot) for spot in begins))
        seen = set(owed)
        while owed:
            way = owed.popleft()
            step = ways.step(way.spot)
            possible, recorded = self._possible(section, step, at_hand, way, slip)
            for edge in ways.edges[way.spot]:
                if edge.result not in possible:
                    continue
                last = Came(step.id, edge.result, edge.outcome)
                after = way.after(edge, recorded)
                if not is_repeat(way.spot, edge):
                    came.setdefault((step.id, edge.result), last)
                if edge.to is None:
                    ends[End(last, after.told)] = None
                elif after not in seen:
                    seen.add(after)
                    owed.append(after)
        return Run(tuple(came.values()), tuple(ends))

    def _possible(
        self, section: Section, step: Step, at_hand: AtHand, way: "_Way", slip: str | None
    ) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
        """Return the results that the step may have, and what is on record after it."""
        match step:
            case Measure():
                values = self._readings(step, at_hand)
                recorded = tuple(sorted({**dict(way.recorded), **_recorded(step, values)}.items()))
                if slip == step.id:
                    known = self._may_come(step)
                    return tuple(word for word in _OUT if word in known)[:1], recorded
                result = self._read(section, step, at_hand, dict(way.recorded), way.spot.again)
                return (result or ("within" if step.judged_as == "each" else "split-phase"),), recorded
            case Inspect():
                return (self.result(section, step, at_hand) or "clean",), way.recorded
            case Ask():
                return self._answers(step, at_hand), way.recorded
            case _:
                return self._may_come(step), way.recorded

    def _may_be(self, ways: Ways, spot: Spot, at_hand: AtHand) -> bool:
        """Return whether what is on record at the spot may be so with this appliance."""
        return all(value in self._standing(field, ways.answers[field], at_hand) for field, value in spot.known)

    def _standing(self, field: str, named: Sequence[str], at_hand: AtHand) -> set[str]:
        """Return what may be on record under a field whose `named` answers conditions tell apart."""
        if field in FROM_DIAGNOSIS:
            # Nothing is found yet where a section begins.
            return {UNKNOWN}
        wanted: tuple[str, ...] | None = None
        if field in dict(at_hand.parts):
            wanted = (dict(at_hand.parts)[field],)
        elif at_hand.fault is not None:
            wanted = at_hand.fault.told.get(field) or at_hand.fault.only.get(field)
        if wanted is None:
            return set(named) - self.telling.get(field, frozenset())
        return {each if each in named else UNKNOWN for each in wanted}


@dataclass(frozen=True, slots=True)
class _Way:
    """How far a way has come: its spot, the causes told on it, and what its measurements have recorded."""

    spot: Spot
    told: frozenset[str] = frozenset()
    recorded: tuple[tuple[str, str], ...] = ()

    def after(self, edge: Edge, recorded: tuple[tuple[str, str], ...]) -> "_Way":
        """Return the way with one result more."""
        told = self.told
        if not is_repeat(self.spot, edge):
            told |= {*edge.outcome.suspects, *([edge.outcome.cause] if edge.outcome.cause else [])}
        return _Way(edge.to or self.spot, told, recorded)


def _recorded(step: Measure, values: Sequence[Predicted]) -> dict[str, str]:
    """Return what a measurement puts on record for limits to be computed from."""
    if step.field is None or not values or not math.isfinite(values[0].value):
        return {}
    return {step.field: str(shown(values[0].value))}


def _telling(circuit: Appliance) -> Mapping[str, frozenset[str]]:
    """Return the answers that faults are told by, by field."""
    found: dict[str, frozenset[str]] = {}
    for fault in circuit.faults:
        for field, answers in fault.told.items():
            found[field] = found.get(field, frozenset()) | set(answers)
    return found


def _harmless(outcome: Outcome) -> bool:
    return not (outcome.cause or outcome.suspects or outcome.hand_over or outcome.danger)
