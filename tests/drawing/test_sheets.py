"""The sheets of the shipped procedure: whole, legible in black and white, on either paper."""

import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from tests.dialogue.talker import shipped
from tests.drawing.on_paper import SVG, all_sheets, groups, overlaps, parsed, root_of, text_of, words
from voicetech.drawing.gates import gated
from voicetech.drawing.numbering import numbered
from voicetech.drawing.sheets import CIRCUIT, KEY, OVERVIEW, POINTS, sheet_names, sheets_of
from voicetech.drawing.ways import To, ways_of
from voicetech.drawing.words import NEEDS, OUTRANKED, plain
from voicetech.procedure import Hold, Inspect, Measure, Needs, Outcome, Procedure, Prompt, Section, Step

ROOT = Path(__file__).parents[2]
RANGE = shipped()
NUMBERS = numbered(RANGE)
STEPS = {f"{section.id}/{step.id}": (section, step) for section in RANGE.sections for step in section.steps}
INK = {"none", "currentColor", "#fff", "white", "black"}
NASTY = '<a onload="x()"> & "b" \'c\' </svg>'


def drawn_step(section: Section, step: Step) -> str:
    """Return the words in the one group that stands for a step."""
    (found,) = [
        group
        for name in all_sheets()
        if re.fullmatch(rf"[0-9a-d]+-{section.id}(-\d+)?", name)
        for group in groups(parsed(name), "step")
        if group.get("data-step") == step.id
    ]
    return text_of(found)


@pytest.mark.parametrize("name", all_sheets())
def test_a_sheet_is_plain_svg_that_fits_both_papers(name: str) -> None:
    sheet, root = all_sheets()[name], parsed(name)
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= {
        "svg", "title", "desc", "g", "path", "text", "tspan", "circle", "rect",
    }  # fmt: skip
    for each in root.iter():
        assert not [key for key in each.attrib if key == "style" or key.startswith("on") or key.endswith("href")]
        assert {each.get("fill", "none"), each.get("stroke", "none"), each.get("color", "black")} <= INK
    wide, high = (float(root.get(side, "").removesuffix("mm")) for side in ("width", "height"))
    assert (wide > high) == sheet.lying
    short, long = sorted((wide, high))
    assert short <= 210 - 20 - 5, "A4 less half an inch at both sides"
    assert long <= 279.4 - 20 - 5, "Letter less half an inch at both ends"
    assert root.get("role") == "img"
    assert root.findtext(f"{SVG}title")
    assert len(root.findtext(f"{SVG}desc") or "") > 40
    assert OUTRANKED in text_of(root)
    assert f"revision {RANGE.revision}" in text_of(root)


@pytest.mark.parametrize("name", all_sheets())
def test_no_word_stands_on_another_and_none_is_small(name: str) -> None:
    root = parsed(name)
    assert overlaps(root) == []
    _, _, width, _ = (float(part) for part in root.get("viewBox", "").split())
    points_per_unit = float(root.get("width", "").removesuffix("mm")) / 25.4 * 72 / width
    assert min(word.size for word in words(root)) * points_per_unit >= 7.99


def test_every_section_stands_on_the_overview() -> None:
    root = parsed("00-overview")
    told = {group.get("data-section"): text_of(group) for group in groups(root, "section")}
    assert list(told) == [section.id for section in NUMBERS.sections]
    for section in RANGE.sections:
        words_there = told[section.id]
        assert f"{NUMBERS.of(section)} {section.title}" in words_there
        assert str(len(section.steps)) in words_there
        for needs in {step.needs for step in section.steps} - {Needs.ANY}:
            assert NEEDS[needs] in words_there
    back = [NUMBERS.step(s, t.id) for s, t in STEPS.values() if any(w.to is To.TESTS for w in ways_of(s, t))]
    assert back
    assert f"back to the tests: {', '.join(back)}" in text_of(root)


@pytest.mark.parametrize("name", STEPS)
def test_every_step_is_drawn_once_with_what_it_needs_and_where_it_leads(name: str) -> None:
    section, step = STEPS[name]
    told = drawn_step(section, step)
    assert NUMBERS.step(section, step.id) in told.split()
    assert NEEDS[step.needs] in told
    for warning in step.warnings:
        assert f"{RANGE.warnings[warning].signal.value.upper()}:" in told
    for way in ways_of(section, step):
        for cause in (way.cause, *way.suspects, *way.excludes):
            assert plain(cause) in told
        assert not way.proved or f"FOUND {plain(way.cause)}" in told
        assert not way.repeat or "2×" in told
        match way.to:
            case To.STEP:
                wanted = "this step again" if way.step == step.id else NUMBERS.step(section, way.step)
                assert wanted in told
                assert not way.again or f"another way, {wanted}" in told
            case To.HAND_OVER:
                assert "STOP, HAND OVER" in told
                assert way.hand_over == way.cause or plain(way.hand_over) in told
            case To.DANGER:
                assert "DANGER STOP" in told
            case To.TESTS:
                assert "BACK TO TESTS" in told
            case To.END:
                assert f"END of {NUMBERS.of(section)}" in told
            case To.BELOW:
                assert "go on below" in told


