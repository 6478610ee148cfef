"""What an installation brings, and what a command loads of it, within budgets; no time is measured here.

`python -m tests.benchmarks.speed` measures starts. Who needs more raises a budget here, and says why.
"""

import os
import re
import subprocess
import sys
from importlib.metadata import packages_distributions
from pathlib import Path
from typing import Final

import pytest

from tests.fresh_machine.sizes import PROJECT, installed_mb, plain
from voicetech.cli import COMMANDS

MOST_MB: Final = 520
"""The weights and what runs them are half of it, what sets a PDF a sixth."""
MOST_PACKAGES: Final = 56
RANGE: Final = "electric-range-no-heat"
WATER_HEATER: Final = str(Path(__file__).parents[2] / "dialogs" / "electric-water-heater-no-heat.yaml")
THINKS: Final = {"numpy", "platformdirs", "pydantic", "rapidfuzz", "ruamel-yaml", "pyyaml", "transitions", "typer"}
"""What a job is worked with: none of it hears, speaks, prints or keeps an archive."""
PRINTS: Final = {"typer", "rich", "markdown-it-py"}
"""What shows help and tables at a terminal."""
MODULES_AT_MOST: Final = 420
"""Of the list of commands: what it prints itself with, and the standard library."""

LOADS: Final = """
import sys, atexit
def tell():
    sys.stderr.write("\\nLOADED " + " ".join(sorted(sys.modules)) + "\\n")
atexit.register(tell)
from voicetech.__main__ import main
sys.argv[0] = "voicetech"
main()
"""


def loaded(home: Path, *arguments: str, typed: str = "") -> set[str]:
    """Return every module that is loaded when a command ends."""
    environment = {**os.environ, "VOICETECH_HOME": str(home), "VOICETECH_PROCEDURE": RANGE}
    done = subprocess.run(
        [sys.executable, "-c", LOADS, *arguments],
        env=environment,
        input=typed,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    return set(done.stderr.rpartition("LOADED ")[2].split())


def packages(modules: set[str]) -> set[str]:
    """Return which of the packages that the project asks for, extras included, these modules are of."""
    extras = [each for group in PROJECT["optional-dependencies"].values() for each in group]
    asked_for = {plain(re.split(r"[^\w.-]", each, maxsplit=1)[0]) for each in (*PROJECT["dependencies"], *extras)}
    of = packages_distributions()
    return {
        plain(distribution)
        for module in modules
        if "." not in module or module.startswith("ruamel.")
        for distribution in of.get(module.split(".")[0], ())
    } & asked_for - {"voicetech"}


def test_what_an_installation_brings_stays_within_its_size() -> None:
    sizes = installed_mb()
    largest = sorted(sizes.items(), key=lambda item: -item[1])[:5]
    assert sizes.keys() >= {"numpy", "onnxruntime", "moonshine-voice"}
    assert sum(sizes.values()) <= MOST_MB, largest
    assert len(sizes) <= MOST_PACKAGES, sorted(sizes)


def test_the_list_of_commands_loads_nothing_but_what_prints_it(tmp_path: Path) -> None:
    modules = loaded(tmp_path, "--help")
    assert packages(modules) <= PRINTS
    assert len(modules) <= MODULES_AT_MOST
    assert not {f"voicetech.cli.{name}" for name in COMMANDS} & modules, "no command itself"


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_the_help_of_a_command_loads_no_model_and_nothing_to_print_or_keep_with(name: str, tmp_path: Path) -> None:
    heavy = {"onnxruntime", "pocketsphinx", "sounddevice", "pyttsx3", "sqlalchemy", "starlette", "uvicorn", "typst"}
    assert not packages(loaded(tmp_path, name, "--help")) & (heavy | {"jinja2", "matplotlib", "distributed"})


def test_a_job_by_keyboard_loads_what_it_is_worked_with_and_no_more(tmp_path: Path) -> None:
    assert packages(loaded(tmp_path, "chat", typed="no\neverything\n")) <= THINKS
    # The list is brought up to what is new first, which is read in the words of its procedure.
    assert packages(loaded(tmp_path, "jobs")) <= THINKS | PRINTS | {"sqlalchemy"}
    modules = loaded(tmp_path, "jobs")
    assert packages(modules) <= PRINTS | {"sqlalchemy", "pydantic", "transitions", "platformdirs"}
    assert "voicetech.diagnosis" not in modules


def test_a_check_loads_nothing_that_hears_speaks_or_prints(tmp_path: Path) -> None:
    # Words that sound alike are found with the dictionary that comes with one of the ears.
    assert packages(loaded(tmp_path, "check", WATER_HEATER)) <= THINKS | {"pocketsphinx"}
