"""A step of a procedure as a task to be ticked off, with room for its readings and what each result means."""

from collections.abc import Iterator
from typing import Final

from voicetech.drawing.gates import first_ohms, gated, takes_nulled_leads
from voicetech.drawing.limits_told import Case, ToldLimits, marginal_span, span, told_limits
from voicetech.drawing.ways import LIVE, NOT_SHOWN, STILL_LIVE, To, ways_of
from voicetech.drawing.ways import Way as Leads
from voicetech.drawing.words import NEEDS, condition_words, gate_words, kind_words, pair_words, plain, said_choice
from voicetech.drawing.words import results_words as short_results
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.electrical.supply_signs import SIGNS
from voicetech.language.meaning import MEASURED, Asking
from voicetech.language.wording import without_call_to_say
from voicetech.procedure import Ask, Hold, Inspect, Measure, Procedure, SafetyRole, Section, SectionRole, Step
from voicetech.reports.blocks import Bar, Blank, Block, Run, Style, Task, Text, Way
from voicetech.reports.checklist.printed import Printed
from voicetech.reports.text import text
from voicetech.reports.wording import as_sentence, headed
from voicetech.showing.sketch import SIGNS as UNITS

PROOFS: Final = "the table of proofs"
_PROVING: Final = frozenset({SafetyRole.TESTER_BEFORE, SafetyRole.DEAD_PAIRS, SafetyRole.TESTER_AFTER})
_RESULTS: Final = {
    "below": "below the limits",
    "within": "within the limits",
    "marginal": "marginal",
    "above": "above the limits",
    "over_range": "over range (OL)",
    NOT_SHOWN: "anything else",
    LIVE: "a pair over its limit",
    STILL_LIVE: "over it again, on low impedance",
}


def tasks_of(printed: Printed, section: Section) -> Iterator[Block]:
    """Yield the section's steps as tasks, with what comes first before those that need it."""
    for step in section.steps:
        if step.id in gated(section):
            words = f"BEFORE {printed.numbers.step(section, step.id)}: {gate_words(printed.numbers, step.needs)}"
            yield Bar(text(words))
        if step.id == first_ohms(section):
            leads = printed.numbers.role(SectionRole.NULL_LEADS)
            yield Bar(text(f"BEFORE {printed.numbers.step(section, step.id)}: {leads}, once in a job"))
        yield _task(printed, section, step)


def _task(printed: Printed, section: Section, step: Step) -> Task:
    return Task(
        mark=printed.numbers.step(section, step.id),
        needs=NEEDS[step.needs],
        does=kind_words(step),
        words=printed.filled(without_call_to_say(step.prompt.full)),
        notes=tuple(_notes(printed, step)),
        answers=tuple(_answers(step)),
        blanks=tuple(_blanks(printed.procedure, section, step)),
        ways=tuple(_ways(printed, section, step)),
        source=step.limits.source if isinstance(step, Measure) else step.source,
        holds=isinstance(step, Hold),
    )


def _notes(printed: Printed, step: Step) -> Iterator[Text]:
    procedure = printed.procedure
    conditions = condition_words(procedure, printed.numbers, step.when)
    if conditions:
        yield (Run(f"{headed(conditions)}.", Style.STRONG),)
    for name in step.warnings:
        warning = procedure.warnings[name]
        yield (Run(warning.signal.value.upper(), Style.TAG), Run(f" {warning.say}"))
    if step.prompt.how:
        yield printed.filled(f"How: {step.prompt.how}")
    if isinstance(step, Measure):
        yield from _places(procedure, step)
        yield from _limits(printed, step)


def _places(procedure: Procedure, step: Measure) -> Iterator[Text]:
    ends = dict.fromkeys(end for pair in step.pairs for end in (pair.first, pair.second))
    points = [procedure.points[end] for end in ends if end in procedure.points]
    told = [
        run for point in points for run in (Run(f"{point.label}: ", Style.STRONG), Run(f"{as_sentence(point.at)} "))
    ]
    if told:
        yield (Run("Where: "), *told)


def _limits(printed: Printed, step: Measure) -> Iterator[Text]:
    if step.judged_as != "each":
        yield text("What it should read: all pairs are judged together, by the list below.")
        return
    told = {pair: told_limits(step.limits, printed.answers, pair.label) for pair in step.pairs}
    if len(set(map(_said_limits, told.values()))) == 1:
        yield (Run("What it should read: "), *_limit_runs(next(iter(told.values()))))
    else:
        for pair, limits in told.items():
            yield (Run(f"{pair_words(printed.procedure, pair)} should read: "), *_limit_runs(limits))
    if takes_nulled_leads(step):
        yield text("Take off what the leads show together.")


def _said_limits(told: ToldLimits) -> str:
    return " ".join(run.text for run in _limit_runs(told))


