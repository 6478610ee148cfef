"""Every file in `bad/` yields exactly the findings written beside it."""

import re
from pathlib import Path

import pytest

from tests.authoring.checking import HEARING_RULES, found_in
from voicetech.authoring.findings import Finding, Notes, Place, ProcedureFindings
from voicetech.authoring.places import read_written
from voicetech.authoring.procedure_files import load_procedure, load_shipped, load_written
from voicetech.authoring.rules import RULES, Level
from voicetech.authoring.shipped import shipped_folder
from voicetech.hearing.phones import load_dictionary
from voicetech.procedure import WrittenFile

BAD = Path(__file__).parent / "bad"
EXPECTED = sorted(BAD.glob("*.expected"))
RULE = re.compile(r" \[([\w-]+)\]$")


def findings_of(path: Path) -> tuple[Finding, ...]:
    """Return why no job is begun by this file."""
    with pytest.raises(ProcedureFindings) as raised:
        load_procedure(path)
    return raised.value.findings


def expected_of(path: Path) -> list[str]:
    lines = path.with_suffix(".expected").read_text(encoding="utf-8").splitlines()
    return [line for line in lines if load_dictionary() is not None or rule_of(line) not in HEARING_RULES]


def rule_of(line: str) -> str:
    found = RULE.search(line)
    assert found is not None, line
    return found[1]


@pytest.mark.parametrize("path", sorted(BAD.glob("*.yaml")), ids=lambda path: path.stem)
def test_a_bad_file_yields_its_findings_and_no_other(path: Path) -> None:
    assert [str(finding).replace(f"{BAD}/", "") for finding in found_in(path)] == expected_of(path)


def test_there_are_enough_of_them_and_every_rule_is_broken_by_one() -> None:
    assert len(EXPECTED) == len(list(BAD.glob("*.yaml"))) >= 90
    broken = {rule_of(line) for path in EXPECTED for line in path.read_text(encoding="utf-8").splitlines()}
    assert broken == RULES.keys()


def test_what_stops_no_job_is_told_by_the_check_alone() -> None:
    warnings = [path for path in EXPECTED if all(level(line) is Level.WARNING for line in expected_of(path))]
    assert warnings
    for path in warnings:
        assert load_procedure(path.with_suffix(".yaml")).id == path.stem


def level(line: str) -> Level:
    return RULES[rule_of(line)].level


@pytest.mark.parametrize("path", sorted(shipped_folder("dialogs").glob("*.yaml")), ids=lambda path: path.stem)
def test_what_comes_with_the_program_breaks_no_rule(path: Path) -> None:
    assert [str(finding) for finding in found_in(path)] == []


def test_the_parts_of_the_base_are_the_base() -> None:
    def tables(*names: str) -> dict[str, object]:
        joined: dict[str, object] = {}
        for name in names:
            table = read_written(BAD / "shared" / name)[0].table
            for key, value in table.items():
                before = joined.get(key)
                joined[key] = {**before, **value} if isinstance(before, dict) and isinstance(value, dict) else value
        return joined

    parts = tables("head.yaml", "names.yaml", "safe.yaml", "power.yaml", "job.yaml", "danger.yaml")
    assert parts == tables("base.yaml")


def test_what_is_not_yaml_is_found_where_it_begins() -> None:
    (finding,) = findings_of(BAD / "not-yaml.yaml")
    assert (finding.line, finding.column, finding.rule) == (2, 8, "not-yaml")
    assert "is not closed before line 3, column 9; add ]" in finding.message


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("a: 1\nb:\n\tc: 2\n", (3, 1), "a tab; indent with spaces"),
        ("a: 1\nb: say this: now\n", (2, 12), "put a text with a colon in quotes"),
        ("a:\n    b: 1\n  c: 2\n", (3, 3), "not indented like those it belongs with"),
        ('a: "open\nb: 2\n', (1, 4), "the quote is not closed"),
        ("a: {one: 1, two: 2\nb: 2\n", (1, 4), "{ is not closed"),
        ("a: [one]]\n", (1, 9), "] closes nothing"),
        ("a: 1\nb: {c: d\n", (2, 4), "{ is not closed"),
        ("a: 1\nb\n", (2, 1), "a line without a colon"),
        ("a: 1\nb\nc: 2\n", (2, 1), "a line without a colon"),
        ("a: @home\n", (1, 4), "no text begins with @; put it in quotes"),
        ("a: * note\n", (1, 5), "text that begins with * or &"),
        ("a: *b\n", (1, 4), "text that begins with *"),
        ('a: "C:\\home"\n', (1, 8), "use single quotes"),
        ("a: 1\nb: \x07\n", (2, 4), "0x0007"),
        ("a: 1\n---\nb: 2\n", (2, 1), "keep one procedure in a file"),
        ('a: "x" y\n', (1, 8), "put the whole text in quotes"),
    ],
)
def test_a_mistake_in_yaml_is_told_in_plain_words(tmp_path: Path, text: str, place: tuple[int, int], says: str) -> None:
    file = tmp_path / "odd.yaml"
    file.write_bytes(text.encode())
    told = [finding for finding in findings_of(file) if finding.rule == "not-yaml"]
    assert [(finding.line, finding.column) for finding in told] == [place]
    assert says in told[0].message


