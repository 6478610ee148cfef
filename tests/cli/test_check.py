"""`voicetech check`: all findings at once, for people, editors and other programs."""

import json
from pathlib import Path

import pytest

from tests.authoring.test_bad_files import BAD, findings_of
from tests.cli.program import run
from voicetech.authoring.findings_json import findings_json, findings_sarif
from voicetech.authoring.shipped import shipped_folder

SHIPPED = Path(str(shipped_folder("dialogs")))


def test_what_is_shipped_has_no_finding(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(SHIPPED))
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == "1 procedure checked, no finding.\n"


def test_all_findings_come_at_once_with_their_places(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(BAD / "keys.yaml"), str(BAD / "numbers.yaml"))
    expected = [str(finding) for name in ("keys", "numbers") for finding in findings_of(BAD / f"{name}.yaml")]
    assert done.returncode == 1
    assert done.stdout.splitlines() == expected
    assert done.stderr == f"{len(expected)} findings in 2 procedures.\n"


def test_a_folder_is_checked_whole_and_a_shared_part_told_once(tmp_path: Path) -> None:
    done = run(tmp_path, "check", str(BAD))
    lines = done.stdout.splitlines()
    assert len(lines) == len(set(lines)) > 60
    assert all(line.startswith(f"{BAD}/") for line in lines)


@pytest.mark.parametrize("given", ["nothing.yaml", "empty"])
def test_what_is_no_procedure_is_told_plainly(given: str, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    done = run(tmp_path, "check", str(tmp_path / given))
    assert done.returncode in (1, 2)
    assert "Traceback" not in done.stderr
    assert given in done.stdout + done.stderr


def test_json_tells_every_finding_by_its_parts(tmp_path: Path) -> None:
    done = run(tmp_path, "check", "--json", str(BAD / "keys.yaml"))
    told = json.loads(done.stdout)
    assert done.returncode == 1
    for one, finding in zip(told, findings_of(BAD / "keys.yaml"), strict=True):
        assert one == {
            "file": str(finding.path),
            "line": finding.line,
            "column": finding.column,
            "where": finding.where,
            "message": finding.message,
            "rule": finding.rule,
        }


def test_sarif_points_to_the_place_and_the_rule(tmp_path: Path) -> None:
    findings = findings_of(BAD / "keys.yaml")
    done = run(tmp_path, "check", "--sarif", str(BAD / "keys.yaml"))
    log = json.loads(done.stdout)
    assert log["version"] == "2.1.0"
    (only,) = log["runs"]
    rules = [rule["id"] for rule in only["tool"]["driver"]["rules"]]
    assert set(rules) == {finding.rule for finding in findings}
    for result, finding in zip(only["results"], findings, strict=True):
        assert rules[result["ruleIndex"]] == result["ruleId"] == finding.rule
        (place,) = result["locations"]
        region = place["physicalLocation"]["region"]
        assert (region["startLine"], region["startColumn"]) == (finding.line, finding.column)
        assert place["physicalLocation"]["artifactLocation"]["uri"] == finding.path.as_uri()
        assert finding.message in result["message"]["text"]


def test_no_finding_is_an_empty_list_and_an_empty_run() -> None:
    assert json.loads(findings_json([])) == []
    assert json.loads(findings_sarif([]))["runs"][0]["results"] == []


def test_two_forms_at_once_are_refused(tmp_path: Path) -> None:
    done = run(tmp_path, "check", "--json", "--sarif", str(BAD / "keys.yaml"))
    assert done.returncode == 2
    assert "not both" in done.stderr