def _limit_runs(told: ToldLimits) -> Iterator[Run]:
    if told.rule:
        yield Run(f"{told.rule} ")
    if told.sum_of:
        yield Run(f"{told.sum_of}. ", Style.STRONG)
    for place, case in enumerate(told.cases):
        yield from _case(case, last=place == len(told.cases) - 1)


def _case(case: Case, *, last: bool) -> Iterator[Run]:
    if case.when:
        yield Run(f"{case.when}: ")
    yield Run(span(case.limits), Style.STRONG)
    marginal = marginal_span(case.limits)
    yield Run(f"{f', {marginal}' if marginal else ''}{'.' if last else '; '}")


def _answers(step: Step) -> Iterator[str]:
    match step:
        case Ask(choices=choices) if choices:
            yield from (said_choice(step, choice.key) for choice in choices)
        case Ask(asking=Asking.YES_NO):
            yield from ("yes", "no")
        case Inspect():
            yield from ("clean", "fault seen")
        case _:
            pass


def _blanks(procedure: Procedure, section: Section, step: Step) -> Iterator[Blank]:
    match step:
        case Hold():
            yield Blank("time")
            yield Blank("initials")
        case Measure(role=role) if role in _PROVING:
            return
        case Measure():
            again = any(way.repeat for way in ways_of(section, step))
            for pair in step.pairs:
                yield Blank(pair_words(procedure, pair), UNITS.get(step.unit, ""))
                if again:
                    yield Blank("again", UNITS.get(step.unit, ""))
        case Ask(asking=asking) if asking in MEASURED:
            yield Blank(plain(step.field), UNITS.get(step.unit, "") if step.unit is not None else "")
        case Ask(asking=asking) if asking in (Asking.SERIAL, Asking.NOTE):
            yield Blank(plain(step.field))
        case _:
            pass


def _ways(printed: Printed, section: Section, step: Step) -> Iterator[Way]:
    if step.role in _PROVING:
        yield Way("what it shows", text(f"goes into {PROOFS}."))
    ways = ways_of(section, step)
    if all(way == Leads(way.results, To.BELOW) for way in ways):
        return
    for way in ways:
        together = isinstance(step, Measure) and step.judged_as != "each"
        for results in [(result,) for result in way.results] if together else [way.results]:
            yield Way(_results(step, results), _way_text(printed, section, step, way, _sign(step, results)))


def _results(step: Step, results: tuple[str, ...]) -> str:
    if isinstance(step, Measure) and set(results) <= set(_RESULTS):
        return ", ".join(_RESULTS[result] for result in results)
    return short_results(step, results)


def _sign(step: Step, results: tuple[str, ...]) -> str:
    """Return how a finding about the supply shows, "" for any other result."""
    if not isinstance(step, Measure) or step.judged_as == "each":
        return ""
    return next((SIGNS[kind] for kind in SupplyKind if kind.value == results[0]), "")


def _way_text(printed: Printed, section: Section, step: Step, way: Leads, sign: str) -> Text:
    told = [Run(f"{sign}. ")] if sign else []
    if way.say:
        told.append(Run(f"{way.say} "))
    if way.repeat:
        told.append(Run("Once more first; if it stays so: "))
    if way.cause:
        called = Run("FOUND: ", Style.STRONG) if way.proved else Run("Suspect: ")
        told += [called, Run(f"{_cause(printed, way.cause)}. ")]
    if way.suspects:
        told.append(Run(f"Suspect: {'; '.join(_cause(printed, name) for name in way.suspects)}. "))
    if way.excludes:
        told.append(Run(f"Ruled out: {'; '.join(_cause(printed, name) for name in way.excludes)}. "))
    stops = way.to in (To.HAND_OVER, To.DANGER)
    goal = Run(f"{_goal(printed, section, step, way)}.", Style.STRONG if stops else Style.PLAIN)
    return (*told, goal)


def _cause(printed: Printed, name: str) -> str:
    cause = printed.procedure.causes.get(name)
    words = plain(name) if cause is None else "".join(run.text for run in printed.filled(cause.say))
    return words.removesuffix(".")


def _goal(printed: Printed, section: Section, step: Step, way: Leads) -> str:
    numbers = printed.numbers
    match way.to:
        case To.DANGER:
            return "DANGER STOP: see what is done in danger"
        case To.HAND_OVER:
            over = printed.procedure.hand_overs.get(way.hand_over)
            return f"STOP, HAND OVER to {over.to if over else 'somebody else'}: {plain(way.hand_over)}"
        case To.TESTS:
            return "Back to the tests"
        case To.END:
            behind = ", back to the step that waits" if section.role is not None else ""
            return f"End of {numbers.of(section)}{behind}"
        case To.STEP if way.step == step.id:
            return "This step again"
        case To.STEP:
            return f"{'Another way: ' if way.again else 'Go to '}{numbers.step(section, way.step)}"
        case To.BELOW:
            return "Go on below"
