"""The rules of a section's ways: reached, out again, no round without something changed, stopped where work stops."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from voicetech.electrical.supply_findings import SupplyKind
from voicetech.procedure import Condition, Hold, Instruct, Measure, Needs, Phase, Procedure, Section
from voicetech.proof.cases import case_of
from voicetech.proof.ways import Edge, Spot, Ways, engine_leads, is_repeat

STOPPING: Final = (
    SupplyKind.ONE_LEG_TWICE,
    SupplyKind.OPEN_NEUTRAL,
    SupplyKind.NEUTRAL_SWAPPED,
    SupplyKind.HIGH_OVERALL,
    SupplyKind.UNEXPLAINED_SOURCE,
    SupplyKind.FRAME_NOT_GROUNDED,
)
"""What is wrong with a supply so that work stops at once, however it was read: see `electrical.supply_findings`."""
_OUT_OF_LIMITS: Final = ("below", "above", "over_range")
_LEFT_OFF: Final = (
    "wires that were taken off are not back; write `puts_back: yes` at the step in which they are put back"
)


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that a section's ways break: in words, the step it shows at, and the results that lead there."""

    rule: str
    section: str
    step: str
    way: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Walked:
    """What the ways through all sections come to: spots, the results at them, and each rule that is broken, once."""

    spots: int
    results: int
    broken: tuple[Broken, ...]


def walk_sections(procedure: Procedure) -> Walked:
    """Return what walking every way through every section found; the shortest way to each rule that is broken."""
    spots = results = 0
    found: dict[tuple[str, str, str], Broken] = {}
    for section in procedure.sections:
        if not section.steps:
            continue
        ways = Ways(procedure, section)
        spots += len(ways.edges)
        results += sum(map(len, ways.edges.values()))
        for broken in _of_section(procedure, ways):
            key = broken.rule, broken.section, broken.step
            if key not in found or len(broken.way) < len(found[key].way):
                found[key] = broken
    for broken in _power_before_putting_back(procedure):
        found.setdefault((broken.rule, broken.section, broken.step), broken)
    return Walked(spots, results, tuple(found.values()))


def _of_section(procedure: Procedure, ways: Ways) -> Iterator[Broken]:
    way_to = _ways_to(ways)
    yield from _never_reached(ways)
    yield from _no_way_out(ways, way_to)
    yield from _round(ways, way_to)
    yield from _work_goes_on(procedure, ways, way_to)
    yield from _wires_left_off(ways)


Way = tuple[tuple[str, str], ...]


def _ways_to(ways: Ways) -> Mapping[Spot, Way]:
    """Return the shortest way to each spot: the steps with their results."""
    found: dict[Spot, Way] = {spot: () for spot in ways.starts if spot is not None}
    owed = deque(found)
    while owed:
        spot = owed.popleft()
        for edge in ways.edges[spot]:
            if edge.to is not None and edge.to not in found:
                found[edge.to] = (*found[spot], (spot.step, edge.result))
                owed.append(edge.to)
    return found


def _never_reached(ways: Ways) -> Iterator[Broken]:
    reached = {spot.step for spot in ways.edges}
    for step in ways.section.steps:
        if step.id not in reached:
            yield Broken("no answers ever lead to this step", ways.section.id, step.id)


def _no_way_out(ways: Ways, way_to: Mapping[Spot, Way]) -> Iterator[Broken]:
    stuck = set(ways.edges) - _leading_to(ways, lambda edge: edge.to is None)
    told: set[str] = set()
    for spot in ways.edges:
        if spot in stuck and spot.step not in told:
            told |= {each.step for each in stuck}
            yield Broken("no answer ever leads out of here", ways.section.id, spot.step, way_to[spot])


def _leading_to(ways: Ways, ends: Callable[[Edge], bool]) -> set[Spot]:
    """Return the spots from which some results lead to such an edge."""
    before: dict[Spot, list[Spot]] = {}
    found: set[Spot] = set()
    for spot, edges in ways.edges.items():
        for edge in edges:
            if edge.to is not None:
                before.setdefault(edge.to, []).append(spot)
        if any(ends(edge) for edge in edges):
            found.add(spot)
    owed = list(found)
    while owed:
        for spot in before.get(owed.pop(), ()):
            if spot not in found:
                found.add(spot)
                owed.append(spot)
    return found


