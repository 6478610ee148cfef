"""A trial of a vosk model in a process of its own, because a damaged one ends the process that loads it.

Run as a script with the model's folder, it loads the model and decodes two seconds of silence with a grammar, and ends
with 0 where that works. It imports nothing of this package.
"""

import re
import subprocess
import sys
from pathlib import Path

WITHIN_S = 60.0
"""A model of 250 MB takes 3 s; a damaged one may never end. Source: tried."""
_RATE_HZ = 16_000
_COMPLAINT = re.compile(r"^(?:ERROR|ASSERTION_FAILED)(?: \(.*?:\d+\))?:? *(?P<words>.+)$", re.MULTILINE)


def fault_in(folder: Path) -> str | None:
    """Return what is wrong with the model in the folder, in vosk's words where it has any, or None."""
    command = (sys.executable, "-P", str(Path(__file__)), str(folder))
    try:
        done = subprocess.run(command, capture_output=True, timeout=WITHIN_S, check=False)  # noqa: S603
    except subprocess.TimeoutExpired:
        return f"it was not loaded within {WITHIN_S:.0f} s"
    except OSError as error:
        return f"it could not be tried: {error}"
    if done.returncode == 0:
        return None
    complaint = _COMPLAINT.search(done.stderr.decode(errors="replace"))
    return complaint["words"].strip() if complaint else f"it ended the process that loaded it ({done.returncode})"


def _try(folder: str) -> None:
    import vosk

    vosk.SetLogLevel(-1)
    model = vosk.Model(model_path=folder)
    decoder = vosk.KaldiRecognizer(model, _RATE_HZ, '["[unk]"]')
    decoder.AcceptWaveform(bytes(4 * _RATE_HZ))
    decoder.FinalResult()


if __name__ == "__main__":
    _try(sys.argv[1])
