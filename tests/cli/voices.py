"""What stands in for ear and microphone where a command works by voice."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.talking.stage import ListedEar
from voicetech.heard import Heard
from voicetech.hearing.errors import MicrophoneError
from voicetech.hearing.frames import FRAME_SAMPLES, RATE_HZ, Samples, Utterance
from voicetech.hearing.microphone import BlockQueue, Microphone
from voicetech.hearing.sound_file import read_sound
from voicetech.language.phrases import WordAutomaton


class TurnEar(ListedEar):
    """Hears the next text of its list in each sound."""

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        return super().hear(self.sound(self.turns.pop(0)), automaton)

    def __init__(self, *turns: str) -> None:
        super().__init__()
        self.turns = list(turns)


Ears = Callable[..., TurnEar]


def clips(folder: Path, *names: str) -> Path:
    folder.mkdir()
    for at, name in enumerate(names):
        noise = np.random.default_rng(at).normal(0, 0.1, RATE_HZ // 2)
        soundfile.write(folder / name, noise, RATE_HZ)
    return folder


DEMO = Path(__file__).parents[2] / "demo_audio"


class Playing(Microphone):
    """A microphone that somebody speaks a recording into, and that ends as told."""

    def __init__(self, ends: MicrophoneError, *names: str) -> None:
        super().__init__(BlockQueue(), RATE_HZ)
        self.ends = ends
        pause = np.zeros(RATE_HZ, np.float32)
        spoken = [np.concatenate([pause, read_sound(DEMO / f"{name}.flac"), pause]) for name in names]
        self.sound = np.concatenate([pause, *spoken])

    def frames(self) -> Iterator[Samples]:
        for at in range(0, len(self.sound) - FRAME_SAMPLES, FRAME_SAMPLES):
            frame = self.sound[at : at + FRAME_SAMPLES]
            self.waiting.put(frame[:, None], overflow=False)
            yield self.waiting.blocks.get_nowait()
        raise self.ends


def plug_in(monkeypatch: pytest.MonkeyPatch, *microphones: Microphone) -> None:
    left = list(microphones)

    @contextmanager
    def opened(_device: object) -> Iterator[Microphone]:
        if not left:
            raise MicrophoneError("none here")
        yield left.pop(0)

    monkeypatch.setattr("voicetech.hearing.microphone.open_microphone", opened)


END = MicrophoneError("The recording ends. Go on by keyboard: voicetech chat")
