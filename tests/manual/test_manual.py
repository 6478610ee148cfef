"""`voicetech manual`: every page is found by its name or a word of it, and shown whole."""

import pytest
from typer.testing import CliRunner

from tests.manual.reference import MANUAL
from voicetech import __version__
from voicetech.cli import app
from voicetech.manual import titles

NAMES = sorted(path.stem for path in MANUAL.glob("*.md"))


def shown(*arguments: str) -> str:
    result = CliRunner().invoke(app, ["manual", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def test_it_lists_every_page_with_its_title_where_to_start_first() -> None:
    lines = shown().splitlines()
    assert sorted(line.split()[0] for line in lines) == NAMES
    assert lines[0].split()[0] == "start"
    for line in lines:
        name, _, title = line.partition(" ")
        text = (MANUAL / f"{name}.md").read_text(encoding="utf-8")
        assert text.startswith(f"# {title.strip()}\n")


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_shown_as_it_is_written(name: str) -> None:
    assert shown(name) == (MANUAL / f"{name}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("voice", "by-voice"),
        ("commands", "reference-commands"),
        ("Safety", "safety"),
        ("something wrong", "trouble"),
        ("simulated", "practise"),
        ("on paper", "on-paper"),
        ("deleted", "keeping"),
        ("safety.md", "safety"),
    ],
)
def test_a_word_of_its_name_or_title_is_enough(words: str, name: str) -> None:
    assert shown(words) == shown(name)


@pytest.mark.parametrize(
    ("words", "says"), [("kettle", "There is no page"), ("reference", "several pages"), ("", "no page")]
)
def test_what_is_not_there_is_told_with_what_is(words: str, says: str) -> None:
    result = CliRunner().invoke(app, ["manual", words])
    assert result.exit_code == 2
    told = " ".join(result.output.replace("│", " ").split())
    assert says in told
    assert "reference-commands" in told
    assert "Traceback" not in told


def test_titles_tell_the_pages_apart() -> None:
    assert len(set(titles().values())) == len(titles())


def test_the_version_is_told() -> None:
    result = CliRunner().invoke(app, ["--version"])
    assert result.exit_code == 0
    assert result.output == f"voicetech {__version__}\n"
