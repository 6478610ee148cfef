"""Shared parts: what they leave open is filled in, what an appliance lacks left out, its own steps put in place."""

import shutil
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from voicetech.authoring.findings import Finding, Notes
from voicetech.authoring.including import read_written
from voicetech.authoring.places import Written
from voicetech.authoring.procedure_files import checked, shipped_names
from voicetech.authoring.shipped import shipped_folder

SHIPPED = Path(str(shipped_folder("dialogs")))

SHARED = """
parameters:
  appliance:
  block: terminal block
  leaking: []
  more: {}
causes:
  <appliance>-leaks: {say: the <appliance> leaks}
  block-burnt: {say: the <block> is burnt, suspects: [one, <leaking>, two]}
  <more>:
sections:
  put-back:
    title: putting back
    steps:
      wires: {instruct: Wires of the <appliance> back.}
      own:
      covers: {instruct: Covers on.}
circuit:
  wires:
    cord-1: [a, b, 0.1]
settings: {loaded: <more>}
"""


def written(folder: Path, include: str, own: str = "", shared: str = SHARED) -> tuple[dict[str, Written], Notes]:
    (folder / "shared").mkdir(exist_ok=True)
    (folder / "shared" / "part.yaml").write_text(shared, encoding="utf-8")
    file = folder / "kettle.yaml"
    file.write_text(f"procedure: kettle\ninclude:\n{include}\n{own}", encoding="utf-8")
    found, notes = read_written(file)
    return found.table, notes


def under(value: Written, *keys: str) -> Written:
    for key in keys:
        assert isinstance(value, dict)
        value = value[key]
    return value


def findings(notes: Notes) -> list[str]:
    return [finding.rule for finding in notes.found]


def only(notes: Notes) -> Finding:
    (finding,) = notes.found
    return finding


def test_a_parameter_stands_in_texts_and_in_keys(tmp_path: Path) -> None:
    table, notes = written(tmp_path, "  - {file: part.yaml, with: {appliance: kettle}}")
    assert notes.found == []
    assert under(table, "causes", "kettle-leaks", "say") == "the kettle leaks"
    assert under(table, "causes", "block-burnt", "say") == "the terminal block is burnt"
    assert "parameters" not in table


def test_a_list_comes_between_the_others_and_a_table_among_the_entries(tmp_path: Path) -> None:
    include = "  - {file: part.yaml, with: {appliance: kettle, leaking: [x, y], more: {extra: {say: it is}}}}"
    table, notes = written(tmp_path, include)
    assert notes.found == []
    assert under(table, "causes", "block-burnt", "suspects") == ["one", "x", "y", "two"]
    assert under(table, "causes", "extra", "say") == "it is"
    assert under(table, "settings", "loaded", "extra", "say") == "it is"


def test_a_value_at_the_top_is_for_every_file_that_leaves_it_open(tmp_path: Path) -> None:
    table, notes = written(tmp_path, "  - part.yaml", "with: {appliance: kettle, block: lug}")
    assert notes.found == []
    assert under(table, "causes", "block-burnt", "say") == "the lug is burnt"
    assert "with" not in table
    table, _ = written(tmp_path, "  - {file: part.yaml, with: {block: post}}", "with: {appliance: kettle, block: lug}")
    assert under(table, "causes", "block-burnt", "say") == "the post is burnt"


