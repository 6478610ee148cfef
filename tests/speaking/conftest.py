"""Voices to try: the real one, and one that misbehaves on request."""

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.voice_process import ChildVoice

FAKE_VOICE = Path(__file__).with_name("fake_voice.py")


@dataclass
class Misbehaving:
    """A speaker over the fake voice, what it told, and what its processes were asked."""

    speaker: Pyttsx3Speaker
    record: Path
    told: list[str] = field(default_factory=list)

    def events(self) -> list[str]:
        return self.record.read_text(encoding="utf-8").splitlines() if self.record.exists() else []

    def wait_for(self, event: str) -> int:
        """Return the number of the process that did it."""
        for _ in range(3_000):
            for line in self.events():
                if line.startswith(event):
                    return int(line.split()[-1])
            time.sleep(0.01)
        raise AssertionError(f"{event} never happened: {self.events()}")


@pytest.fixture
def misbehaving(tmp_path: Path) -> Iterator[Callable[[float], Misbehaving]]:
    made: list[Misbehaving] = []

    def make(answer_within_s: float) -> Misbehaving:
        record, told = tmp_path / "record", list[str]()
        voice = ChildVoice((sys.executable, "-P", str(FAKE_VOICE), str(record)), answer_within_s)
        made.append(Misbehaving(Pyttsx3Speaker(told.append, voice), record, told))
        return made[-1]

    yield make
    for one in made:
        one.speaker.close()