def test_mistyped_keys_are_found_under_what_was_meant() -> None:
    notes = Notes(Place(BAD, 1, 1))
    notes.places[("a", "outcoms", "done")] = Place(BAD, 7, 3)
    notes.rename(("a", "outcoms"), ("a", "outcomes"))
    assert notes.place_of(("a", "outcomes", "done", "next")) == Place(BAD, 7, 3)


def test_findings_are_sorted_and_printed_together() -> None:
    findings = findings_of(BAD / "keys.yaml")
    assert len(findings) > 3
    assert list(findings) == sorted(findings)


@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (b"", "missing-key"),
        (b"- a list\n", "shape"),
        (b"\xff\xfe\x00", "not-yaml"),
        (b"procedure: \x07\n", "not-yaml"),
        (b"[" * 600, "not-yaml"),
        (b"procedure: &a [*a]\n", "anchor"),
        (b"{[1, 2]: three}\n", "shape"),
        (b"sections: {x: {steps: [one, two]}}\n", "shape"),
        (b"revision: .nan\n", "not-a-number"),
        (b"points: {a: {label: L1, call: {x: y}, at: left}}\n", "shape"),
        (b"include: making-safe.yaml\n", "shape"),
    ],
)
def test_no_file_gets_past_as_anything_but_findings(tmp_path: Path, content: bytes, rule: str) -> None:
    file = tmp_path / "odd.yaml"
    file.write_bytes(content)
    assert rule in {finding.rule for finding in findings_of(file)}


def test_a_missing_file_is_a_finding() -> None:
    with pytest.raises(ProcedureFindings, match="check the path"):
        load_shipped("no-such-procedure")


def test_the_base_of_the_bad_files_is_itself_sound(tmp_path: Path) -> None:
    base = (BAD / "shared" / "base.yaml").read_text(encoding="utf-8")
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "base.yaml").write_text(base, encoding="utf-8")
    file = tmp_path / "kettle.yaml"
    file.write_text("procedure: kettle\ninclude: [base.yaml]\n", encoding="utf-8")
    assert load_procedure(file).title == "A kettle that stays cold"


def test_the_digest_covers_included_files(tmp_path: Path) -> None:
    base = (BAD / "shared" / "base.yaml").read_text(encoding="utf-8")
    (tmp_path / "shared").mkdir()
    shared = tmp_path / "shared" / "base.yaml"
    file = tmp_path / "kettle.yaml"
    file.write_text("procedure: kettle\ninclude: [base.yaml]\n", encoding="utf-8")
    shared.write_text(base, encoding="utf-8")
    before = load_procedure(file).digest
    assert load_procedure(file).digest == before
    shared.write_text(base.replace("Say: plug is out.", "Pull it. Say: plug is out."), encoding="utf-8")
    assert load_procedure(file).digest != before


def test_a_procedure_is_read_again_from_the_texts_it_carries(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    shared = tmp_path / "shared" / "base.yaml"
    shared.write_text((BAD / "shared" / "base.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    file = tmp_path / "kettle.yaml"
    file.write_text("procedure: kettle\ninclude: [base.yaml]\n", encoding="utf-8")
    first = load_procedure(file)
    assert [written.name for written in first.texts] == ["kettle.yaml", "shared/base.yaml"]
    again = load_written(first.texts)
    assert again == first
    assert again.texts == first.texts


@pytest.mark.parametrize("name", ["../x.yaml", "/tmp/x.yaml", "shared/../../x.yaml", "..\\x.yaml"])
def test_files_of_a_record_are_written_nowhere_else(name: str) -> None:
    with pytest.raises(ProcedureFindings, match="file-elsewhere"):
        load_written((WrittenFile(name, "procedure: x\n"),))
