"""The ways through a section: which step may follow which, and where its end may come."""

from collections.abc import Iterator, Mapping
from typing import Final

from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.dialogue.making_safe import PROVING
from voicetech.limit_rules import RULES
from voicetech.procedure import Condition, Hold, Measure, Outcome, Procedure, SafetyRole, Section, Step
from voicetech.proof.ways import results

ENGINE_LED: Final = PROVING | {SafetyRole.LOW_IMPEDANCE}
"""Steps of a proof of dead: what follows from them is decided by the program."""
OUT: Final = ""
"""What stands for leaving the section, however: its end, a stop, or back to testing."""
STOPPED: Final = "stopped"
"""What stands for work that stops."""


def outcomes_of(step: Step) -> Mapping[str, Outcome]:
    """Return what follows from each result of a step; nothing for a hold."""
    return {} if isinstance(step, Hold) else step.outcomes


def stops(outcome: Outcome) -> bool:
    """Return whether no step of the section follows: work stops, or a cause ends it."""
    stopped = outcome.hand_over is not None or outcome.danger is not None
    return stopped or (outcome.cause is not None and outcome.next is None and outcome.again_by is None)


def can_be_walked(procedure: Procedure, section: Section) -> bool:
    """Return whether outcomes lead to what is there and every limit can be worked out; where not, other rules tell."""
    names = {step.id for step in section.steps} | {END, MORE_TESTS, None}
    for step in section.steps:
        if any(not {outcome.next, outcome.again_by} <= names for outcome in outcomes_of(step).values()):
            return False
        if isinstance(step, Measure):
            try:
                results(procedure, step)
            except ValueError:
                return False
            if step.limits.rule not in RULES:
                return False
    return True


def ways_from(section: Section, never_skipped: str = "") -> Mapping[str, frozenset[str]]:
    """Return for each step the steps that may follow it, and OUT where the section may end there.

    A name that is no step of the section counts as OUT. A step with conditions may be skipped, but not the one named.
    """
    return {step.id: frozenset(_after(section, at, step, never_skipped)) for at, step in enumerate(section.steps)}


def _after(section: Section, at: int, step: Step, never_skipped: str) -> Iterator[str]:
    known = {other.id for other in section.steps}
    below = _first_from(section, at + 1, never_skipped)
    if isinstance(step, Hold) or step.role in ENGINE_LED or not step.outcomes:
        yield from below
        return
    for outcome in step.outcomes.values():
        if outcome.again_by is not None and not (outcome.hand_over or outcome.danger):
            yield outcome.again_by if outcome.again_by in known else OUT
        elif stops(outcome):
            yield OUT
        elif outcome.next is None:
            yield from below
        else:
            yield outcome.next if outcome.next in known else OUT


def _first_from(section: Section, number: int, never_skipped: str = "") -> Iterator[str]:
    """Yield the step at this position and, where it may be skipped, those it is skipped to, and OUT behind the last."""
    for step in section.steps[number:]:
        yield step.id
        if not step.when or step.id == never_skipped:
            return
    yield OUT


def reached_from(section: Section, start: str) -> frozenset[str]:
    """Return every step that may come after `start`, and OUT; `start` itself only where a way leads back to it."""
    ways = ways_from(section)
    reached: set[str] = set()
    owed = list(ways.get(start, ()))
    while owed:
        step_id = owed.pop()
        if step_id not in reached:
            reached.add(step_id)
            owed += ways.get(step_id, ())
    return frozenset(reached)


def is_led_to(section: Section, step_id: str) -> bool:
    """Return whether an outcome of another step names this one, as what follows or as another way to look."""
    return any(
        step_id in (outcome.next, outcome.again_by)
        for step in section.steps
        for outcome in outcomes_of(step).values()
        if step.id != step_id
    )


def spoken_for(outcome: Outcome) -> frozenset[str]:
    """Return the causes that an outcome shows or suspects."""
    return frozenset({*outcome.suspects, *({outcome.cause} if outcome.cause else ())})


def leads_to(section: Section, step: Step, outcome: Outcome) -> frozenset[str]:
    """Return the steps that may follow; OUT where the section ends, and a word for where work stops."""
    if outcome.hand_over is not None or outcome.danger is not None:
        return frozenset({STOPPED})
    target = outcome.again_by or outcome.next
    if target is not None:
        return frozenset({OUT if target == END else target})
    if stops(outcome):
        return frozenset({OUT})
    found: set[str] = set()
    for below in section.steps[section.steps.index(step) + 1 :]:
        found.add(below.id)
        if set(below.when) <= {*step.when, *section.when}:
            return frozenset(found)
    return frozenset({*found, OUT})


def first_steps(section: Section, never_skipped: str = "") -> frozenset[str]:
    """Return the steps that the section may begin with."""
    return frozenset(_first_from(section, 0, never_skipped)) - {OUT}


def implies(narrow: tuple[Condition, ...], wide: tuple[Condition, ...]) -> bool:
    """Return whether wherever all of `narrow` hold, all of `wide` do, as far as their words tell."""
    return all(any(_implied(one, other) for one in narrow) for other in wide)


def _implied(narrow: Condition, wide: Condition) -> bool:
    if narrow.field != wide.field:
        return False
    mine, other = set(narrow.values), set(wide.values)
    if narrow.absent:
        return wide.absent and other <= mine
    return mine.isdisjoint(other) if wide.absent else mine <= other


def exclude_each_other(conditions: tuple[Condition, ...]) -> str | None:
    """Return a field of which no answer makes all of these conditions true, or None."""
    for field in dict.fromkeys(condition.field for condition in conditions):
        wanted = [set(c.values) for c in conditions if c.field == field and not c.absent]
        refused = {value for c in conditions if c.field == field and c.absent for value in c.values}
        if wanted and not set.intersection(*wanted) - refused:
            return field
    return None
