"""The benchmark whole, on a few of the committed recordings."""

import json
import shutil
from pathlib import Path

import pytest

from tests.benchmarks.hearing import main
from tests.benchmarks.trials import VARIABLE
from tests.hearing.recordings import SOUNDS


@pytest.fixture
def speech(tmp_path: Path) -> Path:
    """Return a folder of two sets, with two trade phrases and two strangers in them."""
    rows = [json.loads(line) for line in (SOUNDS / "manifest.jsonl").read_text(encoding="utf-8").splitlines()]
    kept = {
        "trade_phrases": [row for row in rows if row["file"] in ("flite_slt_001.flac", "fest_kal_diphone_361.flac")],
        "cards": [row for row in rows if row["file"].startswith("goforward")],
    }
    for name, inside in kept.items():
        (tmp_path / name).mkdir()
        for row in inside:
            shutil.copy(SOUNDS / row["file"], tmp_path / name)
        lines = [json.dumps({"speaker": row["file"][:8], **row}) for row in inside]
        (tmp_path / name / "manifest.jsonl").write_text("\n".join(lines), encoding="utf-8")
    return tmp_path


def test_a_run(speech: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--speech", str(speech), "--room", "mask"]) == 0
    shown = capsys.readouterr().out
    assert f"3 trials of {speech}" in shown
    assert "== as recorded" in shown
    assert "== through a mask" in shown
    assert "x real time" in shown
    assert "at the 95th" in shown
    rows = [line.split() for line in shown.splitlines() if line.startswith(("trade", "danger", "strangers"))]
    assert [row[:3] for row in rows[:3]] == [["trade", "1", "1"], ["danger", "1", "1"], ["strangers", "1", "1"]]
    assert "1 synthetic voices (trade_phrases)" in shown
    assert "1 person (cards)" in shown
    assert "expected calibration error" in shown
    assert "strangers taken" in shown
    assert "x its time" in shown
    assert "start to ready" in shown
    assert "peak memory" in shown


def test_only_some_groups(speech: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--speech", str(speech), "--only", "danger"]) == 0
    shown = capsys.readouterr().out
    assert "1 trials" in shown
    assert "strangers  " not in shown


def test_without_recordings_it_says_how_to_name_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    assert main([]) == 1
    assert VARIABLE in capsys.readouterr().err
    assert main(["--speech", str(tmp_path)]) == 1
    assert "holds no recordings" in capsys.readouterr().err
    monkeypatch.setenv(VARIABLE, str(tmp_path / "nowhere"))
    assert main([]) == 1
    assert "nowhere" in capsys.readouterr().err


@pytest.mark.parametrize("words", [["--every", "0"], ["--every", "x"], ["--room", "attic"], ["--only", "birds"]])
def test_wrong_use(words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)
    assert ended.value.code == 2
