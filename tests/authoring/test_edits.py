"""One slip of an author's hand in a good procedure: never a traceback, and told where it was made."""

import json
import string
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.authoring.checking import found_in
from tests.authoring.test_bad_files import BAD
from voicetech.authoring.findings import Finding
from voicetech.authoring.format import Kinds, Named, Shape, Text, Value
from voicetech.authoring.format_top import TOP
from voicetech.authoring.places import read_written

Way = tuple[str, ...]
GOOD: Mapping[str, Any] = {"procedure": "edited", **read_written(BAD / "shared" / "base.yaml")[0].table}
FEW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@dataclass(frozen=True)
class Line:
    """A line of the procedure as it is written here: one key each, and what it holds."""

    way: Way
    indent: int
    text: str
    holds: Value | None
    known: frozenset[str]
    """The keys that the table may have, empty where they are the author's own names."""
    needed: bool


def written(table: Mapping[str, Any], holds: Value | None, way: Way = ()) -> Iterator[Line]:
    """Write a table a key to a line, as YAML, with what the format says of each key."""
    if isinstance(holds, Kinds):
        holds = next(shape for kind, shape in holds.shapes.items() if kind in table)
    for key, value in table.items():
        here = holds.keys[key] if isinstance(holds, Shape) else None
        below = holds.value if isinstance(holds, Named) else here.holds if here else None
        known = frozenset(holds.keys) if isinstance(holds, Shape) else frozenset[str]()
        head = f"{json.dumps(key)}:"
        nested = isinstance(value, dict) and value
        text = head if nested else f"{head} {json.dumps(value if value is not None else {})}"
        yield Line((*way, key), 2 * len(way), text, below, known, bool(here and here.needed))
        if isinstance(value, dict):
            yield from written(value, below, (*way, key))


LINES = list(written(GOOD, TOP))


def checked(lines: list[str]) -> tuple[Finding, ...]:
    with TemporaryDirectory() as folder:
        file = Path(folder) / "edited.yaml"
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return found_in(file)


def texts() -> list[str]:
    return [f"{' ' * line.indent}{line.text}" for line in LINES]


def replaced(number: int, key: str | None = None, value: str | None = None) -> list[str]:
    head, colon, tail = texts()[number].partition(":")
    indent = " " * LINES[number].indent
    lines = texts()
    lines[number] = f"{indent + json.dumps(key) if key is not None else head}{colon}{tail if value is None else value}"
    return lines


def without(number: int) -> list[str]:
    """Take away a key with everything below it."""
    end = next((at for at in range(number + 1, len(LINES)) if LINES[at].indent <= LINES[number].indent), len(LINES))
    return texts()[:number] + texts()[end:]


def at_line(findings: tuple[Finding, ...], number: int) -> list[str]:
    return [finding.rule for finding in findings if finding.line == number + 1]


def lines_that(fits: Any) -> st.SearchStrategy[int]:
    return st.sampled_from([number for number, line in enumerate(LINES) if fits(line)])


JUNK = st.text(string.ascii_lowercase, min_size=8, max_size=12).map(lambda text: f"zz{text}")


def test_the_procedure_that_is_edited_is_good() -> None:
    assert checked(texts()) == ()


@FEW
@given(lines_that(lambda line: line.known), JUNK)
def test_a_key_that_is_not_known_is_told_at_its_line(number: int, junk: str) -> None:
    assert {"unknown-key", "step-kind"} & set(at_line(checked(replaced(number, key=junk)), number)) or (
        # A step without its kind is told where the step begins.
        "step-kind" in {finding.rule for finding in checked(replaced(number, key=junk))}
    )


@FEW
@given(lines_that(lambda line: line.known and len(line.way[-1]) > 4), st.data())
def test_a_mistyped_key_is_told_with_what_was_meant(number: int, data: st.DataObject) -> None:
    key = LINES[number].way[-1]
    at = data.draw(st.integers(1, len(key) - 2))
    mistyped = key[:at] + key[at + 1] + key[at] + key[at + 2 :]
    if mistyped == key:
        return
    findings = checked(replaced(number, key=mistyped))
    told = [finding.message for finding in findings if finding.line == number + 1]
    assert any(f"did you mean {key}?" in message for message in told), findings
    assert len(findings) == 1, "what stands behind it is read as it was meant"


