"""Processes of the program's own: what Ctrl-C does while they are begun."""

import subprocess
import sys

_STRUCK = """
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


def test_ctrl_c_waits_until_the_process_is_begun() -> None:
    done = subprocess.run([sys.executable, "-c", _STRUCK], capture_output=True, text=True, timeout=60, check=False)
    lines = done.stdout.splitlines()
    assert lines.index("begun") < lines.index("ended")
    assert "went on" not in lines
    assert "Traceback" not in done.stderr
