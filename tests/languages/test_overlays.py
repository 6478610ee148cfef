"""Texts in another language, file by file: of shared parts, with parameters, of parts that are there twice."""

import json
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from tests.authoring.test_bad_files import BAD
from tests.languages.pseudo import TAG, marked, overlay_of, write
from voicetech.authoring.overlays import languages_of
from voicetech.authoring.places import Written
from voicetech.authoring.procedure_files import checked_in_languages, load_procedure
from voicetech.authoring.schema import language_schema, schema_text
from voicetech.authoring.shipped import shipped_folder
from voicetech.language.tags import wrong_with_tag
from voicetech.procedure import Measure

PART = """
parameters:
  block:
  name:
  appliance:
points:
  <block>-1: {label: <block>1, call: [<name> end one], at: Left of the <appliance>.}
  <block>-2: {label: <block>2, call: [<name> end two], at: Right of the <appliance>.}
sections:
  <block>-more:
    title: <name>
    phase: retest
    steps:
      one: {instruct: Look at the <name> once more. Say done., outcomes: {done: {}}}
"""
PROCEDURE = """
procedure: kettle
with: {appliance: kettle}
include:
  - base.yaml
  - {file: part.yaml, with: {block: left, name: left lamp}}
  - {file: part.yaml, with: {block: right, name: right lamp}}
"""
OF_PART = """
points:
  <block>-1: {call: [eind een <name>], at: Links van de <appliance>.}
  <block>-2: {call: [eind twee <name>], at: Rechts van de <appliance>.}
sections:
  <block>-more: {title: <name>, steps: {one: {instruct: Kijk nog eens naar de <name>. Say done.}}}
"""


@pytest.fixture
def kettle(tmp_path: Path) -> Path:
    """A procedure with a part that it includes twice, and texts in a language for its base alone."""
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "base.yaml").write_bytes((BAD / "shared" / "base.yaml").read_bytes())
    (tmp_path / "shared" / "part.yaml").write_text(PART, encoding="utf-8")
    file = tmp_path / "kettle.yaml"
    file.write_text("procedure: kettle\ninclude: [base.yaml]\n", encoding="utf-8")
    said = overlay_of(file)
    head = {key: said.pop(key) for key in ("procedure", "revision")}
    write(tmp_path / TAG / "shared" / "base.yaml", said)
    write(tmp_path / TAG / file.name, head)
    file.write_text(PROCEDURE, encoding="utf-8")
    return file


def own(file: Path, more: dict[str, Written]) -> None:
    write(file.parent / TAG / file.name, {"procedure": "kettle", "revision": "1", **more})


def told(file: Path) -> list[tuple[str, str]]:
    return [(finding.where, finding.rule) for finding in checked_in_languages(file)]


def test_every_text_of_a_part_is_missing_where_nobody_gives_it(kettle: Path) -> None:
    assert languages_of(kettle) == ("en", TAG)
    assert set(told(kettle)) == {
        (f"{where}", "untranslated")
        for block in ("left", "right")
        for where in (
            f"points.{block}-1.call",
            f"points.{block}-1.at",
            f"points.{block}-2.call",
            f"points.{block}-2.at",
            f"{block}-more.title",
            f"{block}-more.one.instruct",
        )
    }


def test_a_part_says_its_texts_itself_and_each_procedure_fills_them_in(kettle: Path) -> None:
    (kettle.parent / TAG / "shared" / "part.yaml").write_text(OF_PART, encoding="utf-8")
    assert told(kettle) == [("with.appliance", "untranslated"), ("with.name", "untranslated")]
    own(kettle, {"with": {"appliance": "waterkoker", "name": "lamp"}})
    assert told(kettle) == []
    points = load_procedure(kettle, TAG).points
    assert points["left-1"].at == points["right-1"].at == "Links van de waterkoker."
    assert points["left-1"].label == "left1", "a name stays what it is"


def test_what_the_procedure_says_itself_comes_before_what_a_part_says(kettle: Path) -> None:
    (kettle.parent / TAG / "shared" / "part.yaml").write_text(OF_PART, encoding="utf-8")
    title: dict[str, Written] = {"left-more": {"title": "linkerlamp"}}
    own(kettle, {"with": {"appliance": "waterkoker", "name": "lamp"}, "sections": title})
    procedure = load_procedure(kettle, TAG)
    assert procedure.section("left-more").title == "linkerlamp"
    assert procedure.section("right-more").title == "lamp"


