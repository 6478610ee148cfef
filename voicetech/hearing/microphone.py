"""Frames from a microphone. The sound card's callback only queues; everything else happens in the reader.

Opens the device at its own rate and resamples. A device that goes silent, as one does when it is pulled out, is
noticed by the time of its last block; one that gives far too few samples by counting them.
"""

import queue
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import soxr

from voicetech.hearing.errors import MicrophoneError
from voicetech.hearing.frames import RATE_HZ, Samples, cut_frames

BLOCK_S = 0.032
LOST_AFTER_S = 2.0
"""A device that gives no block for this long has gone. Common practice, no source."""
COUNTED_AFTER_S = 5.0
LEAST_SHARE = 0.5
"""A device that has given less than this share of its samples by then works at another rate than it claims."""
QUEUED_BLOCKS = 512
"""About 16 s; a reader that falls further behind loses sound, and is told so."""
_BY_KEYBOARD = "or go on by keyboard: voicetech chat"


@dataclass(slots=True)
class BlockQueue:
    """Blocks between the sound card's thread and the reader, with what went wrong on the way."""

    blocks: "queue.Queue[Samples]" = field(default_factory=lambda: queue.Queue(QUEUED_BLOCKS))
    overflowed: bool = False
    queued: int = 0
    """Samples that were queued so far; written by the sound card's thread only."""
    dropped: int = 0
    """Samples of these that were thrown away unread; written by the reader only."""

    @property
    def samples(self) -> int:
        """Return how many samples the reader has got or will get."""
        return self.queued - self.dropped

    def put(self, indata: Samples, overflow: bool) -> None:
        """Queue one block of shape (samples, channels); never waits."""
        self.overflowed |= overflow
        try:
            self.blocks.put_nowait(indata.mean(axis=1, dtype=np.float32))
        except queue.Full:
            self.overflowed = True
        else:
            self.queued += len(indata)

    def drop(self) -> None:
        """Throw away what waits."""
        while True:
            try:
                self.dropped += len(self.blocks.get_nowait())
            except queue.Empty:
                self.overflowed = False
                return

    def take_overflow(self) -> bool:
        """Return whether sound was lost since the last call."""
        lost, self.overflowed = self.overflowed, False
        return lost


def read_blocks(
    waiting: BlockQueue,
    rate_hz: float = RATE_HZ,
    clock: Callable[[], float] = time.monotonic,
    lost_after_s: float = LOST_AFTER_S,
) -> Iterator[Samples]:
    """Yield blocks as they come.

    Raises MicrophoneError when none has come for `lost_after_s`, or far fewer samples than the rate promises.
    """
    begun_s = last_s = clock()
    counted = False
    while True:
        try:
            block = waiting.blocks.get(timeout=0.1)
        except queue.Empty:
            if clock() - last_s > lost_after_s:
                raise MicrophoneError(
                    f"The microphone stopped giving sound. Plug it in again, {_BY_KEYBOARD}"
                ) from None
            continue
        last_s = clock()
        if not counted and last_s - begun_s >= COUNTED_AFTER_S:
            counted = True
            if waiting.samples < LEAST_SHARE * (last_s - begun_s) * rate_hz:
                raise MicrophoneError(
                    f"The microphone gives fewer samples than its {rate_hz:.0f} a second. Choose another one with "
                    f"--mic, {_BY_KEYBOARD}"
                )
        yield block


def resampled(blocks: Iterator[Samples], rate_hz: float) -> Iterator[Samples]:
    """Yield the same sound at 16 kHz."""
    if rate_hz == RATE_HZ:
        yield from blocks
        return
    stream = soxr.ResampleStream(rate_hz, RATE_HZ, 1, dtype="float32", quality="HQ")
    for block in blocks:
        yield stream.resample_chunk(block)


@dataclass(slots=True)
class Microphone:
    """An open device: its frames, and whether sound was lost."""

    waiting: BlockQueue
    rate_hz: float

    def frames(self) -> Iterator[Samples]:
        """Yield frames of 512 samples at 16 kHz. Raises MicrophoneError when the device goes silent."""
        return cut_frames(resampled(read_blocks(self.waiting, self.rate_hz), self.rate_hz))

    def start_afresh(self) -> None:
        """Forget what came in before anybody was asked anything; only before the first frame is read."""
        self.waiting.drop()

    def now_s(self) -> float:
        """Return how much sound the device has given, in seconds; frames still queued are counted."""
        return self.waiting.samples / self.rate_hz


@contextmanager
def open_microphone(device: str | int | None = None) -> Iterator[Microphone]:
    """Give an open microphone, closed afterwards; `device` is its number, or part of its name.

    Raises MicrophoneError where PortAudio is missing, there is no such device or it cannot be opened.
    """
    sounddevice = _sounddevice()
    waiting = BlockQueue()

    def queued(indata: Samples, _frames: int, _time: object, status: Any) -> None:
        waiting.put(indata, bool(status.input_overflow))

    try:
        # Started anew each time, or a headset plugged in later is not seen.
        sounddevice._terminate()
        sounddevice._initialize()
        number = _number(device, sounddevice.query_devices())
        rate_hz = float(sounddevice.query_devices(number, "input")["default_samplerate"])
        stream = sounddevice.InputStream(
            device=number, samplerate=rate_hz, channels=1, dtype="float32",
            blocksize=round(rate_hz * BLOCK_S), callback=queued,
        )  # fmt: skip
        stream.start()
    except (sounddevice.PortAudioError, ValueError) as error:
        raise MicrophoneError(
            f"No microphone can be opened ({error}). Plug one in and try again, {_BY_KEYBOARD}"
        ) from error
    try:
        yield Microphone(waiting, rate_hz)
    finally:
        stream.close()


def _number(device: str | int | None, devices: Any) -> int | None:
    """Return the number of the input device that is meant, None for the system's own choice."""
    if device is None:
        return None
    inputs = {at: str(one["name"]) for at, one in enumerate(devices) if one["max_input_channels"] > 0}
    if isinstance(device, str) and device.strip().isdecimal():
        device = int(device)
    if isinstance(device, int):
        found = [device] if device in inputs else []
    else:
        named = [at for at, name in inputs.items() if device.lower() in name.lower()]
        found = [at for at in named if inputs[at].lower() == device.lower()] or named
    if len(found) == 1:
        return found[0]
    known = "; ".join(f"{at}: {name}" for at, name in inputs.items()) or "none"
    which = "fits more than one microphone" if found else "is no microphone here"
    raise MicrophoneError(f"{device!r} {which}. There are: {known}. Give --mic one of the numbers, {_BY_KEYBOARD}")


def _sounddevice() -> Any:
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise MicrophoneError(
            "The microphone needs the PortAudio library, which is not on this machine. Install it (Debian, Ubuntu: "
            f"sudo apt install libportaudio2), {_BY_KEYBOARD}"
        ) from error
    return sounddevice
