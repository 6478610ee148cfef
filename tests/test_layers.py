"""Every part of the package is either core, and then held to the core's contract, or shell."""

import tomllib
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
SHELL = {
    "__main__",
    "archive",
    "authoring",
    "choosing",
    "cli",
    "cores",
    "ctrl_c",
    "desk",
    "hearing",
    "job",
    "journal",
    "last_words",
    "manual",
    "practice",
    "replay",
    "reports",
    "speaking",
    "talking",
    "web",
}


def test_every_part_outside_the_shell_is_in_the_core_contract() -> None:
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = project["tool"]["importlinter"]["contracts"]
    core = next(contract for contract in contracts if contract["id"] == "core-is-pure")
    parts = {
        path.stem
        for path in (CHECKOUT / "voicetech").iterdir()
        if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert parts - SHELL - {"__init__"} == {name.removeprefix("voicetech.") for name in core["source_modules"]}
