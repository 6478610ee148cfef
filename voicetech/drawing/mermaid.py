"""The machine as Mermaid flowcharts: one for the whole job and one for each section.

One chart of a whole procedure would be larger than Mermaid's readers take (by default 50,000 letters and 500 edges;
from memory of its documentation), and nobody could read it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from voicetech.drawing.gates import first_ohms, gated
from voicetech.drawing.numbering import Numbers
from voicetech.drawing.overview import back_to_tests
from voicetech.drawing.section_rows import TWICE
from voicetech.drawing.ways import To, Way, ways_of, without_remarks
from voicetech.drawing.words import (
    NEEDS,
    OUTRANKED,
    PHASES,
    condition_words,
    gate_words,
    kind_words,
    led,
    results_words,
)
from voicetech.language.wording import without_call_to_say
from voicetech.procedure import Ask, Hold, Inspect, Instruct, Phase, Procedure, Section, SectionRole, Step

_SIGNS: Final = {"#": "#35;", '"': "#quot;", "<": "#lt;", ">": "#gt;", "`": "#96;", "\\": "#92;"}
_BREAK: Final = "<br/>"
_SHAPES: Final = {Hold: ("{{", "}}"), Ask: ("(", ")"), Inspect: ("[/", "/]"), Instruct: ("[[", "]]")}
"""Brackets that Mermaid draws a shape for: a hold has six corners, a question round ones, and so on."""
_END: Final = ("([", "])")
_STOP: Final = ("[/", "\\]")
_DANGER: Final = ("(((", ")))")
_GATE: Final = (">", "]")


@dataclass(frozen=True, slots=True)
class Chart:
    """One flowchart: `name` is that of its section, or "overview"."""

    name: str
    title: str
    text: str


def charts_of(procedure: Procedure, numbers: Numbers) -> tuple[Chart, ...]:
    """Return the chart of the whole job, then one for each section."""
    overview = Chart("overview", f"Overview: {procedure.title}", _flowchart(_overview(procedure, numbers)))
    sections = (
        Chart(section.id, f"{numbers.of(section)} {section.title}", _flowchart(_section(procedure, numbers, section)))
        for section in numbers.sections
    )
    return (overview, *sections)


def markdown(procedure: Procedure, charts: Iterable[Chart]) -> str:
    """Return charts as one Markdown text, which many readers show with its charts drawn."""
    told = f"{procedure.title}, revision {procedure.revision}. {OUTRANKED}"
    pieces = [f"## {chart.title}\n\n```mermaid\n{chart.text}```\n" for chart in charts]
    return "\n".join([f"{told}\n", *pieces])


def _flowchart(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in ("flowchart TD", *(f"  {line}" for line in lines)))


def _said(words: str) -> str:
    """Return words between quotation marks, with nothing in them that Mermaid would take for its own."""
    return f'"{"".join(_SIGNS.get(sign, sign) for sign in " ".join(words.split()))}"'


def _node(name: str, shape: tuple[str, str], *lines: str) -> str:
    words = _BREAK.join(_said(line)[1:-1] for line in lines if line)
    return f'{name}{shape[0]}"{words}"{shape[1]}'


def _overview(procedure: Procedure, numbers: Numbers) -> Iterator[str]:
    places = {section.id: f"s{place}" for place, section in enumerate(numbers.sections)}
    safety = [section for section in numbers.sections if section.role is not None]
    yield from _phase("safety", "Safety: in front of any step that needs it", safety, places, numbers, procedure)
    phases = [phase for phase in Phase if any(s.phase is phase and s.role is None for s in numbers.sections)]
    for phase in phases:
        sections = [s for s in numbers.sections if s.phase is phase and s.role is None]
        yield from _phase(f"p{phase.name}", PHASES[phase], sections, places, numbers, procedure)
    yield _node("closed", _END, "CLOSED")
    yield _node("handover", _STOP, "STOP, HAND OVER", "from any step so marked")
    stages = [*(f"p{phase.name}" for phase in phases), "closed"]
    yield from (f"{one} --> {other}" for one, other in pairwise(stages))
    for section, step in back_to_tests(numbers):
        label = f"{numbers.step(section, step.id)}, back to the tests"
        yield f"{places[section.id]} -->|{_said(label)}| p{Phase.TEST.name}"


def _phase(
    name: str,
    title: str,
    sections: Iterable[Section],
    places: dict[str, str],
    numbers: Numbers,
    procedure: Procedure,
) -> Iterator[str]:
    yield f"subgraph {name}[{_said(title)}]"
    for section in sections:
        when = condition_words(procedure, numbers, section.when)
        shape = ("{{", "}}") if section.role is not None else ("[", "]")
        yield f"  {_node(places[section.id], shape, f'{numbers.of(section)} {section.title}', when)}"
    yield "end"


def _section(procedure: Procedure, numbers: Numbers, section: Section) -> Iterator[str]:
    names = {step.id: f"s{place}" for place, step in enumerate(section.steps, start=1)}
    gates = {step.id: list(_gates(numbers, section, step)) for step in section.steps}
    into = {step_id: f"g{name[1:]}" if gates[step_id] else name for step_id, name in names.items()}
    yield _node("start", _END, f"{numbers.of(section)} {section.title}")
    yield _node("over", _END, f"END of {numbers.of(section)}")
    for step in section.steps:
        if gates[step.id]:
            yield _node(into[step.id], _GATE, *gates[step.id])
            yield f"{into[step.id]} --> {names[step.id]}"
        yield _node(names[step.id], _SHAPES.get(type(step), ("[", "]")), *_lines(procedure, numbers, section, step))
    yield f"start --> {into[section.steps[0].id]}"
    stops: dict[str, str] = {}
    for place, step in enumerate(section.steps):
        follows = [*(each.id for each in section.steps[place + 1 :])]
        under = into[follows[0]] if follows else "over"
        for way in without_remarks(ways_of(section, step)):
            yield from _way(numbers, section, step, way, names[step.id], under, into, stops)
        past = _past(section, place)
        if past is not None:
            target = into[past] if past else "over"
            yield f"{names[step.id]} -.->|{_said('where its words do not hold')}| {target}"


def _past(section: Section, place: int) -> str | None:
    """Return where a job goes past a step whose conditions do not hold, "" for the end; None where there are none."""
    step = section.steps[place]
    if not step.when:
        return None
    return next((each.id for each in section.steps[place + 1 :] if not set(step.when) <= set(each.when)), "")


def _gates(numbers: Numbers, section: Section, step: Step) -> Iterator[str]:
    if step.id in gated(section):
        yield f"BEFORE IT: {gate_words(numbers, step.needs)}"
    if step.id == first_ohms(section):
        yield f"BEFORE IT: {numbers.role(SectionRole.NULL_LEADS)}, once in a job"


def _lines(procedure: Procedure, numbers: Numbers, section: Section, step: Step) -> Iterator[str]:
    yield f"{numbers.step(section, step.id)} {NEEDS[step.needs]}"
    yield condition_words(procedure, numbers, step.when)
    yield kind_words(step)
    yield without_call_to_say(step.prompt.short)


def _way(
    numbers: Numbers,
    section: Section,
    step: Step,
    way: Way,
    name: str,
    under: str,
    into: dict[str, str],
    stops: dict[str, str],
) -> Iterator[str]:
    """Yield the edge of a way, and the node it comes to where that is no step."""
    told = led(numbers, section, step, way)
    results = f"{results_words(step, way.results)}{f' {TWICE}' if way.repeat else ''}"
    label = "; ".join(filter(None, [results, told.more]))
    if way.proved and way.to in (To.BELOW, To.STEP):
        label = f"{label}; {told.first}"
    match way.to:
        case To.BELOW:
            target = under
        case To.STEP:
            target = into[way.step]
        case To.END if not way.proved:
            target = "over"
        case _:
            if told.first not in stops:
                stops[told.first] = f"x{len(stops) + 1}"
                shape = {To.HAND_OVER: _STOP, To.DANGER: _DANGER}.get(way.to, _END)
                yield _node(stops[told.first], shape, told.first)
            target = stops[told.first]
    yield f"{name} -->|{_said(label)}| {target}"
