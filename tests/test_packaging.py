"""The wheel carries all the program needs, and its metadata says what that is.

The suite runs against the checkout, whose package folder comes first on the path of `python -m pytest`; what is
installed is tried here, from a wheel built of that same checkout and used from outside it.
"""

import ast
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

import voicetech

CHECKOUT = Path(__file__).resolve().parents[1]
PROJECT = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
CARRIED = ("dialogs", "grammars", "demo_audio")


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", re.split(r"[^\w.-]", name, maxsplit=1)[0]).lower()


def asked_for() -> set[str]:
    return {plain(requirement) for requirement in PROJECT["project"]["dependencies"]}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", str(folder)]
    subprocess.run(command, cwd=CHECKOUT, check=True, capture_output=True)
    return next(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def run_installed(installed: Path, *arguments: str) -> str:
    """Return what Python prints with the installed package, from a folder that is not the checkout."""
    environment = {**os.environ, "PYTHONPATH": str(installed)}
    command = [sys.executable, "-P", *arguments]
    done = subprocess.run(command, cwd=installed, env=environment, check=True, capture_output=True, text=True)
    return done.stdout


def files_under(folder: Path) -> Iterator[Path]:
    return (file for file in folder.rglob("*") if file.is_file() and "__pycache__" not in file.parts)


@pytest.mark.parametrize("name", CARRIED)
def test_the_wheel_carries_every_file_that_comes_with_the_program(installed: Path, name: str) -> None:
    shipped = {file.relative_to(CHECKOUT / name): file for file in files_under(CHECKOUT / name)}
    assert shipped
    for relative, file in shipped.items():
        assert (installed / "voicetech" / "_shipped" / name / relative).read_bytes() == file.read_bytes()


def test_the_wheel_carries_the_whole_package_and_nothing_else(installed: Path) -> None:
    package = {file.relative_to(CHECKOUT) for file in files_under(CHECKOUT / "voicetech")}
    carried = {file.relative_to(installed) for file in files_under(installed)}
    assert {file for file in carried if file.parts[:2] != ("voicetech", "_shipped")} == package | {
        file for file in carried if file.parts[0].endswith(".dist-info")
    }
    assert Path("voicetech/py.typed") in carried


def test_the_licence_and_the_notices_come_along(installed: Path) -> None:
    names = {file.name for file in files_under(next(installed.glob("*.dist-info")))}
    assert {"LICENSE", "THIRD_PARTY_NOTICES.md"} <= names


def test_the_installed_program_finds_what_comes_with_it(installed: Path) -> None:
    code = (
        f"from voicetech.authoring.shipped import shipped_folder\nfor name in {CARRIED!r}: print(shipped_folder(name))"
    )
    assert run_installed(installed, "-c", code).splitlines() == [
        str(installed / "voicetech" / "_shipped" / name) for name in CARRIED
    ]


def test_the_installed_command_answers(installed: Path) -> None:
    module, function = PROJECT["project"]["scripts"]["voicetech"].split(":")
    code = f"import sys; sys.argv = ['voicetech', '--help']; from {module} import {function}; {function}()"
    said = run_installed(installed, "-c", code)
    assert "demo" in said
    assert "talk" in said


def test_the_installed_manual_has_every_page(installed: Path) -> None:
    pages = {file.stem for file in (CHECKOUT / "voicetech" / "manual").glob("*.md")}
    listed = run_installed(installed, "-m", "voicetech", "manual")
    assert pages
    assert {line.split()[0] for line in listed.splitlines()} == pages


def test_the_installed_voice_speaks(installed: Path, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from voicetech.speaking.opening import open_speaker\n"
        "speaker = open_speaker(Path(sys.argv[1])); speaker.say('Leg to leg.'); speaker.close()"
    )
    run_installed(installed, "-c", code, str(tmp_path))
    assert (tmp_path / "prompt-0001.wav").stat().st_size > 20_000


def test_every_package_that_is_imported_is_asked_for_and_the_other_way_round() -> None:
    extras = PROJECT["project"]["optional-dependencies"]
    known = packages_distributions()
    imported: set[str] = set()
    for file in files_under(CHECKOUT / "voicetech"):
        if file.suffix != ".py":
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            match node:
                case ast.Import(names=names):
                    imported |= {name.name.split(".")[0] for name in names}
                case ast.ImportFrom(module=str(module), level=0):
                    imported.add(module.split(".")[0])
    outside = imported - sys.stdlib_module_names - {"voicetech"}
    # Modules of one namespace package (ruamel) may come from several distributions.
    found = {name: {plain(each) for each in known.get(name, [name])} for name in outside}
    for_users = set(extras) - {"test", "dev"}
    optional = {plain(requirement) for extra in for_users for requirement in extras[extra]}
    for name, distributions in found.items():
        assert distributions & (asked_for() | optional), f"{name} is imported and not asked for"
    # Loaded for its files only, and by the web server; neither is imported here.
    used = set().union(*found.values()) | {"moonshine-voice", "websockets"}
    assert asked_for() - used == set()


def test_the_version_is_the_same_everywhere(wheel: Path) -> None:
    assert wheel.name.split("-")[1] == voicetech.__version__ == PROJECT["project"]["version"]


def test_the_notices_name_every_package_that_is_asked_for() -> None:
    notices = (CHECKOUT / "THIRD_PARTY_NOTICES.md").read_text(encoding="utf-8")
    table = notices.split("## Packages that voicetech asks for")[1].split("## ")[0]
    rows = {plain(line.split("|")[1].strip()) for line in table.splitlines() if line.startswith("| ")}
    assert rows - {"package"} == asked_for()
