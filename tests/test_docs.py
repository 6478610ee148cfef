"""What the documents say is so: their commands can be typed, the files and pages they name are there."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer
import typer.main

from tests.manual.commands_page import commands
from tests.manual.reference import MANUAL
from voicetech.cli import COMMANDS, app

CHECKOUT = Path(__file__).resolve().parents[1]
README = CHECKOUT / "README.md"
DEVELOPERS = CHECKOUT / "DEVELOPERS.md"
WRITTEN_BY_HAND = (
    README,
    DEVELOPERS,
    *sorted(page for page in MANUAL.glob("*.md") if not page.name.startswith("reference-")),
    *sorted((CHECKOUT / "dialogs").glob("*.md")),
)
EVERY_PAGE = (*WRITTEN_BY_HAND, *sorted(MANUAL.glob("reference-*.md")))

BLOCK = re.compile(r"^```(\w*)\n(.*?)^```", re.MULTILINE | re.DOTALL)
INLINE = re.compile(r"`([^`]+)`")
NAMED_FILE = re.compile(r"`([\w./-]+(?:\.(?:md|py|yaml|toml)|/run|/))`")
NAMED_MODULE = re.compile(r"\b((?:tests|voicetech)(?:\.\w+)+)\b")
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")
FILES = {".css", ".html", ".js", ".json", ".py", ".typ", ".yaml"}
WRITTEN_BY_THE_READER = {"answers/", "heater.yaml", "my-range.yaml"}
_STANDS_FOR_WORDS = re.compile(r"[…\[\]]")


def named(path: Path) -> str:
    return str(path.relative_to(CHECKOUT))


def blocks(text: str, language: str) -> list[str]:
    return [body.strip() for kind, body in BLOCK.findall(text) if kind == language]


def typed_lines(text: str) -> Iterator[str]:
    """Yield the command lines that a document shows somebody typing."""
    for kind, body in BLOCK.findall(text):
        for line in body.splitlines() if kind in ("console", "sh") else ():
            command = line.removeprefix("$ ").partition(" > ")[0]
            if (line.startswith("$ ") or kind == "sh") and re.match(r"(VOICETECH_\w+=\S+ )?(\S*/)?voicetech ", command):
                yield command


def mentioned(text: str) -> Iterator[str]:
    """Yield the command lines that a document names within its sentences."""
    for code in INLINE.findall(BLOCK.sub("", text)):
        line = " ".join(code.split())
        if re.match(r"(VOICETECH_\w+=\S+ )?voicetech \w", line):
            yield line


def parse(line: str) -> None:
    """Parse a command line as the program does, without running it. Raises AssertionError with what it would tell."""
    words = [word for word in shlex.split(line) if not word.startswith("VOICETECH_")][1:]
    command: Any = typer.main.get_command(app)
    name = "voicetech"
    try:
        while hasattr(command, "commands") and words and not words[0].startswith("-"):
            context = command.make_context(name, words[:1], resilient_parsing=True)
            name, command, words = command.resolve_command(context, words)
            assert command is not None, f"{line}: No such command"
        command.make_context(name, list(words))
    except typer.Exit:
        return
    except Exception as error:
        told = getattr(error, "format_message", None)
        if told is None:
            raise
        raise AssertionError(f"{line}: {told()}") from None


def test_the_readme_has_its_two_commands_in_order() -> None:
    demo, tests = blocks(README.read_text(encoding="utf-8"), "sh")
    assert demo == "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/voicetech demo"
    assert tests == (
        "python3 -m venv .venv-test && .venv-test/bin/pip install '.[test]' && .venv-test/bin/python -m pytest -n auto"
    )


def test_every_command_is_in_the_readme_and_none_that_is_not_there() -> None:
    table = re.findall(r"^\| `voicetech (\w+)", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert sorted(table) == sorted(COMMANDS)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("voicetech report last --sing", "No such option"),
        ("voicetech judge element --reading 21", "Missing option"),
        ("voicetech review", "Missing argument"),
        ("voicetech sing", "No such command"),
    ],
)
def test_what_cannot_be_typed_would_be_found(line: str, says: str) -> None:
    with pytest.raises(AssertionError, match=says):
        parse(line)


def test_the_documents_show_many_command_lines() -> None:
    shown = [line for page in WRITTEN_BY_HAND for line in typed_lines(page.read_text(encoding="utf-8"))]
    assert len(shown) > 50
    assert len({line.split()[1] for line in shown}) > len(COMMANDS) * 0.7


@pytest.mark.parametrize("page", WRITTEN_BY_HAND, ids=named)
def test_every_command_line_in_a_document_can_be_typed(page: Path) -> None:
    for line in typed_lines(page.read_text(encoding="utf-8")):
        parse(line)


@pytest.mark.parametrize("page", WRITTEN_BY_HAND, ids=named)
def test_every_command_and_option_that_a_sentence_names_is_there(page: Path) -> None:
    known = {name: {option for each in command.params for option in each.opts} for name, command in commands().items()}
    for line in mentioned(page.read_text(encoding="utf-8")):
        words = [word for word in line.split() if not word.startswith("VOICETECH_")][1:]
        name = " ".join(words[:2]) if " ".join(words[:2]) in known else words[0]
        assert name in known, line
        options = re.findall(r"(?<![\w-])--\w[\w-]*", _STANDS_FOR_WORDS.sub(" ", line))
        assert set(options) <= known[name] | {"--help"}, line


@pytest.mark.parametrize("page", [each for each in WRITTEN_BY_HAND if each != DEVELOPERS], ids=named)
def test_every_option_that_stands_alone_is_an_option_of_some_command(page: Path) -> None:
    known = {option for command in commands().values() for each in command.params for option in each.opts}
    for code in INLINE.findall(BLOCK.sub("", page.read_text(encoding="utf-8"))):
        if code.startswith("--"):
            assert code.split()[0] in known | {"--help", "--version"}, code


@pytest.mark.parametrize("page", EVERY_PAGE, ids=named)
def test_every_link_leads_somewhere(page: Path) -> None:
    for target in LINK.findall(page.read_text(encoding="utf-8")):
        if not re.match(r"\w+:", target):
            assert (page.parent / target).exists(), target


@pytest.mark.parametrize("page", [README, DEVELOPERS], ids=named)
def test_every_file_a_document_names_is_there(page: Path) -> None:
    for name in set(NAMED_FILE.findall(page.read_text(encoding="utf-8"))) - WRITTEN_BY_THE_READER:
        places = (CHECKOUT / name, CHECKOUT / "voicetech" / name)
        assert any(place.exists() for place in places), name


def test_every_module_that_developers_are_sent_to_is_there() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    for dotted in NAMED_MODULE.findall(text):
        path = CHECKOUT / dotted.replace(".", "/")
        assert path.is_dir() or path.with_suffix(".py").exists(), dotted
    packages = {each.name for each in (CHECKOUT / "voicetech").iterdir() if (each / "__init__.py").exists()}
    for name, ending in re.findall(r"`([a-z_]+(?:/[a-z_*]+)+)(\.\w+)?", text):
        first = name.split("/")[0]
        if first in packages | {"tests"}:
            place = (CHECKOUT if first == "tests" else CHECKOUT / "voicetech") / name
            there = [place.with_suffix(ending)] if ending in FILES else [place, place.with_suffix(".py")]
            assert any(any(each.parent.glob(each.name)) for each in there), name


def test_every_package_is_in_the_map_of_the_program() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    for each in sorted((CHECKOUT / "voicetech").iterdir()):
        named_as = f"{each.name}/" if each.is_dir() else each.stem
        if not each.name.startswith("_") and (each.suffix == ".py" or (each / "__init__.py").exists()):
            assert f"`{named_as}`" in text, named_as


def test_every_page_of_the_manual_is_in_the_readme() -> None:
    linked = {(CHECKOUT / target).resolve() for target in LINK.findall(README.read_text(encoding="utf-8"))}
    assert set(MANUAL.glob("*.md")) <= linked
