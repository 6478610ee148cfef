"""The voice's own process: makes speech with the library that `espeakng-loader` carries, and plays sound.

It is run as a script, with a folder of its own as the only argument, and imports nothing of this package:
whatever hangs or crashes in here takes neither the job nor the microphone with it, and ending the process is
how a prompt is cut short. It reads one JSON object a line and answers each with one:

    {"synthesise": text, "words_per_minute": whole number, "volume": number, "path": WAV file to write}
    {"play": WAV file}

An answer is {} or {"error": words for the technician, "lasting": whether trying again is of no use}.

The library is called directly and synchronously. Through pyttsx3, which drives it asynchronously and may
return before the sound is complete, sentences came out empty, cut short or at the rate set before (measured
with pyttsx3 2.99 on two busy cores: in 24 of 80 runs of three sentences).
"""

import ctypes
import json
import os
import signal
import sys
import threading
import wave
from collections.abc import Callable
from pathlib import Path
from queue import SimpleQueue
from typing import Any

_SYNCHRONOUS = 2
_DO_NOT_EXIT = 1 << 15
_RATE, _VOLUME = 1, 2
_UTF_8, _PAUSE_AT_END = 1, 0x1000
"""Source: eSpeak NG's public header speak_lib.h (from memory, and tried)."""

_VOICE = b"en-us"
_LONGEST_DATA_PATH = 120
"""Source: measured with eSpeak NG 1.52; a path of 145 bytes and more is cut off and the data is not found."""

_TakeSound = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p)


class _VoiceError(Exception):
    """Words for the technician, and whether trying again is of no use."""

    def __init__(self, words: str, lasting: bool = False) -> None:
        super().__init__(words)
        self.lasting = lasting


class _Voice:
    def __init__(self, folder: Path) -> None:
        try:
            import espeakng_loader

            self._library = ctypes.CDLL(espeakng_loader.get_library_path())
        except (ImportError, OSError) as cause:
            raise _VoiceError(
                f"The speech library could not be loaded ({cause}); install voicetech again or work by text.",
                lasting=True,
            ) from cause
        data = _short_path(Path(espeakng_loader.get_data_path()), folder)
        self.rate_hz = self._library.espeak_Initialize(_SYNCHRONOUS, 0, os.fsencode(data), _DO_NOT_EXIT)
        if self.rate_hz <= 0 or self._library.espeak_SetVoiceByName(_VOICE) != 0:
            raise _VoiceError("The speech library found no English voice; install voicetech again.", lasting=True)
        self._sound = bytearray()
        self._take_sound = _TakeSound(self._take)
        self._library.espeak_SetSynthCallback(self._take_sound)

    def _take(self, samples: int | None, count: int, _events: int | None) -> int:
        if samples and count > 0:
            self._sound += ctypes.string_at(samples, count * 2)
        return 0

    def synthesise(self, text: str, words_per_minute: int, volume: float, path: str) -> None:
        self._sound.clear()
        self._library.espeak_SetParameter(_RATE, words_per_minute, 0)
        self._library.espeak_SetParameter(_VOLUME, round(volume * 100), 0)
        words = text.encode()
        failed = self._library.espeak_Synth(
            words, ctypes.c_size_t(len(words) + 1), 0, 0, 0, _UTF_8 | _PAUSE_AT_END, None, None
        )
        if failed or not self._sound:
            raise _VoiceError(f"The voice made no sound of {text!r}; read it on the screen.")
        with wave.open(path, "wb") as sound:
            sound.setnchannels(1)
            sound.setsampwidth(2)
            sound.setframerate(self.rate_hz)
            sound.writeframes(bytes(self._sound))


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


def _answer(request: dict[str, Any], voice: Callable[[], _Voice]) -> dict[str, object]:
    try:
        if "play" in request:
            _play(request["play"])
        else:
            voice().synthesise(request["synthesise"], request["words_per_minute"], request["volume"], request["path"])
    except _VoiceError as trouble:
        return {"error": str(trouble), "lasting": trouble.lasting}
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
    made: list[_Voice] = []

    def voice() -> _Voice:
        if not made:
            made.append(_Voice(Path(sys.argv[1])))
        return made[0]

    requests: SimpleQueue[str] = SimpleQueue()
    threading.Thread(target=_read_requests, args=(requests,), daemon=True).start()
    while True:
        answer = _answer(json.loads(requests.get()), voice)
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
