"""The charts: text of the shape that Mermaid's flowcharts have, and nothing left out."""

import re
from dataclasses import replace

import pytest

from tests.dialogue.talker import shipped
from voicetech.drawing.gates import gated
from voicetech.drawing.mermaid import Chart, charts_of, markdown
from voicetech.drawing.numbering import numbered
from voicetech.drawing.ways import To, ways_of
from voicetech.drawing.words import NEEDS, plain
from voicetech.procedure import Hold, Inspect, Needs, Prompt

RANGE = shipped()
NUMBERS = numbered(RANGE)
CHARTS = {chart.name: chart for chart in charts_of(RANGE, NUMBERS)}
WORDS = r'"([^"]*)"'
BRACKETS = ((r"\(\(\(", r"\)\)\)"), (r"\{\{", r"\}\}"), (r"\[\[", r"\]\]"), (r"\(\[", r"\]\)"), (r"\[/", r"[/\\]\]"),
            (r"\(", r"\)"), (r"\[", r"\]"), (">", r"\]"))  # fmt: skip
NODE = re.compile(rf"([a-zA-Z]\w*)(?:{'|'.join(f'{left}{WORDS}{right}' for left, right in BRACKETS)})")
EDGE = re.compile(rf"(\w+) (?:-->|-\.->)(?:\|{WORDS}\|)? (\w+)")
SUBGRAPH = re.compile(rf"subgraph (\w+)\[{WORDS}\]")


def read(chart: Chart) -> tuple[dict[str, str], list[tuple[str, str, str]]]:
    """Return the nodes with their words and the edges with their labels; every line has to be one of these."""
    nodes: dict[str, str] = {}
    edges: list[tuple[str, str, str]] = []
    depth = 0
    first, *lines = chart.text.splitlines()
    assert first == "flowchart TD"
    for line in (each.strip() for each in lines):
        if found := SUBGRAPH.fullmatch(line):
            nodes[found[1]], depth = found[2], depth + 1
        elif line == "end":
            depth -= 1
        elif found := NODE.fullmatch(line):
            assert found[1] not in nodes, "a node is written once"
            nodes[found[1]] = next(words for words in found.groups()[1:] if words is not None)
        else:
            found = EDGE.fullmatch(line)
            assert found is not None, line
            edges.append((found[1], found[2] or "", found[3]))
    assert depth == 0
    assert {end for start, _, stop in edges for end in (start, stop)} <= set(nodes), "edges join nodes that there are"
    return nodes, edges


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_is_a_flowchart_no_larger_than_readers_take(name: str) -> None:
    nodes, edges = read(CHARTS[name])
    assert nodes
    assert len(edges) <= 500
    assert len(CHARTS[name].text) <= 50_000
    assert not {node for node in nodes if node.lower() == "end"}, "a word of Mermaid's own"


@pytest.mark.parametrize("name", [section.id for section in RANGE.sections])
def test_a_chart_has_every_step_of_its_section_and_every_way(name: str) -> None:
    section = RANGE.section(name)
    nodes, edges = read(CHARTS[name])
    by_mark = {words.split(" ")[0]: node for node, words in nodes.items() if "BEFORE IT" not in words}
    gated_into = {start: stop for start, label, stop in edges if "BEFORE IT" in nodes[start] and not label}
    into = {node: gated_into.get(node, node) for node in nodes}
    for step in section.steps:
        node = by_mark[NUMBERS.step(section, step.id)]
        assert NEEDS[step.needs] in nodes[node]
        assert not isinstance(step, Hold) or "HOLD" in nodes[node]
        assert any(into[stop] == node for _, _, stop in edges), "somebody comes to it"
        gates = [words for gate, words in nodes.items() if into[gate] == node and gate != node]
        assert any("A making safe" in words for words in gates) == (step.id in gated(section))
        leads = [(label, into[stop]) for start, label, stop in edges if start == node]
        for way in ways_of(section, step):
            for cause in (*way.suspects, *way.excludes):
                assert any(plain(cause) in label for label, _ in leads)
            if way.to is To.STEP:
                assert by_mark[NUMBERS.step(section, way.step)] in [stop for _, stop in leads]
            if way.to in (To.HAND_OVER, To.DANGER, To.TESTS):
                stops = [nodes[stop] for _, stop in leads]
                wanted = {To.HAND_OVER: "STOP, HAND OVER", To.DANGER: "DANGER STOP", To.TESTS: "BACK TO TESTS"}[way.to]
                assert any(wanted in words for words in stops)
            if way.proved:
                told = [f"{label} {nodes[stop]}" for label, stop in leads]
                assert any(f"FOUND {plain(way.cause)}" in words for words in told)


def test_the_overview_has_every_section_and_the_way_back() -> None:
    nodes, edges = read(CHARTS["overview"])
    for section in RANGE.sections:
        assert any(words.startswith(f"{NUMBERS.of(section)} {section.title}") for words in nodes.values())
    assert [stop for _, label, stop in edges if "back to the tests" in label]
    assert any(words.startswith("CLOSED") for words in nodes.values())


def test_words_from_a_procedure_cannot_be_taken_for_a_chart() -> None:
    nasty = '"]; x --> y\n%% `md` <b> #35; \\'
    look = Inspect("x", Prompt(nasty, nasty), Needs.DEAD, (), (), None, "", nasty, {})
    bake = replace(RANGE.section("bake"), steps=(look,), title=nasty)
    procedure = replace(RANGE, sections=tuple(bake if each.id == "bake" else each for each in RANGE.sections))
    chart = next(chart for chart in charts_of(procedure, numbered(procedure)) if chart.name == "bake")
    nodes, edges = read(chart)
    assert len(nodes) == 4
    assert all(stop in nodes for _, _, stop in edges)


def test_all_charts_are_one_markdown_text() -> None:
    text = markdown(RANGE, CHARTS.values())
    assert text.count("```mermaid\n") == len(CHARTS)
    assert text.count("```") == 2 * len(CHARTS)
    assert "outrank" in text.splitlines()[0]
