"""The microphone over a sound library that is made here."""

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from voicetech.hearing.errors import MicrophoneError, MicrophoneLostError
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, RATE_HZ, Samples
from voicetech.hearing.microphone import (
    QUEUED_BLOCKS,
    BlockQueue,
    LastingMicrophone,
    Microphone,
    open_microphone,
    read_blocks,
)

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
        if self.refuses == "opening" or (self.refuses == "one channel" and settings["channels"] == 1):
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


def test_a_device_that_gives_no_single_channel_is_opened_with_all(monkeypatch: pytest.MonkeyPatch) -> None:
    library = Library("one channel")
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    with open_microphone("built-in") as microphone:
        assert library.opened["channels"] == 2
        both = np.stack([np.full(512, 0.5, np.float32), np.zeros(512, np.float32)], axis=1)
        library.opened["callback"](both, 512, None, SimpleNamespace(input_overflow=False))
        assert float(next(microphone.frames())[0]) == 0.25
    with pytest.raises(MicrophoneError, match="No microphone can be opened"), open_microphone("headset one"):
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
    with pytest.raises(MicrophoneLostError, match="stopped giving sound"):
        next(blocks)


def test_a_microphone_at_another_rate_than_it_claims_is_noticed() -> None:
    waiting = BlockQueue()
    for _ in range(2):
        waiting.put(np.zeros((512, 1), np.float32), overflow=False)
    blocks = read_blocks(waiting, 16_000, clock(0.0, 1.0, 6.0))
    next(blocks)
    with pytest.raises(MicrophoneError, match="fewer samples"):
        next(blocks)


class Plugged(Microphone):
    """A microphone that gives so many frames of a level, and is then pulled out."""

    def __init__(self, level: float, frames: int) -> None:
        super().__init__(BlockQueue(), RATE_HZ)
        self.level = level
        self.left = frames
        self.closed = False

    def frames(self) -> Iterator[Samples]:
        for _ in range(self.left):
            block = np.full((FRAME_SAMPLES, 1), self.level, np.float32)
            self.waiting.put(block, overflow=False)
            yield self.waiting.blocks.get_nowait()
        raise MicrophoneLostError("pulled out")


class Socket:
    """Where microphones are plugged in, one after the other; None is an attempt that fails."""

    def __init__(self, *microphones: Plugged | None) -> None:
        self.left = list(microphones)
        self.attempts = 0
        self.tried = threading.Semaphore(0)
        self.told: list[str] = []
        self.slept_s = 0.0

    @contextmanager
    def open(self) -> Iterator[Microphone]:
        self.attempts += 1
        microphone = self.left.pop(0) if self.left else None
        if microphone is None:
            self.tried.release()
            raise MicrophoneError("none here")
        try:
            yield microphone
        finally:
            microphone.closed = True

    def sleep(self, seconds: float) -> None:
        self.slept_s += seconds
        self.tried.acquire(timeout=0.02)

    def frames(self, lasting: LastingMicrophone, enough: Callable[[list[float]], bool]) -> list[float]:
        levels: list[float] = []
        for frame in lasting.frames(lambda: self.told.append("gone"), lambda: self.told.append("back")):
            levels.append(float(frame[0]))
            assert len(levels) < 1_000, "it never came back"
            if enough(levels):
                break
        return levels


def test_a_microphone_that_comes_back_is_taken_up_again_and_time_goes_on() -> None:
    first, second = Plugged(0.25, 10), Plugged(0.75, 10)
    socket = Socket(first, None, second)
    lasting = LastingMicrophone(socket.open, socket.sleep)
    times_s: list[float] = []

    def enough(levels: list[float]) -> bool:
        times_s.append(lasting.now_s())
        return levels.count(0.75) == 10

    levels = socket.frames(lasting, enough)
    silence = levels.count(0.0)
    assert levels == [0.25] * 10 + [0.0] * silence + [0.75] * 10
    assert silence > 2.0 / FRAME_S, "an attempt that failed is repeated after a while, not at once"
    assert socket.slept_s == pytest.approx(silence * FRAME_S)
    assert socket.told == ["gone", "back"]
    assert socket.attempts == 3
    assert first.closed
    assert times_s == pytest.approx([FRAME_S * (at + 1) for at in range(len(levels))])
    assert not second.closed
    lasting.close()
    assert second.closed


def test_the_break_is_told_as_lost_sound_once() -> None:
    socket = Socket(Plugged(0.25, 3))
    lasting = LastingMicrophone(socket.open, socket.sleep)
    assert not lasting.take_loss()
    socket.frames(lasting, lambda levels: 0.0 in levels)
    assert lasting.take_loss()
    assert not lasting.take_loss()
    lasting.close()


def test_a_microphone_that_opens_and_gives_nothing_is_not_called_back() -> None:
    socket = Socket(Plugged(0.25, 3), Plugged(0.5, 0), Plugged(0.75, 3))
    lasting = LastingMicrophone(socket.open, socket.sleep)
    levels = socket.frames(lasting, lambda levels: 0.75 in levels)
    assert 0.5 not in levels
    assert socket.told == ["gone", "back"]
    lasting.close()


def test_the_first_opening_has_to_succeed() -> None:
    socket = Socket(None)
    with pytest.raises(MicrophoneError, match="none here"):
        LastingMicrophone(socket.open, socket.sleep)


def test_what_cannot_be_used_is_not_tried_again() -> None:
    class Wrong(Plugged):
        def frames(self) -> Iterator[Samples]:
            yield np.zeros(FRAME_SAMPLES, np.float32)
            raise MicrophoneError("fewer samples than it claims")

    socket = Socket(Wrong(0.0, 1))
    lasting = LastingMicrophone(socket.open, socket.sleep)
    with pytest.raises(MicrophoneError, match="fewer samples"):
        socket.frames(lasting, lambda _levels: False)
    assert socket.attempts == 1
    lasting.close()


def test_a_device_that_refuses_to_be_closed_holds_nobody_up() -> None:
    socket = Socket(Plugged(0.25, 3), Plugged(0.75, 3))

    @contextmanager
    def stubborn() -> Iterator[Microphone]:
        with socket.open() as microphone:
            try:
                yield microphone
            finally:
                raise PortAudioError("Device unavailable")

    lasting = LastingMicrophone(stubborn, socket.sleep)
    assert 0.75 in socket.frames(lasting, lambda levels: 0.75 in levels)
    lasting.close()
