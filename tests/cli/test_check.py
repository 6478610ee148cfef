"""`voicetech check`: all findings at once, for people, editors and other programs."""

import json
from pathlib import Path

import pytest
import typer

from tests.authoring.checking import found_in
from tests.authoring.test_bad_files import BAD, EXPECTED, expected_of
from tests.cli.program import run
from voicetech.authoring.findings_json import findings_json, findings_sarif
from voicetech.authoring.procedure_files import shipped_names
from voicetech.authoring.rules import RULES
from voicetech.authoring.schema import schema_text
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli import check as command
from voicetech.language.plural import so_many

SHIPPED = Path(str(shipped_folder("dialogs")))


def test_what_is_shipped_has_no_finding(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(SHIPPED))
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"{so_many(len(shipped_names()), 'procedure')} checked, no finding.\n"


def test_all_findings_come_at_once_with_their_places(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(BAD / "keys.yaml"), str(BAD / "numbers.yaml"))
    expected = [str(finding) for name in ("keys", "numbers") for finding in found_in(BAD / f"{name}.yaml")]
    assert done.returncode == 1
    assert done.stdout.splitlines() == expected
    assert done.stderr == f"{len(expected)} findings in 2 procedures.\n"


def test_a_folder_is_checked_whole_and_a_shared_part_told_once(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(BAD))
    lines = done.stdout.splitlines()
    assert len(lines) == len(set(lines))
    assert set(lines) == {f"{BAD}/{line}" for path in EXPECTED for line in expected_of(path)}


@pytest.mark.parametrize("given", ["nothing.yaml", "empty"])
def test_what_is_no_procedure_is_told_plainly(given: str, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = run(tmp_path, "check", str(tmp_path / given))
    assert done.returncode in (1, 2)
    assert "Traceback" not in done.stderr
    assert given in done.stdout + done.stderr


def test_a_part_is_checked_with_the_procedures_that_include_it(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(BAD / "shared" / "base.yaml"))
    assert done.returncode == 2
    assert "is a part that procedures include" in " ".join(done.stderr.replace("│", " ").split())


def test_json_tells_every_finding_by_its_parts(tmp_path: Path) -> None:
    done = run(tmp_path, "check", "--json", str(BAD / "keys.yaml"))
    told = json.loads(done.stdout)
    assert done.returncode == 1
    for one, finding in zip(told, found_in(BAD / "keys.yaml"), strict=True):
        assert one == {
            "file": str(finding.path),
            "line": finding.line,
            "column": finding.column,
            "where": finding.where,
            "message": finding.message,
            "rule": finding.rule,
            "level": RULES[finding.rule].level.value,
        }


def test_sarif_points_to_the_place_and_the_rule(tmp_path: Path) -> None:
    findings = found_in(BAD / "keys.yaml")
    done = run(tmp_path, "check", "--sarif", str(BAD / "keys.yaml"))
    (only,) = json.loads(done.stdout)["runs"]
    rules = [rule["id"] for rule in only["tool"]["driver"]["rules"]]
    for result, finding in zip(only["results"], findings, strict=True):
        assert rules[result["ruleIndex"]] == result["ruleId"] == finding.rule
        (place,) = result["locations"]
        region = place["physicalLocation"]["region"]
        assert (region["startLine"], region["startColumn"]) == (finding.line, finding.column)
        assert place["physicalLocation"]["artifactLocation"]["uri"] == finding.path.as_uri()
        assert finding.message in result["message"]["text"]
        assert result["level"] == RULES[finding.rule].level.value


def test_sarif_has_what_its_standard_requires() -> None:
    """What OASIS SARIF 2.1.0 requires of a log, and its words; the real schema was held beside it once."""
    log = json.loads(findings_sarif(found_in(BAD / "sounds-alike.yaml")))
    assert log["version"] == "2.1.0"
    (only,) = log["runs"]
    driver = only["tool"]["driver"]
    assert driver["name"] == "voicetech"
    assert only["columnKind"] in ("utf16CodeUnits", "unicodeCodePoints")
    assert [rule["id"] for rule in driver["rules"]] == list(RULES)
    for rule in driver["rules"]:
        for text in ("shortDescription", "fullDescription", "help"):
            assert rule[text]["text"].endswith(".")
        assert rule["defaultConfiguration"]["level"] in ("error", "warning")
    assert only["results"]
    for result in only["results"]:
        assert result["message"]["text"]
        region = result["locations"][0]["physicalLocation"]["region"]
        assert min(region.values()) >= 1


def test_a_path_from_here_stays_one(tmp_path: Path) -> None:
    (tmp_path / "my range.yaml").write_text("procedure: x\n", encoding="utf-8")
    (finding, *_) = found_in(tmp_path / "my range.yaml")
    here = finding.__class__(Path("my range.yaml"), 1, 1, "", "", finding.rule)
    (result,) = json.loads(findings_sarif([here]))["runs"][0]["results"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "my%20range.yaml"


def test_the_rules_are_listed_with_a_sentence_each(tmp_path: Path) -> None:
    lines = run(tmp_path, "check", "--rules").stdout.splitlines()
    assert [line.split()[0] for line in lines] == list(RULES)
    told = json.loads(run(tmp_path, "check", "--rules", "--json").stdout)
    assert [rule["rule"] for rule in told] == list(RULES)
    assert all(rule["says"].endswith(".") and rule["why"].endswith(".") for rule in told)


def test_the_schema_is_printed(tmp_path: Path) -> None:
    assert run(tmp_path, "check", "--schema").stdout == schema_text()


def test_without_the_dictionary_the_rest_is_checked_and_that_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicetech.hearing.phones.load_dictionary", lambda: None)
    with pytest.raises(typer.Exit):
        command.check([BAD / "sounds-alike.yaml", BAD / "keys.yaml"])
    said = capsys.readouterr()
    assert "pip install pocketsphinx" in said.err
    assert "[sounds-alike]" not in said.out
    assert "[duplicate-key]" in said.out


def test_no_finding_is_an_empty_list_and_an_empty_run() -> None:
    assert json.loads(findings_json([])) == []
    assert json.loads(findings_sarif([]))["runs"][0]["results"] == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--json", "--sarif", "x.yaml"], "not both"),
        (["--rules", "x.yaml"], "FILE does nothing beside --rules"),
        (["--schema", "--json"], "--json does nothing beside --schema"),
        ([], "name a procedure or a folder"),
    ],
)
def test_what_would_do_nothing_is_refused(tmp_path: Path, arguments: list[str], says: str) -> None:
    done = run(tmp_path, "check", *arguments)
    assert done.returncode == 2
    assert says in " ".join(done.stderr.replace("│", " ").split())
