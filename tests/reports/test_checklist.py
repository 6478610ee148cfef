"""The checklist: every step once, safety first, room for every reading, and the same words in both layouts."""

import io
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache

import pytest
from pypdf import PdfReader

from tests.dialogue.talker import shipped
from tests.reports.test_pdf import _Words, flat
from voicetech.drawing.gates import gated
from voicetech.drawing.numbering import numbered
from voicetech.drawing.ways import To, ways_of
from voicetech.drawing.words import NEEDS, pair_words
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask, Hold, Inspect, Measure, Point, Procedure, SafetyRole, SectionRole, Signal
from voicetech.reports.blocks import Bar, Block, Form, Listing, Page, Section, Task
from voicetech.reports.checklist.content import STATEMENT, checklist_page
from voicetech.reports.checklist.printed import NotPrintedError, plate_fields, printed
from voicetech.reports.page import page_html
from voicetech.reports.paper import Paper
from voicetech.reports.typeset import page_pdf

RANGE = shipped()
NUMBERS = numbered(RANGE)
STEPS = {NUMBERS.step(section, step.id): (section, step) for section in NUMBERS.sections for step in section.steps}
PLATE = {"plate_volts": "240", "bake_watts": "2600"}


@cache
def page() -> Page:
    return checklist_page(printed(RANGE, PLATE, ()))


def sections(made: Page) -> Iterator[Section]:
    for columns in made.parts:
        for column in columns:
            yield from column


def blocks(made: Page) -> list[Block]:
    return [block for section in sections(made) for block in section.blocks]


def tasks(made: Page) -> dict[str, Task]:
    return {block.mark: block for block in blocks(made) if isinstance(block, Task)}


def said(record: object) -> Iterator[str]:
    """Yield every word of a page."""
    if type(record) is str:
        yield record
    elif isinstance(record, tuple):
        for each in record:
            yield from said(each)
    elif is_dataclass(record):
        for field in fields(record):
            yield from said(getattr(record, field.name))


def words(record: object) -> str:
    return " ".join(" ".join(said(record)).replace("\N{NO-BREAK SPACE}", " ").split())


@cache
def pages_of(paper: Paper) -> tuple[str, ...]:
    reader = PdfReader(io.BytesIO(page_pdf(page(), paper)))
    return tuple(flat(each.extract_text()) for each in reader.pages)


def test_every_step_is_on_it_once_in_the_order_of_the_job() -> None:
    marks = [block.mark for block in blocks(page()) if isinstance(block, Task)]
    assert marks == list(STEPS)


@pytest.mark.parametrize("mark", STEPS)
def test_a_step_has_its_words_its_points_its_room_and_its_results(mark: str) -> None:
    section, step = STEPS[mark]
    task = tasks(page())[mark]
    told = words(task)
    assert task.needs == NEEDS[step.needs]
    assert task.holds == isinstance(step, Hold)
    whole = re.sub(r"_+ \(([\w ]+)\)", lambda found: f"{{{found[1].replace(' ', '_')}}}", words(task.words))
    assert whole.rstrip(".") in " ".join(step.prompt.full.split())
    for name in step.warnings:
        warning = RANGE.warnings[name]
        assert f"{warning.signal.value.upper()} {warning.say}" in told
    if isinstance(step, Measure):
        for end in {end for pair in step.pairs for end in (pair.first, pair.second)}:
            assert RANGE.points[end].at.rstrip(".") in told
        assert step.limits.source == task.source
        if step.role in (SafetyRole.TESTER_BEFORE, SafetyRole.DEAD_PAIRS, SafetyRole.TESTER_AFTER):
            assert not task.blanks
            assert "table of proofs" in told
        else:
            room = [blank.what for blank in task.blanks if blank.unit]
            assert [what for what in room if what != "again"] == [pair_words(RANGE, pair) for pair in step.pairs]
            again = any(way.repeat for way in ways_of(section, step))
            assert room.count("again") == (len(step.pairs) if again else 0)
    if isinstance(step, Inspect):
        assert task.answers == ("clean", "fault seen")
    if isinstance(step, Ask):
        wanted = 2 if step.asking is Asking.YES_NO else len(step.choices)
        assert len(task.answers) == wanted
        assert bool(task.blanks) == (wanted == 0)
    for way in ways_of(section, step):
        if way.to is To.STEP and way.step != step.id:
            assert re.search(rf"\b{re.escape(NUMBERS.step(section, way.step))}\b", words(task.ways))
        if way.to is To.HAND_OVER:
            assert f"STOP, HAND OVER to {RANGE.hand_overs[way.hand_over].to}" in told
        for cause in filter(None, (way.cause, *way.suspects, *way.excludes)):
            assert RANGE.causes[cause].say.split("{")[0].strip().removesuffix(".") in told