@pytest.mark.parametrize("name", STEPS)
def test_safety_is_marked_by_words_and_shape(name: str) -> None:
    section, step = STEPS[name]
    told = drawn_step(section, step)
    if isinstance(step, Hold):
        assert "HOLD" in told
        assert f"\N{LEFT DOUBLE QUOTATION MARK}{step.until[0]}\N{RIGHT DOUBLE QUOTATION MARK}" in told
    gate = "A making safe" in told and "BEFORE IT" in told
    assert gate == (step.id in gated(section) and step.needs is not Needs.ANY)
    if step.needs is Needs.LIVE and step.id in gated(section):
        assert "B going live" in told
    if step.needs is Needs.POWERED and step.id in gated(section):
        assert "C powering up" in told


def test_a_jump_on_one_sheet_is_drawn_and_comes_to_its_step() -> None:
    jumps = {(name, group.get("data-jump")) for name in all_sheets() for group in groups(parsed(name), "jump")}
    assert len(jumps) > 20
    for name, target in jumps:
        assert target in {group.get("data-step") for group in groups(parsed(name), "step")}


def test_the_key_has_every_reason_to_stop_and_every_danger() -> None:
    told = {
        group.get("data-reason"): text_of(group)
        for name in all_sheets()
        if name.startswith("zz-key")
        for group in groups(parsed(name), "reason")
    }
    assert set(told) == {*RANGE.hand_overs, *(kind.value for kind in RANGE.danger_scripts)}
    for name, over in RANGE.hand_overs.items():
        assert over.say.split(". ")[0] in told[name]
        assert over.to in told[name]
    assert RANGE.settings["emergency_number"] in told["fire"]


def test_the_list_of_points_says_where_each_is_and_where_it_is_measured() -> None:
    told = {
        group.get("data-point"): text_of(group)
        for name in all_sheets()
        if name.startswith("z-points")
        for group in groups(parsed(name), "point")
    }
    for number, (name, point) in enumerate(RANGE.points.items(), start=1):
        assert told[name].split()[0] == str(number)
        assert point.label in told[name]
        assert point.at in told[name]
    assert NUMBERS.step(RANGE.section("bake"), "bake-ohms") in told["bake-1"].replace(",", "").split()
    assert RANGE.circuit is not None
    assert set(RANGE.circuit.knobs) <= set(told)


def test_sheets_can_be_asked_for_by_name() -> None:
    assert sheet_names(RANGE) == (OVERVIEW, *(s.id for s in NUMBERS.sections), CIRCUIT, POINTS, KEY)
    assert [sheet.name for sheet in sheets_of(RANGE, ["bake", "overview"])] == ["00-overview", "11-bake-1", "11-bake-2"]
    assert all("bake" in sheet.name for sheet in sheets_of(RANGE, ["bake"]))
    without = replace(RANGE, circuit=None)
    assert CIRCUIT not in sheet_names(without)
    assert not [sheet for sheet in sheets_of(without) if "circuit" in sheet.name]


def test_drawings_are_the_same_however_names_are_hashed() -> None:
    told = "from tests.drawing.test_sheets import digest; print(digest())"
    made = {
        subprocess.run(
            [sys.executable, "-c", told],
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert made == {f"{digest()}\n"}


def digest() -> str:
    return hashlib.sha256("".join(sheet.svg for sheet in sheets_of(shipped())).encode()).hexdigest()


def with_section(*steps: Step) -> tuple[Procedure, Section]:
    bake = RANGE.section("bake")
    made = replace(bake, steps=steps)
    return replace(RANGE, sections=tuple(made if each is bake else each for each in RANGE.sections)), made


def test_words_from_a_procedure_stay_words() -> None:
    look = Inspect("x", Prompt(NASTY, NASTY), Needs.DEAD, ("hot-parts",), (), None, "", NASTY, {})
    procedure, made = with_section(look)
    warnings = {**RANGE.warnings, "hot-parts": replace(RANGE.warnings["hot-parts"], say=NASTY)}
    procedure = replace(procedure, warnings=warnings, title=NASTY)
    for sheet in sheets_of(procedure, [OVERVIEW, made.id, KEY]):
        root = root_of(sheet)
        assert overlaps(root) == []
        assert not any("onload" in each.attrib for each in root.iter())
    (sheet,) = sheets_of(procedure, [made.id])
    assert NASTY in " ".join("".join(each.itertext()) for each in root_of(sheet).iter(f"{SVG}desc"))


def test_long_words_and_many_results_are_drawn_whole() -> None:
    long = "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaft" * 3
    idle = RANGE.step("supply", "supply-idle")
    assert isinstance(idle, Measure)
    results = {f"finding-{n}": Outcome(say=str(n), suspects=(f"cause-{n}",)) for n in range(90)}
    many = replace(idle, prompt=Prompt(long, long), outcomes=results, when=())
    procedure, made = with_section(many, replace(many, id="again"))
    sheets = sheets_of(procedure, [made.id])
    assert len(sheets) == 2, "a step is never split"
    for sheet in sheets:
        root = root_of(sheet)
        assert overlaps(root) == []
        assert text_of(root).count("finding") == 90


def test_a_step_that_leads_nowhere_below_has_a_bar_and_no_arrow_on() -> None:
    two_breakers, rear_cover = RANGE.section("supply").steps[:2]
    procedure, made = with_section(replace(two_breakers, when=()), rear_cover)
    (with_bar,) = sheets_of(procedure, [made.id])
    procedure, made = with_section(two_breakers, rear_cover)
    (passed_by,) = sheets_of(procedure, [made.id])
    arrows = [len(re.findall(r"l-4 -7h8z", sheet.svg)) for sheet in (with_bar, passed_by)]
    assert arrows[1] == arrows[0] + 1, "past the step whose words do not hold a way leads on"
