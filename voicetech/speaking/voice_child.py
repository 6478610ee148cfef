"""The voice's own process: makes speech with the library that `espeakng-loader` carries, and plays sound.

It is run as a script with two arguments, a folder of its own and what drives the library, and imports nothing of
this package: whatever hangs or crashes in here takes neither the job nor the microphone with it, and ending the
process is how a prompt is cut short. It reads one JSON object a line and answers each with one:

    {"synthesise": text, "words_per_minute": whole number, "volume": number, "path": WAV file to write,
     "at_least_s": number, "at_most_s": number}
    {"play": WAV file}

An answer is {} or {"error": words for the technician, "lasting": whether trying again is of no use}; with "unsaid"
true it is pyttsx3 that did not say the whole prompt, and "library" in its place may.

Driven by "pyttsx3" the library speaks through that package; elsewhere than on Linux the package speaks with the
system's own voice. Driven by "library" it is called directly and synchronously, which is the way out when a prompt
did not come out whole.
"""

import contextlib
import ctypes
import json
import os
import signal
import sys
import threading
import time
import wave
from collections.abc import Callable
from functools import cache
from pathlib import Path
from queue import SimpleQueue
from typing import Any

_Request = dict[str, Any]

_SYNCHRONOUS = 2
_DO_NOT_EXIT = 1 << 15
_RATE, _VOLUME = 1, 2
_UTF_8, _PAUSE_AT_END = 1, 0x1000
"""Source: eSpeak NG's public header speak_lib.h (from memory, and tried)."""

_VOICE = "en-us"
_LONGEST_DATA_PATH = 120
"""Source: measured with eSpeak NG 1.52; a path of 145 bytes and more is cut off and the data is not found."""

_WRITTEN_WITHIN_S = 2.0
_LOOK_AGAIN_AFTER_S = 0.02
"""A driver may still be writing when it says that it is done. Judgement, no source."""
_LEFT_AFTER_S = 0.02
"""Judgement; what it does not cover is asked for again."""

_TakeSound = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p)


class _VoiceError(Exception):
    """Words for the technician, and whether trying again is of no use."""

    def __init__(self, words: str, lasting: bool = False) -> None:
        super().__init__(words)
        self.lasting = lasting


class _UnsaidError(_VoiceError):
    """pyttsx3 did not say the whole prompt."""


class _Library:
    """The library, called directly and synchronously."""

    def __init__(self, folder: Path) -> None:
        try:
            self._library, data = _load(folder)
        except (ImportError, OSError) as cause:
            raise _VoiceError(
                f"The speech library could not be loaded ({cause}); install voicetech again or work by text.",
                lasting=True,
            ) from cause
        self.rate_hz = self._library.espeak_Initialize(_SYNCHRONOUS, 0, os.fsencode(data), _DO_NOT_EXIT)
        if self.rate_hz <= 0 or self._library.espeak_SetVoiceByName(_VOICE.encode()) != 0:
            raise _VoiceError("The speech library found no English voice; install voicetech again.", lasting=True)
        self._sound = bytearray()
        self._take_sound = _TakeSound(self._take)
        self._library.espeak_SetSynthCallback(self._take_sound)

    def _take(self, samples: int | None, count: int, _events: int | None) -> int:
        if samples and count > 0:
            self._sound += ctypes.string_at(samples, count * 2)
        return 0

    def synthesise(self, request: _Request) -> None:
        self._sound.clear()
        self._library.espeak_SetParameter(_RATE, request["words_per_minute"], 0)
        self._library.espeak_SetParameter(_VOLUME, round(request["volume"] * 100), 0)
        words = request["synthesise"].encode()
        failed = self._library.espeak_Synth(
            words, ctypes.c_size_t(len(words) + 1), 0, 0, 0, _UTF_8 | _PAUSE_AT_END, None, None
        )
        if failed or not self._sound:
            raise _VoiceError(f"The voice made no sound of {request['synthesise']!r}; read it on the screen.")
        with wave.open(request["path"], "wb") as sound:
            sound.setnchannels(1)
            sound.setsampwidth(2)
            sound.setframerate(self.rate_hz)
            sound.writeframes(bytes(self._sound))


class _Pyttsx3:
    """pyttsx3, over the same library on Linux; whatever it gets wrong is an `_UnsaidError`.

    Over eSpeak its `runAndWait` ends the loop before the library has begun, so that settings are cancelled or reach
    the next sentence and files are written late or not at all. `startLoop` alone ends when the sound is complete.
    """

    def __init__(self, folder: Path) -> None:
        self._over_library = sys.platform == "linux"
        try:
            if self._over_library:
                # Loaded under its own name, it is what pyttsx3 gets when it asks for that name.
                self._library, data = _load(folder)
                os.environ["ESPEAK_DATA_PATH"] = str(data)
            import pyttsx3

            self._engine = pyttsx3.init("espeak" if self._over_library else None)
            if self._over_library:
                self._warm_up(folder)
        except Exception as cause:  # any driver of any system may raise anything
            raise _UnsaidError(f"pyttsx3 could not be started ({cause}).", lasting=True) from cause

    def synthesise(self, request: _Request) -> None:
        path = Path(request["path"])
        # What is found afterwards must be new, and a folder that cannot be written to is not the driver's fault.
        path.touch()
        path.unlink()
        try:
            self._say(request)
        except Exception as cause:  # any driver of any system may raise anything
            raise _UnsaidError(f"pyttsx3 failed ({cause}).") from cause
        length_s = _length_once_written_s(path)
        if not request["at_least_s"] <= length_s <= request["at_most_s"]:
            raise _UnsaidError(f"pyttsx3 made {length_s:.2f} s of {request['synthesise']!r}.")

    def _warm_up(self, folder: Path) -> None:
        """Choose the voice in a first sentence that nobody hears: the rate of a process's first is sometimes lost."""
        self._engine.setProperty("voice", _VOICE)
        self._engine.save_to_file("Ready.", str(folder / "first.wav"))
        self._run_until_complete()

    def _run_until_complete(self) -> None:
        self._engine.startLoop()
        # The library's thread is still on its way out of the last sound; endLoop would cancel what it finds at work,
        # and with it the next sentence.
        time.sleep(_LEFT_AFTER_S)
        self._engine.endLoop()

    def _say(self, request: _Request) -> None:
        self._engine.setProperty("rate", request["words_per_minute"])
        self._engine.setProperty("volume", request["volume"] if self._over_library else min(request["volume"], 1.0))
        self._engine.save_to_file(request["synthesise"], request["path"])
        if self._over_library:
            self._run_until_complete()
        else:
            self._engine.runAndWait()
        rate = self._engine.getProperty("rate")
        if rate != request["words_per_minute"]:
            raise _UnsaidError(f"pyttsx3 spoke at {rate} words a minute.")


