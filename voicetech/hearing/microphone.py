"""Frames from a microphone. The sound card's callback only queues; everything else happens in the reader.

Opens the device at its own rate and resamples. A device that goes silent, as one does when it is pulled out, is
noticed by the time of its last block; one that gives far too few samples by counting them. While it is gone silence
stands in for it, and it is opened again by itself.
"""

import queue
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import soxr

from voicetech.hearing.errors import MicrophoneError, MicrophoneLostError
from voicetech.hearing.frames import FRAME_S, FRAME_SAMPLES, RATE_HZ, Samples, cut_frames

BLOCK_S = 0.032
LOST_AFTER_S = 2.0
"""A device that gives no block for this long has gone. Common practice, no source."""
COUNTED_AFTER_S = 5.0
LEAST_SHARE = 0.5
"""A device that has given less than this share of its samples by then works at another rate than it claims."""
QUEUED_BLOCKS = 512
"""About 16 s; a reader that falls further behind loses sound, and is told so."""
TRY_AGAIN_S: Final = 2.0
"""Between two attempts to open a microphone that has gone. Judgement, no source."""
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

    Raises MicrophoneLostError when none has come for `lost_after_s`, and MicrophoneError when far fewer samples came
    than the rate promises.
    """
    begun_s = last_s = clock()
    counted = False
    while True:
        try:
            block = waiting.blocks.get(timeout=0.1)
        except queue.Empty:
            if clock() - last_s > lost_after_s:
                raise MicrophoneLostError(
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


class LastingMicrophone:
    """A microphone that may go and come back; its time goes on as if it never had.

    While it is gone, frames of silence come at the pace of sound, so that whoever reads them can do other work. Each
    attempt to open it again is made in a thread of its own: a device library that hangs holds nobody up.
    """

    def __init__(
        self,
        open_one: Callable[[], AbstractContextManager[Microphone]],
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        """Open it for the first time. Raises MicrophoneError where that fails."""
        self._open_one = open_one
        self._sleep = sleep
        self._frames_given = 0
        self._began_at_s = 0.0
        self._broken = False
        self._come_back: queue.SimpleQueue[tuple[AbstractContextManager[Microphone], Microphone] | None]
        self._come_back = queue.SimpleQueue()
        context = open_one()
        self._microphone: Microphone | None = context.__enter__()
        self._context: AbstractContextManager[Microphone] | None = context

    def frames(self, on_lost: Callable[[], None], on_back: Callable[[], None]) -> Iterator[Samples]:
        """Yield frames of 512 samples at 16 kHz without end; tells when the device has gone and gives sound again.

        Raises MicrophoneError where it works but cannot be used.
        """
        lost = False
        while True:
            microphone = self._microphone
            if microphone is None:
                yield from self._silence_until_back()
                continue
            try:
                for frame in microphone.frames():
                    self._frames_given += 1
                    if lost:
                        lost = False
                        on_back()
                    yield frame
            except MicrophoneLostError:
                self._microphone, self._broken = None, True
                if not lost:
                    lost = True
                    on_lost()

    def now_s(self) -> float:
        """Return how much sound has been given, in seconds, the silence and frames still queued included."""
        microphone = self._microphone
        if microphone is None:
            return self._frames_given * FRAME_S
        return self._began_at_s + microphone.now_s()

    def take_loss(self) -> bool:
        """Return whether sound was lost since the last call."""
        broken, self._broken = self._broken, False
        microphone = self._microphone
        return (microphone is not None and microphone.waiting.take_overflow()) or broken

    def start_afresh(self) -> None:
        """Forget what came in before anybody was asked anything; only before the first frame is read."""
        if self._microphone is not None:
            self._microphone.start_afresh()

    def close(self) -> None:
        """Let go of the device."""
        context, self._context = self._context, None
        if context is not None:
            _leave(context)

    def _silence_until_back(self) -> Iterator[Samples]:
        silence = np.zeros(FRAME_SAMPLES, np.float32)
        wait = tries_every = round(TRY_AGAIN_S / FRAME_S)
        trying = False
        while True:
            if not trying and wait >= tries_every:
                trying, wait = True, 0
                gone, self._context = self._context, None
                threading.Thread(target=self._try_again, args=(gone,), daemon=True).start()
            self._sleep(FRAME_S)
            wait += 1
            self._frames_given += 1
            yield silence
            with suppress(queue.Empty):
                opened = self._come_back.get_nowait()
                trying = False
                if opened is not None:
                    self._context, microphone = opened
                    self._began_at_s = self._frames_given * FRAME_S
                    self._microphone = microphone
                    return

    def _try_again(self, gone: AbstractContextManager[Microphone] | None) -> None:
        if gone is not None:
            _leave(gone)
        try:
            context = self._open_one()
            self._come_back.put((context, context.__enter__()))
        except MicrophoneError:
            self._come_back.put(None)


def _leave(context: AbstractContextManager[Microphone]) -> None:
    # A device that is gone may refuse to be closed, in words of its library's own.
    with suppress(Exception):
        context.__exit__(None, None, None)


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
        about = sounddevice.query_devices(number, "input")
        rate_hz = float(about["default_samplerate"])
        stream = _started(sounddevice, number, rate_hz, int(about["max_input_channels"]), queued)
    except (sounddevice.PortAudioError, ValueError) as error:
        raise MicrophoneError(
            f"No microphone can be opened ({error}). Plug one in and try again, {_BY_KEYBOARD}"
        ) from error
    try:
        yield Microphone(waiting, rate_hz)
    finally:
        stream.close()


def _started(sounddevice: Any, number: int | None, rate_hz: float, most_channels: int, queued: Any) -> Any:
    """Return a running stream of one channel, or of all where the device gives no single one."""

    def started(channels: int) -> Any:
        stream = sounddevice.InputStream(
            device=number, samplerate=rate_hz, channels=channels, dtype="float32",
            blocksize=round(rate_hz * BLOCK_S), callback=queued,
        )  # fmt: skip
        stream.start()
        return stream

    try:
        return started(1)
    except sounddevice.PortAudioError:
        if most_channels < 2:
            raise
        return started(most_channels)


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
