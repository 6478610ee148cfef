"""The voice's process, seen from the job: asked with a time-out, ended when it hangs, started again.

Source: public issue threads of speech output libraries, which report engines that never return, speak only
once or cannot be interrupted; a process can always be ended.
"""

import json
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from enum import StrEnum
from pathlib import Path
from queue import Empty, SimpleQueue
from tempfile import TemporaryDirectory
from typing import IO, cast

from voicetech.language.spoken_length import spoken_length_s
from voicetech.speaking.speaker import WORDS_PER_MINUTE, SpeakingError, VoiceSettings

VOICE_COMMAND = (sys.executable, "-P", str(Path(__file__).with_name("voice_child.py")))
ANSWER_WITHIN_S = 10.0
PYTTSX3_WITHIN_S = 5.0
"""pyttsx3 may be asked twice before the library is called directly, and nobody waits half a minute for a prompt."""
_LEAST_SHARE, _SURPLUS_S, _LONGEST_NAME_S = 0.5, 1.0, 0.8


class Driver(StrEnum):
    """What makes a prompt; the values are what the voice's process is told."""

    PYTTSX3 = "pyttsx3"
    LIBRARY = "library"


class VoiceLostError(SpeakingError):
    """The voice's process hung or died; the next request gets a new one."""


class VoiceInterruptedError(SpeakingError):
    """The prompt was cut short because that was asked for."""


class NoVoiceError(SpeakingError):
    """Nothing can be said or played until something is installed or mended."""


class UnsaidError(SpeakingError):
    """pyttsx3 did not say the whole prompt; `lasting` where it cannot be used at all."""

    def __init__(self, words: str, lasting: bool) -> None:
        super().__init__(words)
        self.lasting = lasting


class _Process:
    """One running voice; its answers are gathered by a thread, so that waiting for one can end."""

    def __init__(self, command: Sequence[str]) -> None:
        try:
            # A session of its own keeps Ctrl-C in the terminal away from it; what the sound system prints is no
            # use to a technician.
            self._process = subprocess.Popen(  # noqa: S603
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                encoding="utf-8",
                start_new_session=True,
            )
        except OSError as cause:
            raise SpeakingError(f"The voice could not be started ({cause}); work by text.") from cause
        self._requests = cast("IO[str]", self._process.stdin)
        self._lines = cast("IO[str]", self._process.stdout)
        self._answers: SimpleQueue[str | None] = SimpleQueue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        for line in self._lines:
            self._answers.put(line)
        self._answers.put(None)

    def ask(self, request: Mapping[str, object], within_s: float) -> dict[str, object]:
        try:
            self._requests.write(json.dumps(request) + "\n")
            self._requests.flush()
            line = self._answers.get(timeout=within_s)
        except Empty:
            raise VoiceLostError(f"The voice was silent for {within_s:.0f} s and was started again.") from None
        except (OSError, ValueError):
            line = None
        if line is None:
            raise VoiceLostError("The voice stopped working and was started again.")
        answer: dict[str, object] = json.loads(line)
        return answer

    def end(self) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join()
        self._lines.close()
        # A request that the process never read is still buffered, and nobody is left to read it.
        with suppress(OSError):
            self._requests.close()


