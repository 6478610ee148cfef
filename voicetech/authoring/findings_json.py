"""Findings for other programs: as plain JSON, and as SARIF for editors and code review."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from voicetech import __version__
from voicetech.authoring.findings import Finding
from voicetech.authoring.rules import RULES, level_of

_ORDER: Final = {name: at for at, name in enumerate(RULES)}
SARIF_VERSION: Final = "2.1.0"
_SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def findings_json(findings: Sequence[Finding]) -> str:
    """Return the findings as a JSON list of objects with file, line, column, where, message, rule and level."""
    return json.dumps([_plain(finding) for finding in findings], ensure_ascii=False, indent=2)


def _plain(finding: Finding) -> dict[str, Any]:
    return {
        "file": str(finding.path),
        "line": finding.line,
        "column": finding.column,
        "where": finding.where,
        "message": finding.message,
        "rule": finding.rule,
        "level": level_of(finding.rule).value,
    }


def rules_json() -> str:
    """Return the rules as a JSON list of objects with rule, level, says and why."""
    told = [
        {"rule": name, "level": rule.level.value, "says": rule.says, "why": rule.why} for name, rule in RULES.items()
    ]
    return json.dumps(told, ensure_ascii=False, indent=2)


def findings_sarif(findings: Sequence[Finding]) -> str:
    """Return the findings as a log of one run, with every rule and what it is for.

    Source: OASIS SARIF 2.1.0 (from memory; logs are checked against its schema).
    """
    run = {
        "tool": {"driver": {"name": "voicetech", "version": __version__, "rules": [*map(_rule, RULES)]}},
        "columnKind": "unicodeCodePoints",
        "results": [_result(finding) for finding in findings],
    }
    return json.dumps({"$schema": _SCHEMA, "version": SARIF_VERSION, "runs": [run]}, ensure_ascii=False, indent=2)


def _rule(name: str) -> dict[str, Any]:
    rule = RULES[name]
    return {
        "id": name,
        "shortDescription": {"text": rule.says},
        "fullDescription": {"text": f"{rule.says} {rule.why}"},
        "help": {"text": rule.why},
        "defaultConfiguration": {"level": rule.level.value},
    }


def _result(finding: Finding) -> dict[str, Any]:
    return {
        "ruleId": finding.rule,
        "ruleIndex": _ORDER[finding.rule],
        "level": level_of(finding.rule).value,
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
    # Relative to where the check was run: a build server shows findings beside the lines of its checkout.
    return path.as_uri() if path.is_absolute() else quote(path.as_posix())
