"""The guide for whoever writes procedures: its files, put together as it says, do what it shows."""

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.authoring.checking import found_in
from tests.authoring.test_bad_files import rule_of
from tests.cli.program import run
from voicetech.authoring.including import read_written
from voicetech.authoring.procedure_files import checked_in_languages, load_procedure
from voicetech.authoring.shipped import shipped_folder
from voicetech.hearing.phones import load_dictionary
from voicetech.language.plural import so_many
from voicetech.proof.proving import prove

SHIPPED = Path(str(shipped_folder("dialogs")))
GUIDE = (SHIPPED / "GUIDE.md").read_text(encoding="utf-8")
PART = re.compile(r"^`([\w/-]+\.yaml)`\n\n```yaml\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SHOWN = re.compile(r"^```console\n\$ (voicetech [^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SLIP = re.compile(r"^\| `([\w-]+\.yaml)` \| `(.*?)` \| `(.*?)` \|$", re.MULTILINE)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(SHIPPED / "shared", tmp_path / "shared")
    return tmp_path


def written(folder: Path, until: int) -> None:
    """Write every file that the guide has shown before this place of it."""
    for part in PART.finditer(GUIDE):
        if part.start() < until:
            (folder / part[1]).write_text(part[2], encoding="utf-8")


def shown(command: str) -> Iterator[tuple[int, list[str]]]:
    for block in SHOWN.finditer(GUIDE):
        if block[1].startswith(command):
            yield block.start(), block[2].splitlines()


def told(folder: Path) -> list[str]:
    """Return what the check prints, counts included."""
    lines = [str(finding).replace(f"{folder}/", "") for finding in found_in(folder / "heater.yaml")]
    count = f"{so_many(len(lines), 'finding')} in 1 procedure." if lines else "1 procedure checked, no finding."
    return [*lines, count]


def slipped(folder: Path) -> None:
    for name, right, wrong in SLIP.findall(GUIDE):
        file = folder / "shared" / name
        text = file.read_text(encoding="utf-8")
        assert right in text
        file.write_text(text.replace(right, wrong, 1), encoding="utf-8")


@pytest.mark.skipif(load_dictionary() is None, reason="no pronouncing dictionary for this Python")
def test_every_check_in_the_guide_says_what_it_shows(folder: Path) -> None:
    checks = list(shown("voicetech check heater.yaml"))
    assert len(checks) >= 5
    for number, (place, lines) in enumerate(checks, start=1):
        written(folder, place)
        if number == len(checks):
            slipped(folder)
        assert told(folder) == lines, f"check {number} of the guide"


def test_the_slips_break_many_rules(folder: Path) -> None:
    (*_others, (_place, lines)) = shown("voicetech check heater.yaml")
    assert len({rule_of(line) for line in lines[:-1]}) >= 8
    assert len(SLIP.findall(GUIDE)) >= 6


def test_what_it_ends_in_is_worked_and_every_fault_is_found(folder: Path, tmp_path: Path) -> None:
    written(folder, len(GUIDE))
    procedure = load_procedure(folder / "heater.yaml")
    assert procedure.circuit is not None
    ((_place, lines),) = shown("voicetech rehearse")
    done = run(tmp_path / "home", "rehearse", "--procedure", str(folder / "heater.yaml"), "--fault", "all")
    assert done.stdout.splitlines() == lines
    assert len(lines) == len(procedure.circuit.faults)
    assert all('"proved": true' in line and '"unsafe_steps": 0' in line for line in lines)


def test_what_it_ends_in_is_proved(folder: Path) -> None:
    """It has no live test, so that the power for one is never asked for: no breach."""
    written(folder, len(GUIDE))
    found = prove(load_procedure(folder / "heater.yaml"))
    ((_place, lines),) = shown("voicetech prove")
    assert found.broken == ()
    assert lines == [f"{found.procedure}: no rule is broken."]
    assert found.asked < found.steps


def test_every_part_that_the_guide_names_is_there(folder: Path) -> None:
    written(folder, len(GUIDE))
    named = set(re.findall(r"`(?:shared/)?([\w-]+\.yaml)`", GUIDE))
    assert {name for name in named if not ((folder / "shared" / name).is_file() or (folder / name).is_file())} == {
        "electric-water-heater-no-heat.yaml"
    }
    assert (SHIPPED / "electric-water-heater-no-heat.yaml").is_file()


def test_a_part_that_is_there_twice_is_included_twice_as_shown(folder: Path) -> None:
    """The heater gets a second element by what the guide says: a parameter in the element's file, two includes."""
    written(folder, len(GUIDE))
    parameters, twice = re.findall(r"^```yaml\n(parameters:\n.*?|  - file: .*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    part = folder / "shared" / "heater-element.yaml"
    text = part.read_text(encoding="utf-8")
    for name in ("element-1", "element-2", "element-case", "element-open", "element-leaks", "element-look"):
        text = text.replace(name, f"<which>-{name}")
    text = text.replace("\n  element:\n", "\n  element-<which>:\n").replace(
        "tested_by: element", "tested_by: element-<which>"
    )
    part.write_text(parameters + text, encoding="utf-8")
    head = folder / "heater.yaml"
    head.write_text(head.read_text(encoding="utf-8").replace("  - heater-element.yaml\n", twice), encoding="utf-8")
    table = read_written(head)[0].table
    assert isinstance(table["sections"], dict)
    assert {"element-one", "element-two"} <= table["sections"].keys()
    assert isinstance(table["points"], dict)
    assert {"one-element-1", "two-element-1"} <= table["points"].keys()


def test_the_texts_in_another_language_go_with_their_part(folder: Path) -> None:
    """What the guide shows is of one part: of that part nothing is missing, and nothing is there too much."""
    written(folder, len(GUIDE))
    (shown_texts,) = re.findall(r"of the folder `es`:\n\n```yaml\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
    (folder / "es" / "shared").mkdir(parents=True)
    (folder / "es" / "shared" / "heater-limit.yaml").write_text(shown_texts, encoding="utf-8")
    (folder / "es" / "heater.yaml").write_text("procedure: heater\nrevision: 1\n", encoding="utf-8")
    found = checked_in_languages(folder / "heater.yaml")
    assert {finding.rule for finding in found} == {"untranslated"}
    about = {key for finding in found for key in finding.where.split(".")}
    assert about & {"limit-1", "limit-2", "limit-ohms", "limit-open", "limit-back", "new-limit"} == set()
    assert "heater-1" in about or "element-ohms" in about, "of the other parts all is missing"
