"""What is said of a version's formats is what the code writes."""

import re

from tests.manual.reference import MANUAL
from voicetech import __version__
from voicetech.archive.layouts import KEPT_STEPS, SUMMARIES_VERSION
from voicetech.authoring.findings_json import SARIF_VERSION
from voicetech.events import KINDS
from voicetech.journal.migrations import MIGRATIONS
from voicetech.reports.job_report.job_record import FORMAT

CHANGES = (MANUAL / "changes.md").read_text(encoding="utf-8")
NEWEST = CHANGES.split("\n## ")[1]


def formats() -> dict[str, str]:
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in NEWEST.splitlines() if line.startswith("| ")]
    return {row[0]: row[1] for row in rows}


def test_the_newest_version_is_this_one() -> None:
    assert NEWEST.split("\n")[0] == __version__


def test_its_formats_are_those_that_are_written() -> None:
    told = formats()
    assert told["the record of jobs, `jobs.db`"] == f"layout {len(MIGRATIONS)}"
    assert told["a shop's archive, `archive.db`"] == f"layout {len(KEPT_STEPS)}, summaries {SUMMARIES_VERSION}"
    assert told["a job as JSON"] == f"`{FORMAT}`"
    assert told["findings of the check"] == f"SARIF {SARIF_VERSION}"


def test_a_kind_of_event_that_is_not_the_first_is_told() -> None:
    later = {kind for kind in KINDS if not kind.endswith("/1")}
    assert all(f"`{kind}`" in CHANGES for kind in later)
    assert re.search(r"events of the record \| 1 each", CHANGES) or later
