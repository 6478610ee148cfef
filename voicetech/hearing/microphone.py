"""Frames from a microphone. The sound card's callback only queues; everything else happens in the reader.

Opens the device at its own rate and resamples. A device that goes silent, as one does when it is pulled out, is
noticed by the time of its last block.
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
QUEUED_BLOCKS = 512
"""About 16 s; a reader that falls further behind loses sound, and is told so."""


@dataclass(slots=True)
class BlockQueue:
    """Blocks between the sound card's thread and the reader, with what went wrong on the way."""

    blocks: "queue.Queue[Samples]" = field(default_factory=lambda: queue.Queue(QUEUED_BLOCKS))
    overflowed: bool = False

    def put(self, indata: Samples, overflow: bool) -> None:
        """Queue one block of shape (samples, channels); never waits."""
        self.overflowed |= overflow
        try:
            self.blocks.put_nowait(indata.mean(axis=1, dtype=np.float32))
        except queue.Full:
            self.overflowed = True

    def take_overflow(self) -> bool:
        """Return whether sound was lost since the last call."""
        lost, self.overflowed = self.overflowed, False
        return lost


def read_blocks(
    waiting: BlockQueue, clock: Callable[[], float] = time.monotonic, lost_after_s: float = LOST_AFTER_S
) -> Iterator[Samples]:
    """Yield blocks as they come. Raises MicrophoneError when none has come for `lost_after_s`."""
    last_s = clock()
    while True:
        try:
            block = waiting.blocks.get(timeout=0.1)
        except queue.Empty:
            if clock() - last_s > lost_after_s:
                raise MicrophoneError(
                    "The microphone has stopped giving sound. Plug it in again, or go on by keyboard: voicetech chat"
                ) from None
            continue
        last_s = clock()
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
        return cut_frames(resampled(read_blocks(self.waiting), self.rate_hz))


@contextmanager
def open_microphone(device: str | int | None = None) -> Iterator[Microphone]:
    """Give an open microphone, closed afterwards.

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
        found = sounddevice.query_devices(device, "input")
        rate_hz = float(found["default_samplerate"])
        stream = sounddevice.InputStream(
            device=device, samplerate=rate_hz, channels=1, dtype="float32",
            blocksize=round(rate_hz * BLOCK_S), callback=queued,
        )  # fmt: skip
    except (sounddevice.PortAudioError, ValueError) as error:
        raise MicrophoneError(
            f"No microphone can be opened ({error}). Plug one in and try again, or go on by keyboard: voicetech chat"
        ) from error
    with stream:
        yield Microphone(waiting, rate_hz)


def _sounddevice() -> Any:
    try:
        import sounddevice
    except OSError as error:
        raise MicrophoneError(
            "The microphone needs the PortAudio library, which is not on this machine. Install it (Debian, Ubuntu: "
            "apt install libportaudio2), or go on by keyboard: voicetech chat"
        ) from error
    return sounddevice
