"""Where each result of a step leads, as `dialogue` goes: the one account that drawings, charts and checklists share."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from voicetech.dialogue.flow import END, MORE_TESTS
from voicetech.dialogue.outcomes import outcome_of
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.language.meaning import Asking, DangerKind
from voicetech.procedure import Ask, Condition, Hold, Inspect, Instruct, Measure, Outcome, SafetyRole, Section, Step

SAID: Final = "said"
"""The result of a hold: its words were said."""
ANY: Final = "any"
"""Every result there is."""
OTHER: Final = "other"
"""Every result that is not named."""
NOT_SHOWN: Final = "not shown"
"""A tester does not show the source it is proved on."""
LIVE: Final = "live"
"""A pair of the proof of dead reads more than it may."""
STILL_LIVE: Final = "still live"
"""It reads more than it may on low impedance too."""

VERDICTS: Final = ("below", "within", "marginal", "above", "over_range")


class To(StrEnum):
    """Where a way leads."""

    BELOW = "below"
    """The next step whose conditions hold, or the end of the section."""
    STEP = "step"
    END = "end"
    TESTS = "tests"
    """Back to testing."""
    HAND_OVER = "hand-over"
    DANGER = "danger"


@dataclass(frozen=True, slots=True)
class Way:
    """What follows from some results of a step.

    `step` is the step it leads to, "" where none is named; `again` says that it measures the same in another way.
    With `repeat` the step comes once more first, and the rest holds of the second time. `cause` is a fault that the
    results prove, or, with `proved` false, suspect.
    """

    results: tuple[str, ...]
    to: To
    step: str = ""
    again: bool = False
    repeat: bool = False
    cause: str = ""
    proved: bool = False
    suspects: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    hand_over: str = ""
    danger: DangerKind | None = None
    say: str = ""


def ways_of(section: Section, step: Step) -> tuple[Way, ...]:
    """Return the ways from a step, results that lead to the same put together, in the order of the results."""
    proving = _proving(section, step)
    if proving:
        return proving
    if isinstance(step, Hold):
        return (Way((SAID,), To.BELOW),)
    joined: dict[Way, list[str]] = {}
    for result, outcome in _results(step):
        joined.setdefault(_way((), outcome), []).append(result)
    if len(joined) == 1 and not isinstance(step, Instruct):
        return (replace(next(iter(joined)), results=(ANY,)),)
    return tuple(replace(way, results=tuple(results)) for way, results in joined.items())


def without_remarks(ways: Iterable[Way]) -> tuple[Way, ...]:
    """Return the ways without what is said beside them, those that are then the same put together."""
    joined: dict[Way, tuple[str, ...]] = {}
    for way in ways:
        bare = replace(way, say="", results=())
        joined[bare] = joined.get(bare, ()) + way.results
    return tuple(replace(way, results=results) for way, results in joined.items())


def falls_through(ways: Iterable[Way]) -> bool:
    """Return whether any of the ways goes on to the step below."""
    return any(way.to is To.BELOW for way in ways)


def steps_after(section: Section, step: Step) -> tuple[str, ...]:
    """Return the steps of the section that may be next after a step, itself too where it may be repeated."""
    found: list[str] = []
    for way in ways_of(section, step):
        if way.repeat:
            found.append(step.id)
        if way.to is To.STEP:
            found.append(way.step)
        elif way.to is To.BELOW:
            found += below(section, step)
    return tuple(dict.fromkeys(found))


def below(section: Section, step: Step | None) -> tuple[str, ...]:
    """Return the steps that may be next where a job goes on below a step, or begins the section where it is None.

    A step is passed by only where its conditions do not hold: never on the way to one that has the same and more, and
    never from one that has them, unless its own answer may change them.
    """
    at = -1 if step is None else [each.id for each in section.steps].index(step.id)
    held: frozenset[Condition] = frozenset()
    if step is not None:
        field = step.field if isinstance(step, (Ask, Measure)) else None
        held = frozenset(condition for condition in step.when if condition.field != field)
    found: list[str] = []
    passed: list[frozenset[Condition]] = []
    for each in section.steps[at + 1 :]:
        wanted = frozenset(each.when)
        if not any(others <= wanted for others in passed):
            found.append(each.id)
        if wanted <= held:
            break
        passed.append(wanted)
    return tuple(found)


def _results(step: Step) -> Iterator[tuple[str, Outcome]]:
    """Yield every result a step may have, with what the procedure says of it."""
    match step:
        case Measure(judged_as="each", outcomes=outcomes):
            yield from ((word, outcome_of(outcomes, word)) for word in VERDICTS)
        case Measure(outcomes=outcomes):
            yield from outcomes.items()
            if OTHER not in outcomes and not {kind.value for kind in SupplyKind} <= set(outcomes):
                yield OTHER, outcome_of(outcomes, OTHER)
        case Inspect(outcomes=outcomes):
            yield from ((word, outcome_of(outcomes, word)) for word in ("clean", "fault"))
        case Ask(outcomes=outcomes, asking=asking, choices=choices):
            yield from (
                (word, outcome_of(outcomes, word))
                for word in _answers(asking, outcomes, tuple(choice.key for choice in choices))
            )
        case Instruct(outcomes=outcomes):
            yield "done", outcome_of(outcomes, "done")
        case Hold():
            return


def _answers(asking: Asking, outcomes: Mapping[str, Outcome], choices: tuple[str, ...]) -> tuple[str, ...]:
    if choices:
        return choices
    return ("yes", "no") if asking is Asking.YES_NO else tuple(outcomes) or (ANY,)


def _way(results: tuple[str, ...], outcome: Outcome) -> Way:
    """Return where an outcome leads, in the order in which `dialogue.outcomes.follow` looks at it."""
    if outcome.danger is not None:
        return Way(results, To.DANGER, danger=outcome.danger, say=outcome.say)
    way = Way(
        results,
        To.BELOW,
        repeat=outcome.repeat,
        cause=outcome.cause or "",
        proved=outcome.cause is not None and outcome.again_by is None,
        suspects=outcome.suspects,
        excludes=outcome.excludes,
        say=outcome.say,
    )
    if outcome.hand_over is not None:
        return replace(way, to=To.HAND_OVER, hand_over=outcome.hand_over)
    if outcome.again_by is not None:
        return replace(way, to=To.STEP, step=outcome.again_by, again=True)
    if outcome.next is None:
        return replace(way, to=To.END if outcome.cause is not None else To.BELOW)
    if outcome.next == END:
        return replace(way, to=To.END)
    return replace(way, to=To.TESTS) if outcome.next == MORE_TESTS else replace(way, to=To.STEP, step=outcome.next)


def _proving(section: Section, step: Step) -> tuple[Way, ...]:
    """Return the ways of the steps whose sequel is the engine's, as `dialogue.making_safe` goes; none for others."""
    at = {each.role: each.id for each in section.steps if each.role is not None}
    asked = next((each for each in section.steps if each.role is SafetyRole.LOW_IMPEDANCE), None)
    stays = _way((STILL_LIVE,), asked.outcomes["yes"]) if isinstance(asked, Ask) and "yes" in asked.outcomes else None
    match step.role:
        case SafetyRole.TESTER_BEFORE:
            return Way(("within",), To.BELOW), Way((NOT_SHOWN,), To.STEP, step.id)
        case SafetyRole.DEAD_PAIRS:
            again = () if stays is None else (stays,)
            asks = Way((LIVE,), To.STEP, at.get(SafetyRole.LOW_IMPEDANCE, step.id))
            return Way(("within",), To.STEP, at.get(SafetyRole.TESTER_AFTER, step.id)), asks, *again
        case SafetyRole.LOW_IMPEDANCE if stays is not None:
            pairs = Way(("no",), To.STEP, at.get(SafetyRole.DEAD_PAIRS, step.id))
            return replace(stays, results=("yes",)), pairs
        case SafetyRole.TESTER_AFTER:
            return Way(("within",), To.END), Way((NOT_SHOWN,), To.STEP, section.steps[0].id)
        case _:
            return ()
