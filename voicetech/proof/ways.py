"""The ways through a section: every step with every result, for everything that its conditions may find on record.

The engine's way from a result to the next step is written a second time here, over what a section's own conditions
look at; how a step is entered, and what makes it safe, is the walk's matter.
"""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.language.meaning import Asking
from voicetech.procedure import (
    Ask,
    Condition,
    Hold,
    Inspect,
    Instruct,
    Measure,
    Outcome,
    Procedure,
    SafetyRole,
    Section,
    Step,
)
from voicetech.proof.verdicts import verdicts

UNKNOWN: Final = ""
"""What a field that nobody answered counts as, or an answer that no condition names."""
_NOTHING: Final = Outcome()
_NEEDS_FRAME: Final = (SupplyKind.NEUTRAL_TO_FRAME, SupplyKind.FRAME_NOT_GROUNDED)
"""What a supply is found to be only where the frame is measured too."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a section stands: its step, whether that is repeated, and what is on record of the fields it looks at."""

    step: str
    again: bool
    known: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Edge:
    """One result of a step, what follows from it, and the spot it leads to; None where it leads out of the section."""

    result: str
    outcome: Outcome
    to: Spot | None


def results(procedure: Procedure, step: Step) -> tuple[str, ...]:
    """Return the results a step can have, as outcomes are named."""
    match step:
        case Hold() | Instruct():
            return ("done",)
        case Inspect():
            return ("clean", "fault")
        case Ask(asking=Asking.CHOICE, choices=choices):
            return tuple(choice.key for choice in choices)
        case Ask(asking=Asking.YES_NO):
            return ("yes", "no")
        case Ask():
            return ("any",)
        case Measure(judged_as="each"):
            return verdicts(step)
        case Measure():
            frame = any("frame" in pair.label.split("-") for each in _beside(procedure, step) for pair in each.pairs)
            return tuple(kind for kind in SupplyKind if frame or kind not in _NEEDS_FRAME)


def _beside(procedure: Procedure, step: Measure) -> Iterator[Measure]:
    """Yield the measurements that are judged together with this one."""
    apart = step.judged_as == "supply-unplugged"
    alike = ("supply-unplugged",) if apart else ("supply-idle", "supply-alone", "supply-loaded")
    for section in procedure.sections:
        for other in section.steps:
            if isinstance(other, Measure) and other.judged_as in alike:
                yield other


def outcome_of(step: Step, result: str) -> Outcome:
    """Return what a procedure says of a result of the step."""
    name = written_as(step, result)
    return _NOTHING if name is None or isinstance(step, Hold) else step.outcomes[name]


def written_as(step: Step, result: str) -> str | None:
    """Return the name under which the outcome of a result is written; None where a procedure says nothing of it."""
    names = (result, "within" if result == "marginal" else "", "other", "any")
    return None if isinstance(step, Hold) else next((name for name in names if name in step.outcomes), None)


def is_repeat(spot: Spot, edge: Edge) -> bool:
    """Return whether the result only has the step repeated."""
    return edge.to is not None and edge.to.step == spot.step and edge.to.again and not spot.again


def ends_of(step: Measure) -> frozenset[frozenset[str]]:
    """Return the pairs of points that are measured, whichever lead is on which."""
    return frozenset(frozenset((pair.first, pair.second)) for pair in step.pairs)


class Ways:
    """The spots of a section and where each result leads from them."""

    def __init__(self, procedure: Procedure, section: Section) -> None:
        self.procedure, self.section = procedure, section
        self.fields = tuple(dict.fromkeys(condition.field for step in section.steps for condition in step.when))
        self._order = {step.id: number for number, step in enumerate(section.steps)}
        self.answers = {field: self._values(field) for field in self.fields}
        self.starts = tuple(dict.fromkeys(self._next(-1, known) for known in self._begin()))
        self.edges: dict[Spot, tuple[Edge, ...]] = {}
        self._explore()

    def step(self, spot: Spot) -> Step:
        """Return the step of a spot."""
        return self.section.steps[self._order[spot.step]]

    def _values(self, field: str) -> tuple[str, ...]:
        """Return the answers that conditions tell apart, the section's own among them, and one for all others."""
        conditions = (*self.section.when, *(condition for step in self.section.steps for condition in step.when))
        named = [value for condition in conditions if condition.field == field for value in condition.values]
        return (UNKNOWN, *dict.fromkeys(named))

    def _begin(self) -> Iterator[tuple[tuple[str, str], ...]]:
        """Yield everything that may be on record where the section begins."""
        known: list[dict[str, str]] = [{}]
        for field in self.fields:
            known = [{**so_far, field: value} for so_far in known for value in self.answers[field]]
        for each in known:
            if all(holds(condition, each) for condition in self.section.when if condition.field in each):
                yield tuple(each.items())

    def _explore(self) -> None:
        owed = deque(spot for spot in self.starts if spot is not None)
        while owed:
            spot = owed.popleft()
            if spot in self.edges:
                continue
            self.edges[spot] = tuple(self._edges(spot))
            owed.extend(edge.to for edge in self.edges[spot] if edge.to is not None)

    def _edges(self, spot: Spot) -> Iterator[Edge]:
        step = self.step(spot)
        for result in results(self.procedure, step):
            outcome = outcome_of(step, result)
            known = self._after(spot, step, result)
            yield Edge(result, outcome, self._to(spot, outcome, known))

    def _after(self, spot: Spot, step: Step, result: str) -> tuple[tuple[str, str], ...]:
        """Return what is on record after a result of the step."""
        known = dict(spot.known)
        if isinstance(step, Ask) and step.field in known:
            known[step.field] = result if result in self.answers[step.field] else UNKNOWN
        if isinstance(step, Measure) and step.judged_as != "each" and "supply" in known:
            known["supply"] = result if result in self.answers["supply"] else UNKNOWN
        return tuple(known.items())

    def _to(self, spot: Spot, outcome: Outcome, known: tuple[tuple[str, str], ...]) -> Spot | None:
        if outcome.danger is not None:
            return None
        if outcome.repeat and not spot.again:
            return Spot(spot.step, True, known)
        if outcome.hand_over is not None:
            return None
        if outcome.again_by is not None:
            return Spot(outcome.again_by, False, known) if outcome.again_by in self._order else None
        if outcome.next in (END, MORE_TESTS) or (outcome.cause is not None and outcome.next is None):
            return None
        if outcome.next is not None:
            return Spot(outcome.next, False, known) if outcome.next in self._order else None
        return self._next(self._order[spot.step], known)

    def _next(self, after: int, known: tuple[tuple[str, str], ...]) -> Spot | None:
        told = dict(known)
        for step in self.section.steps[after + 1 :]:
            if all(holds(condition, told) for condition in step.when):
                return Spot(step.id, False, known)
        return None


def holds(condition: Condition, known: Mapping[str, str]) -> bool:
    """Return whether a condition is true of what is known."""
    return (known.get(condition.field, UNKNOWN) in condition.values) != condition.absent


def engine_leads(step: Step) -> bool:
    """Return whether the engine alone decides what follows the step."""
    return step.role in (
        SafetyRole.TESTER_BEFORE,
        SafetyRole.DEAD_PAIRS,
        SafetyRole.TESTER_AFTER,
        SafetyRole.LOW_IMPEDANCE,
    )
