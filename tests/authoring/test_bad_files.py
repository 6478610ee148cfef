"""Every file in `bad/` yields exactly the findings written beside it."""

from pathlib import Path

import pytest

from voicetech.authoring.findings import Finding, ProcedureFindings
from voicetech.authoring.procedure_files import load_procedure, load_shipped, load_written
from voicetech.procedure import WrittenFile

BAD = Path(__file__).parent / "bad"
EXPECTED = sorted(BAD.glob("*.expected"))


def findings_of(path: Path) -> tuple[Finding, ...]:
    with pytest.raises(ProcedureFindings) as raised:
        load_procedure(path)
    return raised.value.findings


@pytest.mark.parametrize("expected", EXPECTED, ids=[path.stem for path in EXPECTED])
def test_a_bad_file_yields_its_findings(expected: Path) -> None:
    printed = [str(finding).replace(f"{BAD}/", "") for finding in findings_of(expected.with_suffix(".yaml"))]
    assert printed == expected.read_text(encoding="utf-8").splitlines()


def test_every_bad_file_has_its_findings_beside_it() -> None:
    without = {path.stem for path in BAD.glob("*.yaml")} - {path.stem for path in EXPECTED}
    assert without == {"not-yaml"}


def test_what_is_not_yaml_is_found_where_it_breaks() -> None:
    (finding,) = findings_of(BAD / "not-yaml.yaml")
    assert (finding.line, finding.rule) == (3, "not-yaml")
    assert finding.message.endswith("look at the indentation, colons and quotes here")


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
    shared.write_text(base.replace("Plug out.", "Pull the plug."), encoding="utf-8")
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