def _length_once_written_s(path: Path) -> float:
    """Return how long the sound is once the file holds what its header says, 0.0 where that does not come about."""
    give_up_at_s = time.monotonic() + _WRITTEN_WITHIN_S
    while time.monotonic() < give_up_at_s:
        with contextlib.suppress(OSError, EOFError, wave.Error), wave.open(str(path), "rb") as sound:
            count, form = sound.getnframes(), (sound.getnchannels(), sound.getsampwidth())
            if count and form == (1, 2) and len(sound.readframes(count)) == 2 * count:
                return count / sound.getframerate()
        time.sleep(_LOOK_AGAIN_AFTER_S)
    return 0.0


def _load(folder: Path) -> tuple[ctypes.CDLL, Path]:
    import espeakng_loader

    library = ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    return library, _short_path(Path(espeakng_loader.get_data_path()), folder)


def _short_path(data: Path, folder: Path) -> Path:
    if len(os.fsencode(data)) <= _LONGEST_DATA_PATH:
        return data
    link = folder / "espeak-ng-data"
    if not link.exists():
        try:
            link.symlink_to(data, target_is_directory=True)
        except OSError as cause:
            raise _VoiceError(
                f"The speech library cannot read its data from so long a path ({data}); "
                "install voicetech in a folder with a shorter one.",
                lasting=True,
            ) from cause
    return link


def _play(path: str) -> None:
    try:
        import sounddevice
    except (ImportError, OSError) as cause:
        raise _VoiceError(
            "There is no sound: the PortAudio library is missing. Prompts are shown as text. "
            "To hear them, install it (on Debian or Ubuntu: sudo apt install libportaudio2).",
            lasting=True,
        ) from cause
    try:
        _play_through(sounddevice, path)
    except (sounddevice.PortAudioError, ValueError) as cause:
        raise _VoiceError(
            f"There is no sound: no loudspeaker or headset could be opened ({cause}). Prompts are shown as "
            "text. Plug one in, or choose it in the system's sound settings."
        ) from cause


def _play_through(sounddevice: Any, path: str) -> None:
    with wave.open(path, "rb") as sound:
        rate_hz = sound.getframerate()
        samples = sound.readframes(sound.getnframes())
    try:
        sounddevice.check_output_settings(channels=1, dtype="int16", samplerate=rate_hz)
    except sounddevice.PortAudioError:
        device_rate_hz = int(sounddevice.query_devices(kind="output")["default_samplerate"])
        samples = _at_rate(samples, rate_hz, device_rate_hz)
        rate_hz = device_rate_hz
    with sounddevice.RawOutputStream(samplerate=rate_hz, channels=1, dtype="int16") as stream:
        stream.write(samples)
        stream.stop()


def _at_rate(samples: bytes, from_hz: int, to_hz: int) -> bytes:
    import numpy
    import soxr

    resampled: bytes = soxr.resample(numpy.frombuffer(samples, dtype="<i2"), from_hz, to_hz).tobytes()
    return resampled


def _answer(request: _Request, voice: Callable[[], _Library | _Pyttsx3]) -> dict[str, object]:
    try:
        if "play" in request:
            _play(request["play"])
        else:
            voice().synthesise(request)
    except _VoiceError as trouble:
        return {
            "error": str(trouble),
            "lasting": trouble.lasting,
            "unsaid": isinstance(trouble, _UnsaidError),
        }
    except OSError as cause:
        return {"error": f"The sound file could not be written or read ({cause}).", "lasting": False}
    return {}


def _read_requests(requests: "SimpleQueue[str]") -> None:
    for line in sys.stdin:
        requests.put(line)
    # The program that asked is gone, so nobody waits for what is being made or played.
    os._exit(0)


def main() -> None:
    """Answer requests until standard input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # pyttsx3 prints; what is printed must not get between the answers.
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)

    @cache
    def voice() -> _Library | _Pyttsx3:
        return (_Pyttsx3 if sys.argv[2] == "pyttsx3" else _Library)(Path(sys.argv[1]))

    requests: SimpleQueue[str] = SimpleQueue()
    threading.Thread(target=_read_requests, args=(requests,), daemon=True).start()
    while True:
        answer = _answer(json.loads(requests.get()), voice)
        answers.write(json.dumps(answer) + "\n")
        answers.flush()


if __name__ == "__main__":
    main()
