"""A job for other programs: JSON by its schema, readings as CSV, figures with the digits the meter gave."""

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, timedelta, timezone
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.reports import jobs
from tests.reports.examples import PROCEDURE, START_S, opening, proof, reading, whole_job
from voicetech.events import AnswerTaken, NoteTaken
from voicetech.reports.facts.job import STATEMENT, JobFacts, facts_of
from voicetech.reports.facts.part_book import read_part_book
from voicetech.reports.job_report.job_json import job_json
from voicetech.reports.job_report.job_record import job_schema, schema_text
from voicetech.reports.job_report.readings_csv import COLUMNS, UNREADABLE, harmless, readings_csv


def record(facts: JobFacts) -> Any:
    return json.loads(job_json(facts, UTC))


def rows(facts: JobFacts) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(readings_csv(facts, UTC), newline="")))


def test_the_committed_schema_is_the_one_of_the_records() -> None:
    committed = files("voicetech.reports.job_report").joinpath("job.schema.json").read_text(encoding="utf-8")
    assert committed == schema_text(), (
        "write it again: voicetech report --schema > voicetech/reports/job_report/job.schema.json"
    )


def test_the_schema_is_one_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(job_schema())
    assert job_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_every_job_keeps_to_the_schema(tmp_path: Path) -> None:
    validator = Draft202012Validator(job_schema(), format_checker=Draft202012Validator.FORMAT_CHECKER)
    sessions = [jobs.of_session(path.stem, tmp_path) for path in sorted(jobs.SESSIONS.glob("*.txt"))]
    made = [jobs.whole(), jobs.abandoned(), jobs.stopped_by_danger(), jobs.handed_over(), facts_of(None, ())]
    strained = [jobs.straining("\x00\ud800"), jobs.straining(jobs.FOREIGN)]
    for facts in (*sessions, *made, *strained):
        assert list(validator.iter_errors(record(facts))) == []


def test_what_is_not_by_the_schema_is_refused() -> None:
    whole = record(jobs.whole())
    for wrong in ({**whole, "format": "voicetech-job/2"}, {**whole, "price": "1"}, {**whole, "readings": [{}]}):
        assert list(Draft202012Validator(job_schema()).iter_errors(wrong))


def test_the_record_tells_the_job() -> None:
    told = record(jobs.whole())
    assert told["statement"] == STATEMENT
    assert (told["job"], told["outcome"], told["serial"]) == ("20261125-0941-k7", "repaired", "QX4471")
    assert [cause["id"] for cause in told["found"]] == ["bake-open"]
    assert told["suspected"] == []
    assert told["opened"] == "2026-11-25T09:41:00Z"
    assert told["parts"] == [
        {"function": "bake element", "rating": "", "proved": True, "part_number": None, "description": None}
    ]


def test_figures_keep_their_digits_and_computed_limits_six() -> None:
    taken = reading(1, "bake", "end-to-end", "1-2", "21.80", "within", "19.94117647058823", "24.4", START_S)
    (told,) = record(jobs.of(taken))["readings"]
    assert (told["value"], told["low"], told["high"], told["unit"]) == ("21.80", "19.9412", "24.4", "Ohm")


def test_over_range_has_no_figure_and_says_so() -> None:
    over = reading(1, "bake", "end-to-end", "1-2", None, "over_range", "1", "2", START_S)
    (told,) = record(jobs.of(over))["readings"]
    assert (told["value"], told["over_range"], told["shown"]) == (None, True, "OL (over range)")


def test_part_numbers_come_from_the_book() -> None:
    book, _ = read_part_book("parts.csv", "model,function,part_number\n*,bake element,INV-1\n")
    job = whole_job()
    with_model = (*job[:3], AnswerTaken(1, "call", "model", "model", "z q four", False, START_S), *job[3:])
    (part,) = record(facts_of(PROCEDURE, with_model, book=book))["parts"]
    assert part["part_number"] == "INV-1"


def test_the_table_has_a_line_for_each_reading_the_proofs_included() -> None:
    volts = reading(1, "make-safe", "pairs", "L1-L2", "0.0", "within", None, "1", START_S + 120)
    facts = facts_of(PROCEDURE, (*opening(), *proof(START_S), volts))
    assert facts.readings == ()
    assert [row["value"] for row in rows(facts)] == ["0.0"]
    told = rows(jobs.whole())
    assert len(told) == 5
    assert tuple(told[0]) == COLUMNS
    assert told[0] | {"reason": "", "source": ""} == {
        "job": "20261125-0941-k7",
        "time": "2026-11-25T09:47:00+00:00",
        "stage": "test",
        "part": "Bake element",
        "between": "1-2",
        "value": "23.4",
        "unit": "Ohm",
        "shown": "23.4 Ω",
        "appliance": "dead",
        "conditions": "one wire off",
        "attempt": "1",
        "leads_ohm": "0.2",
        "low": "19.9",
        "high": "24.4",
        "verdict": "within",
        "reason": "",
        "source": "",
        "withdrawn": "correction",
    }


@pytest.mark.parametrize("begins", ["=1+1", "+1", "-1", "@a", "\t=1", " =1", "＝1", "\r\n=1"])
def test_no_cell_of_words_is_a_formula(begins: str) -> None:
    assert harmless(begins).startswith("'")
    taken = replace(reading(1, "bake", "end-to-end", begins, "-0.2", "within", None, "1", START_S), reason=begins)
    (row,) = rows(jobs.of(taken))
    assert row["between"].startswith("'")
    assert row["reason"].startswith("'")
    assert Decimal(row["value"]) == Decimal("-0.2"), "a number stays a number"


def test_what_cannot_be_read_of_the_record_stands_in_the_table() -> None:
    facts = replace(jobs.whole(), left_out=("Events 3 to 9 are missing.",))
    first, *others = rows(facts)
    assert (first["stage"], first["reason"]) == (UNREADABLE, "Events 3 to 9 are missing.")
    assert first["value"] == first["time"] == ""
    assert others == rows(jobs.whole())


def test_a_line_break_in_words_stays_in_its_cell() -> None:
    taken = reading(1, "bake", "end-to-end", "a\nb\r\nc", "1", "within", None, "1", START_S)
    assert rows(jobs.of(taken))[0]["between"] == "a b c"
    assert readings_csv(jobs.of(taken), UTC).count("\r\n") == 2


def test_times_have_the_offset_of_their_clock() -> None:
    west = json.loads(job_json(jobs.of(NoteTaken("a", False, START_S + 0.6)), timezone(timedelta(hours=-5))))
    assert west["notes"][0]["at"] == "2026-11-25T04:41:01-05:00"
