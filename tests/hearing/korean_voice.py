"""Says Korean words into a WAV file with the library that `espeakng-loader` carries: WORDS FILE.

Run as a script, once for each file: what the library said before colours what it says next. Source of the calls:
eSpeak NG's public header speak_lib.h.
"""

import ctypes
import sys
import wave

import espeakng_loader

_SYNCHRONOUS, _DO_NOT_EXIT, _RATE, _UTF_8 = 2, 1 << 15, 1, 1
_VOICE, _WORDS_PER_MINUTE = b"ko+f3", 110


def say(words: str, path: str) -> None:
    """Write the words to the file."""
    library = ctypes.CDLL(espeakng_loader.get_library_path())
    rate_hz = library.espeak_Initialize(_SYNCHRONOUS, 0, espeakng_loader.get_data_path().encode(), _DO_NOT_EXIT)
    sound = bytearray()

    def take(samples: int | None, count: int, _events: int | None) -> int:
        if samples and count > 0:
            sound.extend(ctypes.string_at(samples, count * 2))
        return 0

    taking = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p)(take)
    library.espeak_SetSynthCallback(taking)
    if library.espeak_SetVoiceByName(_VOICE) != 0:
        raise SystemExit("the speech library has no Korean voice")
    library.espeak_SetParameter(_RATE, _WORDS_PER_MINUTE, 0)
    text = words.encode()
    library.espeak_Synth(text, ctypes.c_size_t(len(text) + 1), 0, 0, 0, _UTF_8, None, None)
    with wave.open(path, "wb") as written:
        written.setnchannels(1)
        written.setsampwidth(2)
        written.setframerate(rate_hz)
        written.writeframes(bytes(sound))


if __name__ == "__main__":
    say(sys.argv[1], sys.argv[2])
