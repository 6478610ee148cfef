"""`voicetech understand`: one JSON object a line in and out, and a sentence for people."""

import io
import json

import pytest
import typer
from typer.testing import CliRunner

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.cli.understand import answer_lines, understand

app = typer.Typer()
app.command()(understand)
RUNNER = CliRunner()
LEXICON = load_lexicon()


def _answers(*requests: object) -> list[dict[str, object]]:
    out = io.StringIO()
    answer_lines([json.dumps(r) for r in requests], out, LEXICON, as_json=True)
    return [json.loads(line) for line in out.getvalue().splitlines()]


def test_one_line_out_for_each_line_in_with_its_id() -> None:
    answers = _answers(
        {"id": "a", "text": "two thirty eight", "asking": "voltage"},
        {"id": "b", "text": "open", "asking": "continuity"},
        {"id": "c", "text": "no two forty", "asking": "voltage", "after": "read-back"},
        {"id": "d", "text": "two thirty", "asking": "voltage", "partial": True},
    )
    assert [(a["id"], a["kind"], a["value"]) for a in answers] == [
        ("a", "reading", "238"), ("b", "open", None), ("c", "correction", "240"), ("d", "unclear", None),
    ]  # fmt: skip
    assert answers[0]["unit"] == "V"


@pytest.mark.parametrize(
    ("text", "asking", "expected"),
    [
        ("stop", "voltage", {"kind": "command", "command": "stop"}),
        ("it's smoking", "voltage", {"kind": "command", "command": "emergency"}),
        ("no smoke", "voltage", {"kind": "unclear", "command": None}),
        ("118 to 120", "voltage", {"kind": "reading", "value": None, "range": ["118", "120"]}),
        ("the lug is loose", "inspection", {"kind": "yes", "note": "lug loose"}),
        ("note lug three is loose", "voltage", {"kind": "command", "command": "note", "note": "lug three is loose"}),
        ("all six zero", "voltage", {"kind": "reading", "value": "0", "confirm": True}),
        ("1.2k", "resistance", {"kind": "reading", "value": "1200.0", "unit": "Ohm"}),
    ],
)
def test_what_a_meaning_looks_like(text: str, asking: str, expected: dict[str, object]) -> None:
    answer = _answers({"text": text, "asking": asking})[0]
    assert {key: answer[key] for key in expected} == expected


def test_several_readings_are_listed() -> None:
    answer = _answers({"text": "one twenty and one nineteen", "asking": "voltage"})[0]
    readings = answer["readings"]
    assert isinstance(readings, list)
    assert [r["value"] for r in readings] == ["120", "119"]
    assert answer["value"] is None


def test_bad_lines_get_an_error_line_and_a_non_zero_exit() -> None:
    asked = '{"text": "x", "asking": "weather"}\n{"text": "ten", "asking": "voltage"}\n'
    lines = 'nonsense\n[1]\n{"asking": "voltage"}\n' + asked
    result = RUNNER.invoke(app, ["--json"], input=lines)
    records = [json.loads(line) for line in result.stdout.splitlines()]
    assert result.exit_code == 1
    assert [("error" in r) for r in records] == [True, True, True, True, False]
    assert "weather" in records[3]["error"]
    assert records[4]["value"] == "10"


def test_an_error_keeps_the_id_of_its_line() -> None:
    assert _answers({"id": "q", "text": "x", "asking": "weather"})[0]["id"] == "q"


def test_a_sentence_for_people() -> None:
    result = RUNNER.invoke(app, ["two thirty eight", "--asking", "voltage"])
    assert (result.exit_code, result.stdout.strip()) == (0, "reading: 238 V")
    result = RUNNER.invoke(app, ["one fifteen", "--asking", "voltage"])
    assert result.stdout.strip() == "reading: 115 V (asks first)"


def test_json_with_a_text_is_one_line() -> None:
    result = RUNNER.invoke(app, ["--json", "--asking", "resistance", "point five"])
    assert json.loads(result.stdout)["value"] == "0.5"


def test_an_unknown_question_is_named_without_a_traceback() -> None:
    result = RUNNER.invoke(app, ["--asking", "weather", "ten"])
    assert result.exit_code == 2
    assert "unknown asking 'weather'; use one of" in result.output


def test_bytes_that_are_no_text_and_lone_surrogates_do_no_harm() -> None:
    line = b'{"text": "\xff\xfe two forty", "asking": "note"}\n{"text": "\\ud800 two", "asking": "note"}\n'
    result = RUNNER.invoke(app, ["--json"], input=line)
    assert result.exit_code == 0
    assert len(result.stdout.splitlines()) == 2