def test_cautions_come_first_the_worst_before_the_others_and_each_with_its_signal_word() -> None:
    titles = [section.title for section in sections(page())]
    assert titles.index("Cautions") < titles.index("A making safe (safety)")
    (cautions,) = next(section for section in sections(page()) if section.title == "Cautions").blocks
    assert isinstance(cautions, Listing)
    told = [words(item) for item in cautions.items]
    assert len(told) == len(RANGE.warnings)
    signals = [list(Signal).index(Signal(each.split()[0].lower())) for each in told]
    assert signals == sorted(signals)
    for warning in RANGE.warnings.values():
        assert any(f"{warning.signal.value.upper()} {warning.say}" in each for each in told)


def test_the_holds_and_the_proof_stand_before_every_live_step() -> None:
    order = [block for block in blocks(page()) if isinstance(block, (Task, Form))]
    live = next(n for n, block in enumerate(order) if isinstance(block, Task) and block.needs in ("LIVE", "POWER ON"))
    holds = [n for n, block in enumerate(order) if isinstance(block, Task) and block.holds]
    assert len(holds) == sum(isinstance(step, Hold) for _, step in STEPS.values())
    assert max(holds) < live
    assert next(n for n, block in enumerate(order) if isinstance(block, Form)) < live


def test_a_bar_stands_in_front_of_each_step_that_safety_comes_before() -> None:
    order = blocks(page())
    for section, step in STEPS.values():
        mark = NUMBERS.step(section, step.id)
        at = next(n for n, block in enumerate(order) if isinstance(block, Task) and block.mark == mark)
        before = []
        while isinstance(order[at - 1], Bar):
            at -= 1
            before.append(words(order[at]))
        assert all(each.startswith(f"BEFORE {mark}:") for each in before)
        assert any("A making safe" in each for each in before) == (step.id in gated(section))


def test_the_table_of_proofs_has_the_tester_before_every_pair_and_the_tester_after() -> None:
    (form,) = (block for block in blocks(page()) if isinstance(block, Form))
    pairs = RANGE.by_role(SectionRole.MAKE_SAFE)
    dead = next(step for step in pairs.steps if step.role is SafetyRole.DEAD_PAIRS)
    assert isinstance(dead, Measure)
    called = ("Tester before", *(pair_words(RANGE, pair) for pair in dead.pairs), "Tester after")
    told = [next((each for each in called if each in name), "") for name in form.names]
    assert tuple(filter(None, told)) == called
    assert "Isolated" in form.names[0]
    assert any("Ended" in name for name in form.names)


def test_limits_are_figures_where_the_plate_is_told_and_the_rule_where_not() -> None:
    marks = (NUMBERS.step(RANGE.section(name), f"{name}-ohms") for name in ("bake", "broil"))
    bake, broil = (words(tasks(page())[mark]) for mark in marks)
    assert "19.9 to 24.4 Ω , marginal from 17.7 to 26.6 Ω" in bake
    assert "240 V × 240 V ÷" in broil
    assert "squared, over its watts" in broil
    assert "Figures are for: plate volts: 240 V; bake watts: 2600 W." in words(page().head).replace(" V ;", " V;")


def test_it_says_what_outranks_it_and_declares_nothing_safe() -> None:
    told = words(page())
    assert told.count(STATEMENT) == 2
    assert "A safety step is not skipped" in told
    bare = checklist_page(printed(replace(RANGE, sections=(), hand_overs={}, danger_scripts={}), {}, ()))
    own = words(bare)
    assert "declares no circuit safe" in own
    assert not re.search(r"\b(is|are|now|was) safe\b|\bsafe to\b|\bno danger\b", own.lower())


