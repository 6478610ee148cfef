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
from pathlib import Path
from queue import Empty, SimpleQueue
from tempfile import TemporaryDirectory
from typing import IO, cast

from voicetech.speaking.speaker import SpeakingError, VoiceSettings

VOICE_COMMAND = (sys.executable, "-P", str(Path(__file__).with_name("voice_child.py")))
ANSWER_WITHIN_S = 10.0


class VoiceLostError(SpeakingError):
    """The voice's process hung or died; the next request gets a new one."""


class VoiceInterruptedError(SpeakingError):
    """The prompt was cut short because that was asked for."""


class NoVoiceError(SpeakingError):
    """Nothing can be said or played until something is installed or mended."""


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


class EspeakVoice:
    """A voice that makes sound files and plays them, whatever happens to the process that does it."""

    def __init__(self, command: Sequence[str] = VOICE_COMMAND, answer_within_s: float = ANSWER_WITHIN_S) -> None:
        self._folder = TemporaryDirectory(prefix="voicetech-voice-")
        self.folder = Path(self._folder.name)
        self._command = (*command, self._folder.name)
        self._answer_within_s = answer_within_s
        self._lock = threading.Lock()
        self._asking = False
        self._interrupted = False
        self._closed = False
        try:
            self._process = _Process(self._command)
        except SpeakingError:
            self._folder.cleanup()
            raise

    def begin(self) -> None:
        """Start a prompt: an interruption from before does not count against it."""
        with self._lock:
            self._interrupted = False

    def synthesise(self, text: str, settings: VoiceSettings, path: Path) -> None:
        """Write the spoken text to a WAV file; raises `SpeakingError`."""
        self._ask(
            {
                "synthesise": text,
                "words_per_minute": settings.words_per_minute,
                "volume": settings.volume,
                "path": str(path),
            },
            self._answer_within_s,
        )

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

    def _ask(self, request: Mapping[str, object], within_s: float) -> None:
        with self._lock:
            self._refuse_if_over()
            process, self._asking = self._process, True
        try:
            answer = process.ask(request, within_s)
            if "error" in answer:
                raise (NoVoiceError if answer["lasting"] else SpeakingError)(str(answer["error"]))
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
        self._process = _Process(self._command)