def test_a_part_without_what_one_procedure_leaves_out_is_no_mistake(kettle: Path) -> None:
    (kettle.parent / TAG / "shared" / "part.yaml").write_text(OF_PART, encoding="utf-8")
    kettle.write_text(f"{PROCEDURE}    without: [points.right-1]\n", encoding="utf-8")
    own(kettle, {"with": {"appliance": "waterkoker", "name": "lamp"}})
    assert told(kettle) == []


def test_english_is_as_it_was(kettle: Path) -> None:
    before = load_procedure(kettle)
    assert before.language == "en"
    assert all(TAG not in file.name for file in before.texts)
    assert load_procedure(kettle).points["left-1"].at == "Left of the kettle."


def test_a_look_shows_its_faults_in_any_language(tmp_path: Path) -> None:
    """The circuit goes by the words of the part that is looked at."""
    file = shipped_folder("dialogs") / "electric-dryer-no-heat.yaml"
    copy = tmp_path / "dialogs"
    (copy / "shared").mkdir(parents=True)
    for part in (shipped_folder("dialogs") / "shared").glob("*.yaml"):
        (copy / "shared" / part.name).write_bytes(part.read_bytes())
    (copy / file.name).write_bytes(file.read_bytes())
    write(copy / TAG / file.name, overlay_of(copy / file.name))
    english, other = load_procedure(copy / file.name).circuit, load_procedure(copy / file.name, TAG).circuit
    assert english is not None
    assert other is not None
    seen = {fault.id: len(fault.seen) for fault in english.faults}
    assert {fault.id: len(fault.seen) for fault in other.faults} == seen
    assert any(seen.values())


@pytest.mark.parametrize("tag", ["es", "es-MX", "sr-Latn-RS", "en-XA", "qps", "de-CH-1996", "es-419", "nl-x-werf"])
def test_tags(tag: str) -> None:
    assert wrong_with_tag(tag) is None


@pytest.mark.parametrize("tag", ["en", "", "xx", "english", "en_US", "EN", "es-mx", "de-", "../en", "qaaa"])
def test_no_tags(tag: str) -> None:
    assert wrong_with_tag(tag) is not None


def test_the_committed_schema_is_the_one_of_the_format() -> None:
    committed = files("voicetech.authoring").joinpath("language.schema.json").read_text(encoding="utf-8")
    assert committed == schema_text(language=True), (
        "write it again: voicetech check --language-schema > voicetech/authoring/language.schema.json"
    )


def test_the_schema_takes_what_is_right_and_refuses_what_is_no_text(kettle: Path) -> None:
    Draft202012Validator.check_schema(language_schema())
    yaml = YAML(typ="safe", pure=True)
    (kettle.parent / TAG / "shared" / "part.yaml").write_text(OF_PART, encoding="utf-8")
    for file in sorted((kettle.parent / TAG).rglob("*.yaml")):
        read = json.loads(json.dumps(yaml.load(file.read_text(encoding="utf-8"))))
        assert list(Draft202012Validator(language_schema()).iter_errors(read)) == []
    bad = yaml.load((BAD / TAG / "language.yaml").read_text(encoding="utf-8"))
    assert list(Draft202012Validator(language_schema()).iter_errors(bad)) != []


def test_pairs_are_said_by_their_own_points(kettle: Path) -> None:
    own(kettle, overlay_of(kettle))
    assert told(kettle) == []
    step = load_procedure(kettle, TAG).section("put-back").steps[0]
    assert isinstance(step, Measure)
    assert step.pairs[0].say == f"{marked('frame')} to {marked('ground pin')}"


def test_english_texts_stand_in_the_procedure_alone(kettle: Path) -> None:
    own(kettle, overlay_of(kettle))
    write(kettle.parent / "en" / kettle.name, {"procedure": "kettle"})
    assert languages_of(kettle) == ("en", TAG)
    assert told(kettle) == [("file", "language-tag")]
