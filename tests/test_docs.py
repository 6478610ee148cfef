"""What the documents say is so: their commands exist, their options exist, the files they name are there."""

import re
from pathlib import Path
from typing import Any

import pytest
import typer.main

CHECKOUT = Path(__file__).resolve().parents[1]
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")
GUIDE = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")

BLOCK = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
NAMED_FILE = re.compile(r"`([\w./-]+(?:\.(?:md|py|yaml|toml)|/run|/))`")
WRITTEN_BY_THE_READER = {"answers/"}


def blocks(text: str, language: str) -> list[str]:
    return [body.strip() for kind, body in BLOCK.findall(text) if kind == language]


def options_under(command: Any) -> set[str]:
    below = getattr(command, "commands", {}).values()
    return {option for parameter in command.params for option in parameter.opts}.union(*map(options_under, below))


def options_of() -> dict[str, set[str]]:
    """Return every command with its options, those of its own commands included."""
    from voicetech.cli import COMMANDS, app

    group: Any = typer.main.get_command(app)
    for name in COMMANDS:
        group.resolve_command(group.make_context("voicetech", [name], resilient_parsing=True), [name])
    return {name: options_under(command) for name, command in group.commands.items()}


def test_the_readme_has_its_two_commands_in_order() -> None:
    demo, tests = blocks(README, "sh")
    assert demo == "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/voicetech demo"
    assert tests == (
        "python3 -m venv .venv-test && .venv-test/bin/pip install '.[test]' && .venv-test/bin/python -m pytest -n auto"
    )


def test_every_command_is_in_the_readme_and_none_that_is_not_there() -> None:
    table = set(re.findall(r"^\| `voicetech (\w+)", README, re.MULTILINE))
    assert sorted(table) == sorted(options_of())


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_every_command_line_in_a_document_can_be_typed(text: str) -> None:
    known = options_of()
    for line in re.findall(
        r"voicetech (?:chat|demo|hear|jobs|judge|recordings|replay|report|review|talk|understand)\b[^`\n|]*", text
    ):
        command, *words = line.split()[1:]
        for option in re.findall(r"--\w[\w-]*", " ".join(words)):
            assert option in known[command], line


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_every_file_a_document_names_is_there(text: str) -> None:
    for name in set(NAMED_FILE.findall(text)) - WRITTEN_BY_THE_READER:
        places = (CHECKOUT / name, CHECKOUT / "voicetech" / name)
        assert any(place.exists() for place in places), name