class ChildVoice:
    """A voice that makes sound files and plays them, whatever happens to the process that does it.

    pyttsx3 makes them. A prompt that it left out, cut short or hung on is asked of it once more in a new process and
    then made by the library itself; where pyttsx3 cannot be loaded or hangs, the library makes those after it too.
    """

    def __init__(self, command: Sequence[str] = VOICE_COMMAND, answer_within_s: float = ANSWER_WITHIN_S) -> None:
        self._folder = TemporaryDirectory(prefix="voicetech-voice-")
        self.folder = Path(self._folder.name)
        self._command = (*command, self._folder.name)
        self._first = self._running = Driver.PYTTSX3
        self._made_by: Driver | None = None
        self._answer_within_s = answer_within_s
        self._lock = threading.Lock()
        self._asking = False
        self._interrupted = False
        self._closed = False
        try:
            self._process = _Process((*self._command, self._running))
        except SpeakingError:
            self._folder.cleanup()
            raise

    @property
    def driver(self) -> Driver | None:
        """Return what made the last sound file, None before the first."""
        return self._made_by

    def begin(self) -> None:
        """Start a prompt: an interruption from before does not count against it."""
        with self._lock:
            self._interrupted = False

    def synthesise(self, text: str, settings: VoiceSettings, path: Path) -> None:
        """Write the spoken text to a WAV file; raises `SpeakingError`."""
        at_least_s, at_most_s = plausible_lengths_s(text, settings.words_per_minute)
        request = {
            "synthesise": text,
            "words_per_minute": settings.words_per_minute,
            "volume": settings.volume,
            "path": str(path),
            "at_least_s": at_least_s,
            "at_most_s": at_most_s,
        }
        pyttsx3_first = self._first is Driver.PYTTSX3
        if pyttsx3_first and self._made_through_pyttsx3(request):
            self._made_by = Driver.PYTTSX3
            return
        try:
            self._ask(request, self._answer_within_s, Driver.LIBRARY)
        except VoiceLostError:
            if pyttsx3_first:
                raise
            self._ask(request, self._answer_within_s, Driver.LIBRARY)
        self._made_by = Driver.LIBRARY

    def _made_through_pyttsx3(self, request: Mapping[str, object]) -> bool:
        for _ in range(2):
            try:
                self._ask(request, min(self._answer_within_s, PYTTSX3_WITHIN_S), Driver.PYTTSX3)
            except UnsaidError as unsaid:
                useless = unsaid.lasting
                if useless:
                    break
            except VoiceLostError:
                useless = True
            else:
                return True
        if useless:
            self._first = Driver.LIBRARY
        return False

    def play(self, path: Path, length_s: float) -> None:
        """Return when the WAV file of that length has been played; raises `SpeakingError`."""
        self._ask({"play": str(path)}, length_s + self._answer_within_s)

    def interrupt(self) -> None:
        """Cut short what is being made or played."""
        with self._lock:
            self._interrupted = True
            if self._asking and not self._closed:
                self._restart()

    def close(self) -> None:
        """End the process and remove its folder."""
        with self._lock:
            if self._closed:
                return
            self._closed = self._interrupted = True
            self._process.end()
        self._folder.cleanup()

    def _ask(self, request: Mapping[str, object], within_s: float, driver: Driver | None = None) -> None:
        with self._lock:
            self._refuse_if_over()
            if driver is not None and driver is not self._running:
                # The library can be started once in a process, and each driver starts it its own way.
                self._running = driver
                self._restart()
            process, self._asking = self._process, True
        try:
            answer = process.ask(request, within_s)
            if "error" in answer:
                raise _error_in(answer)
        except NoVoiceError:
            raise
        except SpeakingError:
            with self._lock:
                self._refuse_if_over()
                # A new process also sees sound devices that were plugged in since the last one started.
                self._restart()
            raise
        finally:
            self._asking = False

    def _refuse_if_over(self) -> None:
        if self._closed or self._interrupted:
            raise VoiceInterruptedError("The prompt was cut short.")

    def _restart(self) -> None:
        self._process.end()
        self._process = _Process((*self._command, self._running))


def _error_in(answer: Mapping[str, object]) -> SpeakingError:
    words, lasting = str(answer["error"]), bool(answer["lasting"])
    if answer.get("unsaid"):
        return UnsaidError(words, lasting)
    return NoVoiceError(words) if lasting else SpeakingError(words)


def plausible_lengths_s(text: str, words_per_minute: int) -> tuple[float, float]:
    """Return between how many seconds the text can take to say: what lies outside was cut short or never ended.

    A million is one word of seven digits, so digits count for nothing below; a sign may be spelled out by its name,
    so above each counts for as long as a long word. Source: judgement, tried on prompts and on strings of signs.
    """
    in_words = "".join(mark for mark in text if not mark.isdigit())
    longest_s = _SURPLUS_S + len(text) * _LONGEST_NAME_S * WORDS_PER_MINUTE / words_per_minute
    return spoken_length_s(in_words, words_per_minute) * _LEAST_SHARE, longest_s