def _round(ways: Ways, way_to: Mapping[Spot, Way]) -> Iterator[Broken]:
    """Yield rounds that the same answers lead through for ever: nothing was said or done to change one of them."""
    order = {step.id: number for number, step in enumerate(ways.section.steps)}
    left = {
        spot: [edge for edge in edges if edge.to is not None and not _changes(ways, order, spot, edge)]
        for spot, edges in ways.edges.items()
    }
    begun: set[Spot] = set()
    done: set[Spot] = set()
    for start in left:
        path: list[tuple[Spot, Iterator[Edge]]] = [(start, iter(left[start]))] if start not in begun else []
        begun.add(start)
        while path:
            spot, edges = path[-1]
            edge = next(edges, None)
            if edge is None:
                done.add(spot)
                path.pop()
            elif edge.to in begun and edge.to not in done:
                rule = f"the same answers lead round for ever, back to {edge.to.step}"
                yield Broken(rule, ways.section.id, spot.step, (*way_to[spot], (spot.step, edge.result)))
                return
            elif edge.to is not None and edge.to not in begun:
                begun.add(edge.to)
                path.append((edge.to, iter(left[edge.to])))


def _changes(ways: Ways, order: Mapping[str, int], spot: Spot, edge: Edge) -> bool:
    """Return whether something is asked to be changed on this way: by what is said, or by what is done next."""
    if edge.to is None or is_repeat(spot, edge):
        return False
    back = order[edge.to.step] <= order[spot.step]
    mended = isinstance(ways.step(spot), Measure) and edge.result in _OUT_OF_LIMITS and not back
    done_next = isinstance(ways.step(edge.to), Instruct) and edge.outcome.next == edge.to.step
    return bool(edge.outcome.say and back) or (mended and done_next)


def _work_goes_on(procedure: Procedure, ways: Ways, way_to: Mapping[Spot, Way]) -> Iterator[Broken]:
    """Yield results that stop the work, by the procedure's own list or by what a supply is, and lead on."""
    section = ways.section.id
    for spot, edges in ways.edges.items():
        step = ways.step(spot)
        listed = procedure.stop_work.get(f"{section}.{step.id}", {})
        for edge in edges:
            stops = edge.outcome.hand_over is not None or edge.outcome.danger is not None
            supply = isinstance(step, Measure) and step.judged_as != "each" and edge.result in STOPPING
            if (edge.result in listed or supply) and not stops and not is_repeat(spot, edge):
                if engine_leads(step) and step.role is not None and edge.result not in listed:
                    continue
                rule = f"the job goes on after {edge.result}, which stops the work"
                yield Broken(rule, section, step.id, (*way_to[spot], (step.id, edge.result)))


def _wires_left_off(ways: Ways) -> Iterator[Broken]:
    """Yield ways on which what was taken off for a measurement is off when the section ends or power comes on."""
    found: dict[tuple[Spot, bool], Way] = {(spot, False): () for spot in ways.starts if spot is not None}
    owed = deque(found)
    told: set[str] = set()
    while owed:
        spot, off = at = owed.popleft()
        step = ways.step(spot)
        way = found[at]
        if off and step.needs.power_on and step.id not in told:
            told.add(step.id)
            yield Broken(f"power comes on and {_LEFT_OFF}", ways.section.id, step.id, way)
        for edge in ways.edges[spot]:
            taken_off = isinstance(step, Measure) and (step.one_wire_off or bool(step.setup and step.setup.off))
            after = (off or taken_off) and not step.puts_back
            told_way = (*way, (step.id, edge.result))
            if edge.to is not None:
                if (edge.to, after) not in found:
                    found[edge.to, after] = told_way
                    owed.append((edge.to, after))
                continue
            outcome = edge.outcome
            ended = outcome.cause is None and outcome.hand_over is None and outcome.danger is None
            if after and ended and step.id not in told:
                told.add(step.id)
                yield Broken(f"the test ends and {_LEFT_OFF}", ways.section.id, step.id, told_way)


def _power_before_putting_back(procedure: Procedure) -> Iterator[Broken]:
    """Yield retests with power behind a repair with hands inside, where nothing was put back in between."""
    repairs = _done_dead(section for section in procedure.sections if section.phase is Phase.REPAIR)
    back = _done_dead(section for section in procedure.sections if section.phase is Phase.PUT_BACK)
    for section in procedure.sections:
        powered = [step for step in section.steps if step.needs.power_on]
        if section.phase is not Phase.RETEST or not powered:
            continue
        for repair in repairs:
            known = case_of(procedure, (*section.when, *repair), back)
            if known is not None:
                told = " and ".join(f"{field} {value}" for field, value in known.items() if value)
                rule = f"power comes on after a repair and nothing was put back{f', with {told}' if told else ''}"
                yield Broken(rule, section.id, powered[0].id)
                break


def _done_dead(sections: Iterable[Section]) -> list[tuple[Condition, ...]]:
    """Return the conditions under which each thing is done with hands inside."""
    return [
        (*section.when, *step.when)
        for section in sections
        for step in section.steps
        if step.needs is Needs.DEAD and not isinstance(step, Hold)
    ]
