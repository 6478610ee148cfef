"""Processes that work for another one end with it, however it ends."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
WORKING = """
import os, sys, time
from voicetech.cores import workers

def work():
    print(os.getpid(), flush=True)
    time.sleep(120)

if __name__ == "__main__":
    with workers(2) as working:
        for each in [working.submit(work) for _ in range(2)]:
            each.result()
"""
LONGEST_S = 60.0


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_no_process_is_left_where_the_caller_is_killed(tmp_path: Path, number: signal.Signals) -> None:
    script = tmp_path / "working.py"
    script.write_text(WORKING, encoding="utf-8")
    caller = subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert caller.stdout is not None
    working = [int(caller.stdout.readline()) for _ in range(2)]
    caller.send_signal(number)
    caller.wait(timeout=LONGEST_S)
    # All that was begun has let go of what it prints to.
    until_s = time.monotonic() + LONGEST_S
    while any(_runs(pid) for pid in working):
        assert time.monotonic() < until_s, "processes are left behind"
        time.sleep(0.05)
    caller.stdout.close()


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    return not state.exists() or " Z " not in state.read_text(encoding="ascii")
