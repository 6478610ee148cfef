"""What a job is in files for other programs, as a page of the reference."""

from collections.abc import Iterator
from typing import Any, Final

from tests.manual.markdown import code, codes, page, table
from voicetech.reports.job_report.job_record import FORMAT, job_schema
from voicetech.reports.job_report.readings_csv import COLUMNS

_PLAIN: Final = {
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "null",
}


def report_page() -> str:
    """Return the page."""
    schema = job_schema()
    return page(
        "A job as files for other programs",
        f"`voicetech report JOB --json FILE` writes the whole job in the format `{FORMAT}`, and `voicetech report JOB "
        "--csv FILE` its readings, one a line. `voicetech report --schema` prints the JSON Schema. Figures are texts "
        "with the digits that the meter gave; times are ISO 8601 with their zone.",
        "## Readings as CSV",
        f"A head line, then a reading a line; lines end in CR LF. Its columns: {codes(COLUMNS)}. They hold what "
        "is said of a reading below; `time` is its `at`.",
        "## A job as JSON",
        _fields(schema),
        *(part for name, each in schema["$defs"].items() for part in _record(name, each)),
    )


def _record(name: str, schema: Any) -> Iterator[str]:
    yield f"## {_called(name)}"
    yield str(schema.get("description", ""))
    yield _fields(schema)


def _fields(schema: Any) -> str:
    rows = [(code(name), _holds(each), each.get("description", "")) for name, each in schema["properties"].items()]
    return table(("field", "holds", ""), rows)


def _called(name: str) -> str:
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name.removesuffix("Record"))
    return words.strip()


def _holds(schema: Any) -> str:
    match schema:
        case {"$ref": str(name)}:
            return _called(name.rpartition("/")[2])
        case {"const": value}:
            return code(str(value))
        case {"enum": [*words]}:
            return f"one of {codes(words)}"
        case {"anyOf": [*some]}:
            return " or ".join(map(_holds, some))
        case {"type": "array", "items": below}:
            return f"a list: {_holds(below)}"
        case {"format": "date-time"}:
            return "a time"
        case {"pattern": _}:
            return "a figure"
        case {"type": str(kind)}:
            return _PLAIN[kind]
        case _:
            raise ValueError(f"the reference has no words for {schema}")
