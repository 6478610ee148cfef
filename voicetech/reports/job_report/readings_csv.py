"""The readings of a job as a table for a spreadsheet, one line a reading.

A cell of words that begins like a formula is made harmless with an apostrophe in front, because a spreadsheet program
would run it. Numbers are bare numbers with the digits the meter gave.
"""

import csv
import io
from datetime import tzinfo
from decimal import Decimal
from typing import Final

from voicetech.reports.facts.job import JobFacts
from voicetech.reports.job_report.job_json import job_record

COLUMNS: Final = (
    "job",
    "time",
    "stage",
    "part",
    "between",
    "value",
    "unit",
    "shown",
    "appliance",
    "conditions",
    "attempt",
    "leads_ohm",
    "low",
    "high",
    "verdict",
    "reason",
    "source",
    "withdrawn",
)
UNREADABLE: Final = "part of the record cannot be read"
"""The stage of a line that holds no reading and tells what is missing or damaged: readings may be lost with it."""
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""What a cell begins with that a spreadsheet program takes for a formula.

Source: OWASP, CSV injection (from memory).
"""


def readings_csv(facts: JobFacts, zone: tzinfo | None = None) -> str:
    """Return every reading of the job, those of the proofs of dead included, under `COLUMNS`; lines end in CR LF.

    What cannot be read of the record comes first, in lines of the stage `UNREADABLE` with the reason and no value.
    """
    record = job_record(facts, zone)
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(COLUMNS)
    for unreadable in record.unreadable:
        cells = {"job": harmless(record.job), "stage": UNREADABLE, "reason": harmless(unreadable)}
        table.writerow([cells.get(column, "") for column in COLUMNS])
    for reading in record.readings:
        table.writerow(
            [
                harmless(record.job),
                reading.at.isoformat(),
                reading.stage,
                harmless(reading.part),
                harmless(reading.between),
                _number(reading.value),
                reading.unit or "",
                harmless(reading.shown),
                harmless(reading.appliance),
                harmless(", ".join(reading.conditions)),
                reading.attempt,
                _number(reading.leads_ohm),
                _number(reading.low),
                _number(reading.high),
                harmless(reading.verdict or ""),
                harmless(reading.reason),
                harmless(reading.source),
                harmless(reading.withdrawn or ""),
            ]
        )
    return out.getvalue()


def harmless(words: str) -> str:
    """Return words on one line that no spreadsheet program takes for a formula."""
    line = " ".join(words.split())
    return f"'{line}" if line.startswith(_FORMULA) or words.startswith(_FORMULA) else line


def _number(value: Decimal | None) -> str:
    return "" if value is None else format(value, "f")