@FEW
@given(lines_that(lambda line: isinstance(line.holds, Text) and line.holds.words), JUNK)
def test_a_word_that_is_none_to_choose_from_is_told_at_its_line(number: int, junk: str) -> None:
    rules = at_line(checked(replaced(number, value=f" {junk}")), number)
    assert {"unknown-word", "unknown-limits"} & set(rules)


REFERENCES = frozenset(
    {"next", "cause", "hand_over", "again_by", "remedy", "tested_by", "suspects", "excludes", "warnings"}
)


@FEW
@given(lines_that(lambda line: line.known and line.way[-1] in REFERENCES and len(line.way) > 1), JUNK)
def test_a_name_that_leads_nowhere_is_told_at_its_line(number: int, junk: str) -> None:
    rules = at_line(checked(replaced(number, value=f" {junk}")), number)
    assert any(rule.startswith("unknown-") for rule in rules)


@FEW
@given(lines_that(lambda line: line.needed))
def test_a_key_that_has_to_be_there_is_missed_where_its_table_begins(number: int) -> None:
    way = LINES[number].way
    told = [finding for finding in checked(without(number)) if finding.where.rpartition(".")[2] == way[-1]]
    kind = [finding for finding in checked(without(number)) if finding.rule == "step-kind"]
    assert kind or {"missing-key", "missing-source"} & {finding.rule for finding in told}


@FEW
@given(lines_that(lambda line: len(line.way) > 1))
def test_a_line_that_is_written_twice_is_told_at_the_second(number: int) -> None:
    lines = texts()
    lines.insert(number, lines[number] if "{" not in lines[number] else f"{lines[number].partition(':')[0]}: {{}}")
    if lines[number].endswith(":"):
        lines[number] += " {}"
    assert "duplicate-key" in at_line(checked(lines), number + 1)


@FEW
@given(lines_that(lambda line: isinstance(line.holds, Text)), st.sampled_from([" [a, b]", " {a: b}", " [[a]]"]))
def test_a_text_that_is_a_list_or_table_is_told_at_its_line(number: int, value: str) -> None:
    assert "shape" in at_line(checked(replaced(number, value=value)), number)


@FEW
@given(lines_that(lambda line: isinstance(line.holds, (Named, Shape, Kinds))), st.sampled_from([" words", " [a, b]"]))
def test_a_table_that_is_a_text_or_list_is_told_at_its_line(number: int, value: str) -> None:
    lines = without(number)
    lines.insert(number, replaced(number, value=value)[number])
    assert "shape" in at_line(checked(lines), number)


ODD = ("", " {}", " []", " -1", " 1e400", " .nan", " ~", " 0", " [[]]", ' "{"', ' "[a|b"', " [1, 2, 3]", " ''")


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_no_slip_of_the_hand_ends_in_a_traceback(data: st.DataObject) -> None:
    lines = texts()
    number = data.draw(st.integers(0, len(lines) - 1))
    match data.draw(st.sampled_from(["swap", "truncate", "delete", "indent", "value", "letter", "join"])):
        case "swap":
            other = data.draw(st.integers(0, len(lines) - 1))
            lines[number], lines[other] = lines[other], lines[number]
        case "truncate":
            lines = [*lines[:number], lines[number][: data.draw(st.integers(0, len(lines[number])))]]
        case "delete":
            lines = without(number)
        case "indent":
            lines[number] = " " * data.draw(st.integers(0, 12)) + lines[number].strip()
        case "value":
            odd = [
                "",
                " {}",
                " []",
                " -1",
                " 1e400",
                " .nan",
                " ~",
                " 0",
                " [[]]",
                ' "{"',
                ' "[a|b"',
                " [1, 2, 3]",
                " ''",
            ]
            lines = replaced(number, value=data.draw(st.sampled_from(odd)))
        case "letter":
            at = data.draw(st.integers(0, len(lines[number])))
            lines[number] = (
                lines[number][:at] + data.draw(st.sampled_from(":,[]{}\"'#&*!|>%@`\t-? a")) + lines[number][at:]
            )
        case _:
            lines[number : number + 2] = ["".join(lines[number : number + 2])]
    for finding in checked(lines):
        assert 1 <= finding.line <= len(lines) + 1
        assert finding.column >= 1
