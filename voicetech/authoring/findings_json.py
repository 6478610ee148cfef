"""Findings for other programs: as plain JSON, and as SARIF for editors and code review."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from voicetech import __version__
from voicetech.authoring.findings import Finding

SARIF_VERSION: Final = "2.1.0"
_SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def findings_json(findings: Sequence[Finding]) -> str:
    """Return the findings as a JSON list of objects with file, line, column, where, message and rule."""
    return json.dumps([_plain(finding) for finding in findings], ensure_ascii=False, indent=2)


def _plain(finding: Finding) -> dict[str, Any]:
    return {
        "file": str(finding.path),
        "line": finding.line,
        "column": finding.column,
        "where": finding.where,
        "message": finding.message,
        "rule": finding.rule,
    }


def findings_sarif(findings: Sequence[Finding]) -> str:
    """Return the findings as a log of one run.

    Source: OASIS SARIF 2.1.0 (from memory).
    """
    rules = sorted({finding.rule for finding in findings})
    driver = {"name": "voicetech", "version": __version__, "rules": [{"id": rule} for rule in rules]}
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "results": [_result(finding, rules) for finding in findings],
    }
    return json.dumps({"$schema": _SCHEMA, "version": SARIF_VERSION, "runs": [run]}, ensure_ascii=False, indent=2)


def _result(finding: Finding, rules: Sequence[str]) -> dict[str, Any]:
    return {
        "ruleId": finding.rule,
        "ruleIndex": rules.index(finding.rule),
        "level": "error",
        "message": {"text": f"{finding.where}: {finding.message}"},
        "locations": [
            {
                "physicalLocation": {
                    "artifactLocation": {"uri": _uri(finding.path)},
                    "region": {"startLine": finding.line, "startColumn": finding.column},
                }
            }
        ],
    }


def _uri(path: Path) -> str:
    return path.as_uri() if path.is_absolute() else path.as_posix()
