"""The microphone over a sound library that is made here."""

import sys
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from voicetech.hearing.errors import MicrophoneError
from voicetech.hearing.frames import FRAME_SAMPLES
from voicetech.hearing.microphone import QUEUED_BLOCKS, BlockQueue, open_microphone, read_blocks

DEVICES = [
    {"name": "Loudspeaker", "max_input_channels": 0, "default_samplerate": 48_000.0},
    {"name": "Headset one", "max_input_channels": 1, "default_samplerate": 48_000.0},
    {"name": "Headset two", "max_input_channels": 2, "default_samplerate": 44_100.0},
    {"name": "Built-in", "max_input_channels": 2, "default_samplerate": 16_000.0},
]


class PortAudioError(Exception):
    pass


class Library:
    """As much of sounddevice as a microphone uses."""

    PortAudioError = PortAudioError

    def __init__(self, refuses: str | None = None) -> None:
        self.refuses = refuses
        self.opened: dict[str, Any] = {}
        self.started = self.closed = False
        self.restarts = 0

    def _terminate(self) -> None:
        pass

    def _initialize(self) -> None:
        self.restarts += 1

    def query_devices(self, device: int | None = None, kind: str | None = None) -> Any:
        if kind is None:
            return DEVICES
        return DEVICES[3 if device is None else device]

    def InputStream(self, **settings: Any) -> "Library":  # noqa: N802 - the library's own name
        if self.refuses == "opening":
            raise PortAudioError("Invalid sample rate")
        self.opened = settings
        return self

    def start(self) -> None:
        if self.refuses == "starting":
            raise PortAudioError("Device unavailable")
        self.started = True

    def close(self) -> None:
        self.closed = True

    def give(self, samples: int, overflow: bool = False, level: float = 0.25) -> None:
        block = np.full((samples, 1), level, np.float32)
        self.opened["callback"](block, samples, None, SimpleNamespace(input_overflow=overflow))


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Library:
    made = Library()
    monkeypatch.setitem(sys.modules, "sounddevice", made)
    return made


def test_the_device_is_opened_at_its_own_rate_and_closed(library: Library) -> None:
    with open_microphone("headset one") as microphone:
        assert library.opened["device"] == 1
        assert library.opened["samplerate"] == 48_000.0
        assert library.started
        assert microphone.rate_hz == 48_000.0
        assert not library.closed
    assert library.closed
    assert library.restarts == 1


def test_frames_come_at_sixteen_kilohertz(library: Library) -> None:
    with open_microphone(1) as microphone:
        for _ in range(20):
            library.give(4_800)
        frames = microphone.frames()
        first = [next(frames) for _ in range(50)]
        assert {frame.shape for frame in first} == {(FRAME_SAMPLES,)}
        assert float(first[25].mean()) == pytest.approx(0.25, abs=0.01)
        assert microphone.now_s() == pytest.approx(2.0)


@pytest.mark.parametrize(("device", "number"), [(None, None), ("2", 2), (3, 3), ("built", 3), ("HEADSET TWO", 2)])
def test_a_device_is_named_by_number_or_by_part_of_its_name(
    library: Library, device: str | int | None, number: int | None
) -> None:
    with open_microphone(device):
        assert library.opened["device"] == number


@pytest.mark.parametrize("device", ["telephone", "0", 0, 17, "17", "headset", "-1"])
def test_an_unknown_device_is_answered_with_the_list(library: Library, device: str | int) -> None:
    with (
        pytest.raises(MicrophoneError, match="1: Headset one; 2: Headset two; 3: Built-in") as error,
        open_microphone(device),
    ):
        pass
    assert "Loudspeaker" not in str(error.value)


@pytest.mark.parametrize("refuses", ["opening", "starting"])
def test_a_device_that_cannot_be_opened_says_why(monkeypatch: pytest.MonkeyPatch, refuses: str) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", Library(refuses))
    with pytest.raises(MicrophoneError, match="voicetech chat"), open_microphone():
        pass


def test_without_portaudio_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(MicrophoneError, match=r"libportaudio2.*voicetech chat"), open_microphone():
        pass


def test_what_came_in_before_anybody_was_asked_is_forgotten(library: Library) -> None:
    with open_microphone(3) as microphone:
        for _ in range(10):
            library.give(512, overflow=True)
        microphone.start_afresh()
        assert microphone.now_s() == 0.0
        assert not microphone.waiting.take_overflow()
        library.give(512, level=0.75)
        assert float(next(microphone.frames())[0]) == 0.75
        assert microphone.now_s() == pytest.approx(0.032)


def test_lost_sound_is_told_once(library: Library) -> None:
    with open_microphone() as microphone:
        library.give(512, overflow=True)
        assert microphone.waiting.take_overflow()
        assert not microphone.waiting.take_overflow()


def test_a_reader_that_falls_behind_loses_sound_and_is_told() -> None:
    waiting = BlockQueue()
    block = np.zeros((512, 1), np.float32)
    for _ in range(QUEUED_BLOCKS):
        waiting.put(block, overflow=False)
    assert not waiting.take_overflow()
    waiting.put(block, overflow=False)
    assert waiting.take_overflow()
    assert waiting.samples == QUEUED_BLOCKS * 512


def clock(*times_s: float) -> Callable[[], float]:
    left = list(times_s)
    return lambda: left.pop(0) if len(left) > 1 else left[0]


def test_a_microphone_that_is_pulled_out_is_noticed() -> None:
    waiting = BlockQueue()
    waiting.put(np.zeros((512, 1), np.float32), overflow=False)
    blocks = read_blocks(waiting, clock=clock(0.0, 0.1, 1.0, 2.2))
    next(blocks)
    with pytest.raises(MicrophoneError, match="stopped giving sound"):
        next(blocks)


def test_a_microphone_at_another_rate_than_it_claims_is_noticed() -> None:
    waiting = BlockQueue()
    for _ in range(2):
        waiting.put(np.zeros((512, 1), np.float32), overflow=False)
    blocks = read_blocks(waiting, 16_000, clock(0.0, 1.0, 6.0))
    next(blocks)
    with pytest.raises(MicrophoneError, match="fewer samples"):
        next(blocks)
