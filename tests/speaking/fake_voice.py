"""A voice process that keeps a record and misbehaves on request; run as a script: its record, then a folder.

The words decide: "hang" never answers, "hang once" only the first time, "die" ends the process, "long" plays
until the process is ended.
"""

import json
import os
import sys
import threading
import wave
from pathlib import Path


def main() -> None:
    record = Path(sys.argv[1])

    def note(event: str) -> None:
        with record.open("a", encoding="utf-8") as lines:
            lines.write(f"{event} {os.getpid()}\n")

    def sleep_for_ever() -> None:
        threading.Event().wait()

    said = ""
    for line in sys.stdin:
        request = json.loads(line)
        if "play" in request:
            note("playing")
            if said == "long":
                sleep_for_ever()
        else:
            said = request["synthesise"]
            note(f"making {said}")
            if said == "hang" or (said == "hang once" and record.read_text(encoding="utf-8").count(said) == 1):
                sleep_for_ever()
            if said == "die":
                os._exit(3)
            with wave.open(request["path"], "wb") as sound:
                sound.setnchannels(1)
                sound.setsampwidth(2)
                sound.setframerate(8_000)
                sound.writeframes(bytes(160))
        sys.stdout.write("{}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