def test_safety_is_on_it_whichever_tests_are_wanted() -> None:
    made = printed(RANGE, {}, ["bake element", "supply"])
    there = {section.id for section in made.sections}
    assert {section.id for section in RANGE.sections if section.role is not None} <= there
    assert {"intake", "put-back", "retest", "bake", "supply"} <= there
    assert {section.id for section in made.left_out} & there == set()
    page_made = checklist_page(made)
    assert "Not on this print:" in words(page_made.head)
    assert all(section.title in words(page_made.head) for section in made.left_out)
    assert not [mark for mark in tasks(page_made) if mark.split(".")[0] in {NUMBERS.of(s) for s in made.left_out}]


@pytest.mark.parametrize(
    ("answers", "tests", "told"),
    [
        ({"no_such": "1"}, [], "plate_volts"),
        ({"connection": "cord-5"}, [], "cord-4"),
        ({"past_trips": "maybe"}, [], "yes or no"),
        ({"plate_volts": "two forty"}, [], "write a figure"),
        ({"plate_volts": "0"}, [], "more than 0"),
        ({"bake_watts": "1e99"}, [], "at most 50000"),
        ({}, ["toaster"], "oven-sensor"),
    ],
)
def test_what_the_procedure_does_not_know_is_refused_with_what_it_does(
    answers: dict[str, str], tests: list[str], told: str
) -> None:
    with pytest.raises(NotPrintedError, match=re.escape(told)):
        printed(RANGE, answers, tests)


def test_the_plate_is_what_is_asked_for_at_intake() -> None:
    assert plate_fields(RANGE, Asking.VOLTAGE) == ("plate_volts",)
    assert plate_fields(RANGE, Asking.POWER) == ("plate_watts",)
    without = replace(RANGE, sections=tuple(s for s in RANGE.sections if s.id != "intake"))
    with pytest.raises(NotPrintedError, match="--answer FIELD=VALUE"):
        plate_fields(without, Asking.VOLTAGE)


@pytest.mark.parametrize("paper", list(Paper))
def test_both_layouts_say_the_same_words(paper: Paper) -> None:
    told = re.sub(r"Electric range does not heat, revision \d+ page \d+ of \d+", " ", " ".join(pages_of(paper)))
    told = told.replace(" ", "")
    missing = {word for word in _Words(page_html(page(), paper)).words if word.strip("_") and word not in told}
    assert not missing


@pytest.mark.parametrize("paper", list(Paper))
def test_no_sheet_of_paper_splits_a_step_from_its_room(paper: Paper) -> None:
    bare = [each.replace(" ", "") for each in pages_of(paper)]
    for mark, task in tasks(page()).items():
        words_there = re.sub(r"\s", "", words(task.words))[:60]
        room = [re.sub(r"\s", "", text) for text in (*task.answers, *(blank.what for blank in task.blanks))]
        assert any(mark in sheet and words_there in sheet and all(each in sheet for each in room) for sheet in bare), (
            mark
        )


def test_on_screen_and_printed_no_step_is_split() -> None:
    html = page_html(page(), Paper.A4)
    (rule,) = re.findall(r"^\.task \{([^}]*)\}", html, re.MULTILINE)
    assert "break-inside: avoid" in rule
    (bar,) = re.findall(r"^\.bar \{([^}]*)\}", html, re.MULTILINE)
    assert "break-after: avoid" in bar


def test_words_from_a_procedure_stay_words() -> None:
    nasty = '<b onclick="x">#set page() *a* _b_ $x$ </b>'
    points = {**RANGE.points, "bake-1": Point("bake-1", nasty, ("x",), nasty)}
    made = checklist_page(printed(replace(RANGE, points=points), {}, ["bake"]))
    html = page_html(made, Paper.LETTER)
    assert "<b onclick" not in html
    assert "&lt;b onclick=" in html
    text = " ".join(each.extract_text() for each in PdfReader(io.BytesIO(page_pdf(made, Paper.LETTER))).pages)
    assert nasty.replace(" ", "") in flat(text).replace(" ", "")


def test_the_same_procedure_makes_the_same_file() -> None:
    assert page_pdf(page(), Paper.A4) == page_pdf(page(), Paper.A4)
    assert isinstance(RANGE, Procedure)
