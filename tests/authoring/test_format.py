"""The format as data: what the reader asks for is in it, nothing else is, and the schema says the same."""

import re
import shutil
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError

from tests.authoring.test_bad_files import BAD
from voicetech.authoring.building_circuit import built_circuit
from voicetech.authoring.findings import Notes, Place
from voicetech.authoring.format import Kinds, Named, Shape, Tables, Value
from voicetech.authoring.format_circuit import CIRCUIT
from voicetech.authoring.format_steps import STEP
from voicetech.authoring.format_top import TOP
from voicetech.authoring.places import Written
from voicetech.authoring.procedure_files import load_procedure, load_shipped, shipped_names
from voicetech.authoring.reading import Table
from voicetech.authoring.schema import procedure_schema, schema_text
from voicetech.authoring.shipped import shipped_folder
from voicetech.language.meaning import DangerKind

SHIPPED = Path(str(shipped_folder("dialogs")))
STRUCTURAL = frozenset(
    {
        "shape",
        "missing-key",
        "missing-source",
        "unknown-key",
        "unknown-word",
        "step-kind",
        "not-a-number",
        "choices",
        "asked-not-measured",
    }
)
"""Rules that say what may stand where, without a look at anything else."""


def shapes_in(value: Value, seen: set[str]) -> Iterator[Shape]:
    match value:
        case Shape(name=name, keys=keys) if name not in seen:
            seen.add(name)
            yield value
            for key in keys.values():
                yield from shapes_in(key.holds, seen)
        case Kinds(shapes=shapes):
            for shape in shapes.values():
                yield from shapes_in(shape, seen)
        case Tables(shape=shape):
            yield from shapes_in(shape, seen)
        case Named(value=inside):
            yield from shapes_in(inside, seen)
        case _:
            pass


def test_the_reader_asks_for_every_key_of_the_format_and_for_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: dict[str, set[str]] = {}
    kinds = STEP.shapes.keys()

    def noted(of: Callable[..., Any]) -> Callable[..., Any]:
        def and_noted(table: Table, key: str, *others: Any) -> Any:
            if isinstance(table._holds, Shape):
                # A step is asked for every kind there is.
                known = {key} if key not in kinds or key in table._holds.keys else set()
                asked.setdefault(table._holds.name, set()).update(known)
            return of(table, key, *others)

        return and_noted

    for name in ("has", "_take"):
        monkeypatch.setattr(Table, name, noted(getattr(Table, name)))
    for name in shipped_names():
        load_procedure(SHIPPED / f"{name}.yaml")
    fan: dict[str, Written] = {"between": ["a", "b"], "watts": "150", "volts": "120", "winding": "10"}
    built_circuit(Table(Notes(top=Place(SHIPPED, 1, 1)), (), {"motors": {"fan": fan}}, CIRCUIT))
    shapes = {shape.name: set(shape.keys) for shape in shapes_in(TOP, set())}
    # What is included is put in its place before the reader looks.
    shapes["procedure"] -= {"include", "with", "parameters"}
    del shapes["include"]
    # Limits are read key by key as they are written: which are known is a matter of their rule.
    del shapes["limits"], asked["limits"]
    assert asked == shapes


def test_every_key_says_what_it_is_for() -> None:
    for shape in shapes_in(TOP, set()):
        for name, key in shape.keys.items():
            assert key.says.endswith("."), (shape.name, name)


def test_every_key_stands_on_the_page_of_the_format() -> None:
    page = re.sub(
        r"^```.*?^```", "", (SHIPPED / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL | re.MULTILINE
    )
    told = {word for code in re.findall(r"`([^`]+)`", page) for word in re.findall(r"[\w-]+", code)}
    keys = {key for shape in shapes_in(TOP, set()) for key in shape.keys}
    assert keys - told - {kind.value for kind in DangerKind} == set()


def test_a_complaint_weighs_the_causes_that_it_does_not_name_alike(tmp_path: Path) -> None:
    """What it names keeps its own weight, and a cause that a shared part brings is weighed too."""
    shutil.copytree(SHIPPED / "shared", tmp_path / "shared")
    written = (SHIPPED / "electric-water-heater-no-heat.yaml").read_text(encoding="utf-8")
    assert "weights: {lower-element-open: 40," in written
    changed = written.replace("weights: {lower-element-open: 40,", "weights: {any: 0.25, lower-element-open: 40,")
    (tmp_path / "electric-water-heater-no-heat.yaml").write_text(changed, encoding="utf-8")
    procedure = load_procedure(tmp_path / "electric-water-heater-no-heat.yaml")
    weights = procedure.complaints["runs-out"].weights
    before = load_shipped("electric-water-heater-no-heat").complaints["runs-out"].weights
    assert weights.keys() == procedure.causes.keys()
    assert {cause: weights[cause] for cause in before} == before
    assert {str(weights[cause]) for cause in weights.keys() - before.keys()} == {"0.25"}


def test_the_committed_schema_is_the_one_of_the_format() -> None:
    committed = files("voicetech.authoring").joinpath("procedure.schema.json").read_text(encoding="utf-8")
    assert committed == schema_text(), (
        "write it again: voicetech check --schema > voicetech/authoring/procedure.schema.json"
    )


def test_the_schema_is_one_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(procedure_schema())


def as_an_editor_reads(path: Path) -> Any:
    """Return what YAML 1.2 makes of a file: numbers are numbers there, and `yes` is text."""
    return YAML(typ="safe", pure=True).load(path.read_text(encoding="utf-8"))


def wrong_in(path: Path) -> list[str]:
    return [error.message for error in Draft202012Validator(procedure_schema()).iter_errors(as_an_editor_reads(path))]


@pytest.mark.parametrize("path", sorted(SHIPPED.rglob("*.yaml")), ids=lambda path: path.stem)
def test_procedures_and_their_parts_fit_it(path: Path) -> None:
    assert wrong_in(path) == []


@pytest.mark.parametrize("path", sorted((BAD / "shared").glob("*.yaml")), ids=lambda path: path.stem)
def test_parts_of_bad_files_fit_it_too(path: Path) -> None:
    assert wrong_in(path) == []


def structural() -> list[Path]:
    return [
        path
        for path in sorted(BAD.glob("*.yaml"))
        if any(f"[{rule}]" in path.with_suffix(".expected").read_text(encoding="utf-8") for rule in STRUCTURAL)
    ]


def test_most_files_with_a_mistake_in_their_structure_do_not_fit_it() -> None:
    missed = []
    for path in structural():
        try:
            if not wrong_in(path):
                missed.append(path.stem)
        except YAMLError:
            continue
    assert len(structural()) >= 12
    assert len(missed) <= len(structural()) // 4, missed


def test_files_with_other_mistakes_fit_it() -> None:
    """A schema that refused what is right but for its meaning would send an author astray."""
    wrong = {}
    for path in sorted(set(BAD.glob("*.yaml")) - set(structural())):
        try:
            found = wrong_in(path)
        except YAMLError:
            continue
        if found:
            wrong[path.stem] = found
    assert wrong == {}
