"""`voicetech hear`: JSON lines in and out, and files named on the command line."""

import io
import json
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile
from typer.testing import CliRunner

from tests.hearing.recordings import EAR, LEXICON, SOUNDS
from voicetech.cli import app
from voicetech.cli.hear import answer_lines, request_from
from voicetech.hearing.answering import Hearing
from voicetech.hearing.labelled_folder import BadLineError
from voicetech.language.meaning import Asking

CLIP = SOUNDS / "flite_slt_001.flac"


def answers(*lines: object) -> tuple[bool, list[dict[str, object]]]:
    out = io.StringIO()
    texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
    good = answer_lines(texts, out, Hearing(EAR, LEXICON))
    return good, [json.loads(line) for line in out.getvalue().splitlines()]


def test_one_line_in_one_line_out() -> None:
    good, (first, second) = answers(
        {"id": 7, "file": str(CLIP), "asking": "voltage", "limits": [216, 264]},
        {"id": "b", "file": str(CLIP), "asking": "voltage"},
    )
    assert good
    assert (first["id"], second["id"]) == (7, "b")
    assert first["outcome"] == "accepted"
    assert first["kind"] == "reading"
    assert (Decimal(str(first["value"])), first["unit"]) == (Decimal(233), "V")
    assert first["text"] == "two thirty three volts"
    assert isinstance(first["probability"], float)
    assert isinstance(first["decode_s"], float)


def test_a_read_back_can_be_corrected() -> None:
    clip = next(
        json.loads(line)
        for line in (SOUNDS / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
        if json.loads(line).get("after")
    )
    request = request_from(json.dumps({"file": "x", "asking": "voltage", "after": "read-back"}))
    assert request.question.after_read_back
    line = {"id": 1, "file": str(SOUNDS / clip["file"]), "asking": clip["asking"], "after": "read-back"}
    _, (answer,) = answers(line)
    assert answer["outcome"] in ("accepted", "ask")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("nonsense", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ("[]", "no file"),
        ({"id": 3}, "no file"),
        ({"id": 3, "file": "x.wav", "asking": "weather"}, "unknown asking"),
        ({"id": 3, "file": "x.wav", "limits": [3]}, "two numbers"),
        ({"id": 3, "file": "x.wav", "limits": ["a", "b"]}, "two numbers"),
        ({"id": 3, "file": "x.wav", "limits": [9, 1]}, "reversed"),
        ({"id": 3, "file": "nowhere.wav"}, "no such file"),
        ({"id": 3, "file": "nul\0.wav"}, "no file"),
    ],
)
def test_a_bad_line_is_answered_and_the_next_one_too(line: object, says: str) -> None:
    good, (bad, fine) = answers(line, {"id": 4, "file": str(CLIP), "asking": "voltage"})
    assert not good
    assert bad["outcome"] == "again"
    assert says in str(bad["error"])
    if isinstance(line, dict):
        assert bad["id"] == 3
    assert fine["outcome"] == "accepted"


def test_numbers_that_are_none_are_refused() -> None:
    with pytest.raises(BadLineError, match="not finite"):
        request_from('{"file": "x.wav", "limits": [NaN, Infinity]}')


def test_files_on_the_command_line(tmp_path: Path) -> None:
    broken = tmp_path / "broken.wav"
    broken.write_bytes(b"not a sound")
    done = CliRunner().invoke(app, ["hear", "--asking", "voltage", str(CLIP), str(broken), str(tmp_path / "none.flac")])
    assert done.exit_code == 1
    assert "reading: 233 V" in done.stdout
    assert "two thirty three volts" in done.stdout
    assert "broken.wav: cannot be read as sound" in done.stderr
    assert "none.flac: no such file" in done.stderr
    assert "Traceback" not in done.stderr


def test_silence(tmp_path: Path) -> None:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros(32_000), 16_000)
    done = CliRunner().invoke(app, ["hear", "--asking", "voltage", str(path)])
    assert done.exit_code == 0
    assert "ignored" in done.stdout


@pytest.mark.parametrize("options", [[], ["--asking", "weather", str(CLIP)], ["--ear", "tin", str(CLIP)]])
def test_wrong_use_is_told(options: list[str]) -> None:
    done = CliRunner().invoke(app, ["hear", *options])
    assert done.exit_code != 0
    assert "Traceback" not in done.output


def test_what_was_asked_need_not_be_said() -> None:
    assert request_from('{"file": "x"}').question.asking is Asking.ANY