def test_a_part_fills_in_what_the_parts_after_it_leave_open(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    words = "parameters: {appliance: }\nwith:\n  block: <appliance> box\n  unknown: {to: anybody}\n"
    (tmp_path / "shared" / "words.yaml").write_text(words, encoding="utf-8")
    own = "with: {appliance: kettle}"
    table, notes = written(tmp_path, "  - words.yaml\n  - part.yaml", own)
    assert notes.found == []
    assert "with" not in table
    assert under(table, "causes", "block-burnt", "say") == "the kettle box is burnt"
    table, _ = written(tmp_path, "  - part.yaml\n  - words.yaml", own)
    assert under(table, "causes", "block-burnt", "say") == "the terminal block is burnt"
    table, _ = written(tmp_path, "  - words.yaml\n  - part.yaml", "with: {appliance: kettle, block: lug}")
    assert under(table, "causes", "block-burnt", "say") == "the lug is burnt"
    table, _ = written(tmp_path, "  - words.yaml\n  - {file: part.yaml, with: {block: post}}", own)
    assert under(table, "causes", "block-burnt", "say") == "the post is burnt"


def test_what_a_part_gives_is_found_where_it_is_given(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "words.yaml").write_text("with:\n  more:\n    extra: {say: it is}\n", encoding="utf-8")
    _, notes = written(tmp_path, "  - words.yaml\n  - {file: part.yaml, with: {appliance: kettle}}")
    place = notes.places["causes", "extra", "say"]
    assert (place.path.name, place.line) == ("words.yaml", 3)


def test_a_part_that_gives_no_table_is_told(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "words.yaml").write_text("with: [a]\n", encoding="utf-8")
    _, notes = written(tmp_path, "  - words.yaml\n  - {file: part.yaml, with: {appliance: kettle}}")
    finding = only(notes)
    assert (finding.rule, finding.path.name) == ("shape", "words.yaml")


@pytest.mark.parametrize(
    ("own", "rule"), [("with: {appliance: a, blok: b}", "unknown-parameter"), ("with: [a]", "shape")]
)
def test_a_value_at_the_top_that_no_file_takes_is_told(tmp_path: Path, own: str, rule: str) -> None:
    _, notes = written(tmp_path, "  - part.yaml", own)
    assert rule in findings(notes)


def test_what_is_given_is_found_where_it_is_given(tmp_path: Path) -> None:
    include = "  - file: part.yaml\n    with:\n      appliance: kettle\n      more:\n        extra: {say: it is}"
    _, notes = written(tmp_path, include)
    place = notes.places["causes", "extra", "say"]
    assert (place.path.name, place.line) == ("kettle.yaml", 7)
    assert notes.places["causes", "kettle-leaks", "say"].path.name == "part.yaml"


def test_a_file_may_be_included_twice_with_other_parameters(tmp_path: Path) -> None:
    shared = "parameters: {element: }\ncauses: {<element>-open: {say: the <element> element is open}}\n"
    include = "\n".join(f"  - {{file: part.yaml, with: {{element: {name}}}}}" for name in ("bake", "broil"))
    table, notes = written(tmp_path, include, shared=shared)
    assert notes.found == []
    causes = under(table, "causes")
    assert isinstance(causes, dict)
    assert list(causes) == ["bake-open", "broil-open"]


@pytest.mark.parametrize(
    ("include", "rule", "told"),
    [
        ("part.yaml", "missing-parameter", "'appliance'"),
        ("{file: part.yaml, with: {appliance: kettle, blok: lug}}", "unknown-parameter", "'blok'"),
        ("{file: part.yaml, with: {appliance: [a, b]}}", "shape", "<appliance>"),
        ("{file: part.yaml, with: {appliance: kettle, more: [a]}}", "shape", "<more>"),
        ("{file: part.yaml, with: kettle}", "shape", "table"),
        ("{file: part.yaml, with: {appliance: kettle}, without: [causes.lid]}", "nothing-left-out", "causes.lid"),
        ("{file: part.yaml, with: {appliance: kettle}, wihout: [causes.lid]}", "unknown-key", "`wihout`"),
        ("{with: {appliance: kettle}}", "missing-key", "`file`"),
        ("[part.yaml]", "shape", "file's name"),
    ],
)
def test_what_is_wrong_with_an_include_is_told_in_its_line(tmp_path: Path, include: str, rule: str, told: str) -> None:
    _, notes = written(tmp_path, f"  - {include}")
    mine = [finding for finding in notes.found if finding.rule == rule]
    assert any(told in finding.message for finding in mine), notes.found
    if rule != "shape":
        assert mine[0].line == 3


def test_a_mark_that_is_no_parameter_is_told_where_it_stands(tmp_path: Path) -> None:
    _, notes = written(tmp_path, "  - part.yaml", shared="causes:\n  a: {say: the <blok> is burnt}\n")
    finding = only(notes)
    assert (finding.rule, finding.path.name, finding.line) == ("unknown-parameter", "part.yaml", 2)


def test_a_parameter_that_fills_nothing_is_told_in_its_file(tmp_path: Path) -> None:
    _, notes = written(tmp_path, "  - part.yaml", shared="parameters:\n  block: lug\ncauses: {a: {say: burnt}}\n")
    finding = only(notes)
    assert (finding.rule, finding.path.name, finding.line) == ("unused-parameter", "part.yaml", 2)


def test_both_files_that_say_something_twice_are_named(tmp_path: Path) -> None:
    _table, notes = written(tmp_path, "  - file: part.yaml\n    with: {appliance: kettle}", "settings: {loaded: 5}")
    assert "in shared/part.yaml and in kettle.yaml" in only(notes).message
    other = "  - file: part.yaml\n    with: {appliance: kettle, block: plug}"
    _table, notes = written(tmp_path, "  - file: part.yaml\n    with: {appliance: kettle}\n" + other)
    assert "twice by shared/part.yaml" in only(notes).message
    assert only(notes).where == "causes.block-burnt"


def test_what_a_file_says_the_same_twice_stands_once(tmp_path: Path) -> None:
    both = "\n".join(f"  - file: part.yaml\n    with: {{appliance: {name}}}" for name in ("kettle", "urn"))
    shared = SHARED.replace("      wires: {instruct: Wires of the <appliance> back.}\n", "")
    table, notes = written(tmp_path, both, shared=shared)
    assert findings(notes) == []
    causes = under(table, "causes")
    assert isinstance(causes, dict)
    assert set(causes) == {"kettle-leaks", "urn-leaks", "block-burnt"}


@pytest.mark.parametrize("name", shipped_names())
def test_what_nobody_filled_in_is_told_and_nothing_that_follows_from_it(tmp_path: Path, name: str) -> None:
    shutil.copytree(SHIPPED / "shared", tmp_path / "shared")
    yaml = YAML(typ="rt")
    yaml.width = 1000
    whole = yaml.load(SHIPPED / f"{name}.yaml")
    whole.pop("with", None)
    for include in whole["include"]:
        if not isinstance(include, str):
            include.pop("with", None)
    with (tmp_path / f"{name}.yaml").open("w", encoding="utf-8") as file:
        yaml.dump(whole, file)
    assert {finding.rule for finding in checked(tmp_path / f"{name}.yaml")[1]} == {"missing-parameter"}


def test_what_the_appliance_has_not_is_left_out(tmp_path: Path) -> None:
    include = "  - {file: part.yaml, with: {appliance: kettle}, without: [causes.kettle-leaks, sections.put-back]}"
    table, notes = written(tmp_path, include)
    assert notes.found == []
    causes = under(table, "causes")
    assert isinstance(causes, dict)
    assert list(causes) == ["block-burnt"]
    assert table["sections"] == {}


def test_own_steps_come_where_the_shared_section_has_a_place_for_them(tmp_path: Path) -> None:
    own = "sections: {put-back: {steps: {lid: {instruct: Lid on.}}}}"
    table, notes = written(tmp_path, "  - {file: part.yaml, with: {appliance: kettle}}", own)
    assert notes.found == []
    steps = under(table, "sections", "put-back", "steps")
    assert isinstance(steps, dict)
    assert list(steps) == ["wires", "lid", "covers"]
    assert under(table, "sections", "put-back", "title") == "putting back"


def test_without_own_steps_the_place_for_them_is_nothing(tmp_path: Path) -> None:
    table, _ = written(tmp_path, "  - {file: part.yaml, with: {appliance: kettle}}")
    steps = under(table, "sections", "put-back", "steps")
    assert isinstance(steps, dict)
    assert list(steps) == ["wires", "covers"]


@pytest.mark.parametrize(
    "own",
    [
        "sections: {put-back: {title: other, steps: {lid: {instruct: Lid on.}}}}",
        "sections: {put-back: {steps: {wires: {instruct: Wires.}}}}",
        "causes: {block-burnt: {say: burnt}}",
        "circuit: {wires: {cord-1: [a, b, 1]}}",
    ],
)
def test_nothing_shared_is_written_over(tmp_path: Path, own: str) -> None:
    _, notes = written(tmp_path, "  - {file: part.yaml, with: {appliance: kettle}}", own)
    assert findings(notes) == ["duplicate-key"]


def test_each_part_of_an_appliance_brings_its_wires(tmp_path: Path) -> None:
    own = "circuit: {wires: {feed: [b, c, 0.1]}, faults: {feed-open: {say: open}}}"
    table, notes = written(tmp_path, "  - {file: part.yaml, with: {appliance: kettle}}", own)
    assert notes.found == []
    wires = under(table, "circuit", "wires")
    assert isinstance(wires, dict)
    assert list(wires) == ["cord-1", "feed"]


def test_a_shared_file_includes_no_other(tmp_path: Path) -> None:
    _, notes = written(tmp_path, "  - part.yaml", shared="include: [other.yaml]\ncauses: {a: {say: burnt}}\n")
    assert findings(notes) == ["shape"]
