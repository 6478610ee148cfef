"""The job by voice, ended while it keeps sounds: no event names a sound that is not whole."""

import os
import random
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Final

from tests.crash.driving import ROOT, LostError
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.events import InputReceived
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import load_sound
from voicetech.journal.store import open_journal
from voicetech.last_words import TRACEBACK_VARIABLE

_CALLS: Final = {"pwrite64": 700, "fsync": 60, "fdatasync": 60, "rename": 60, "write": 400}
_TURNS: Final = 40
_LONGEST_S: Final = 120


def recordings(folder: Path) -> Path:
    """Return the folder with the first recordings of the demo, named in their order."""
    folder.mkdir()
    shipped = shipped_folder("demo_audio")
    for number, turn in enumerate(demo_turns(shipped / "script.yaml")[:_TURNS]):
        shutil.copy(shipped / f"{turn.clip}.flac", folder / f"{number:03}.flac")
    return folder


def run_once(home: Path, clips: Path, chance: random.Random, told: Counter[str]) -> None:
    """Work a job by voice until it ends in a call to the system, and look at what it kept. Raises LostError."""
    shutil.rmtree(home, ignore_errors=True)
    call = chance.choice(list(_CALLS))
    inject = f"{call}:signal=KILL:when={chance.randint(1, _CALLS[call])}"
    talk = [sys.executable, "-m", "voicetech", "talk", "--procedure", "range", "--audio", str(clips)]
    talk += ["--silent", "--plain", "--keep-sound"]
    strace = ["strace", "-f", "-o", os.devnull, "-e", f"trace={','.join(_CALLS)}", "-e", f"inject={inject}"]
    done = subprocess.run(
        [*strace, *talk],
        env={
            **os.environ,
            "VOICETECH_HOME": str(home),
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
            TRACEBACK_VARIABLE: "1",
        },
        capture_output=True,
        timeout=_LONGEST_S,
        check=False,
    )
    told["endings"] += done.returncode != 0
    if b"Traceback" in done.stderr:
        raise LostError(f"a traceback was shown:\n{done.stderr.decode(errors='replace')}")
    begun = sum(line.endswith(b".flac") for line in done.stdout.splitlines())
    _look(home, begun, told)


def _look(home: Path, begun: int, told: Counter[str]) -> None:
    path = journal_path(home)
    if not path.exists():
        return
    with open_journal(path) as journal:
        job = journal.last_job()
        events = () if job is None else journal.events(job)
    heard = [event for event in events if isinstance(event, InputReceived)]
    if len(heard) < begun - 1:
        raise LostError(f"{begun - 1} recordings were answered and {len(heard)} are on record")
    for event in heard:
        if event.sound_sha256 is not None:
            load_sound(sounds_folder(home), event.sound_sha256)
            told["sounds"] += 1
    told["answers"] += max(begun - 1, 0)
