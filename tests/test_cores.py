"""Processes that work for another one end with it, however it ends; Ctrl-C while they are begun."""

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
STRUCK = """
import os, signal, threading, time
from voicetech.cores import workers

# A thread that Ctrl-C may be told to while the main thread holds it back.
threading.Thread(target=time.sleep, args=(30,), daemon=True).start()


class Slow:
    \"\"\"Struck the moment its process is being begun.\"\"\"

    def __getstate__(self):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.2)
        print("begun", flush=True)
        return {}


if __name__ == "__main__":
    try:
        with workers(1, print, Slow()) as working:
            working.submit(print)
            print("went on", flush=True)
    except KeyboardInterrupt:
        print("ended", flush=True)
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


def test_ctrl_c_waits_until_the_process_is_begun() -> None:
    done = subprocess.run(
        [sys.executable, "-c", STRUCK], capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
    lines = done.stdout.splitlines()
    assert lines.index("begun") < lines.index("ended")
    assert "went on" not in lines
    assert "Traceback" not in done.stderr


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")
    return not state.exists() or " Z " not in state.read_text(encoding="ascii")
