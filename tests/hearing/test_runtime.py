"""The library below the speech model sends nothing and keeps nothing about its use."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEARS = "from voicetech.hearing.ears import open_ear; open_ear().warm_up(); import time; time.sleep(3)"


def environment(home: Path) -> dict[str, str]:
    kept = {name: text for name, text in os.environ.items() if name != "ORT_DISABLE_TELEMETRY"}
    places = {name: str(home) for name in ("HOME", "TMPDIR", "XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME")}
    return {**kept, **places, "PYTHONPATH": str(ROOT)}


def test_nothing_is_kept_anywhere_of_its_use(tmp_path: Path) -> None:
    subprocess.run([sys.executable, "-c", HEARS], env=environment(tmp_path), check=True, cwd="/")
    assert [file for file in tmp_path.rglob("*") if file.is_file()] == []


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is what sees a call to the network")
def test_no_other_computer_is_called(tmp_path: Path) -> None:
    trace = tmp_path.with_name("trace")
    called = ["strace", "-f", "-e", "trace=connect,sendto,sendmsg", "-o", str(trace), sys.executable, "-c", HEARS]
    subprocess.run(called, env=environment(tmp_path), check=True, cwd="/")
    assert "AF_INET" not in trace.read_text(encoding="utf-8", errors="replace")
