"""The reference of the manual says what the code says now, and says all of it."""

import re
from itertools import pairwise

import pytest

from tests.manual.code_says import PACKAGE, variables
from tests.manual.commands_page import commands
from tests.manual.reference import MANUAL, PAGES
from voicetech.authoring.checks_trade import SETTINGS
from voicetech.authoring.rules import RULES
from voicetech.events import KINDS
from voicetech.language.meaning import Command
from voicetech.limit_rules import RULES as LIMIT_RULES
from voicetech.turn import Turn

HOW = "write it again with: python -m tests.manual.reference"


def page(name: str) -> str:
    return (MANUAL / f"{name}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", PAGES)
def test_each_page_is_what_the_code_says_now(name: str) -> None:
    assert page(name) == PAGES[name](), HOW


def test_no_page_of_the_reference_is_written_by_hand() -> None:
    assert {each.stem for each in MANUAL.glob("reference-*.md")} == set(PAGES)


def test_every_command_and_option_is_in_it() -> None:
    sections = re.split(r"^##+ voicetech ?", page("reference-commands"), flags=re.MULTILINE)
    told = {section.split("\n", 1)[0]: section for section in sections}
    for name, command in commands().items():
        for option in (option for each in command.params for option in each.opts if option.startswith("--")):
            assert option == "--help" or re.search(rf"`{option}[ `]", told[name]), (name, option)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("reference-settings", [*variables(), *SETTINGS]),
        ("reference-words", [*Command, *Turn]),
        ("reference-limits", LIMIT_RULES),
        ("reference-rules", RULES),
        ("reference-record", KINDS),
    ],
)
def test_nothing_is_left_out(name: str, words: list[str]) -> None:
    cells = {cell.strip().strip("`").split(",")[0] for cell in page(name).split("|")}
    assert set(words) <= cells


def test_every_variable_of_the_program_says_what_it_sets() -> None:
    found = {
        name for file in PACKAGE.rglob("*.py") for name in re.findall(r"VOICETECH_[A-Z_]+", file.read_text("utf-8"))
    }
    assert found == set(variables())
    assert all(variables().values())


def test_nothing_stands_without_its_sentence() -> None:
    for name in PAGES:
        if name in ("reference-record", "reference-report"):
            continue
        lines = page(name).splitlines()
        for line, below in pairwise(lines):
            cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
            if cells and not below.startswith("| ---"):
                assert any(cells[1:]), (name, line)
