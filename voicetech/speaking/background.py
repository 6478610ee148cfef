"""A voice that speaks in a thread of its own, so that the program listens meanwhile and knows what it said when."""

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from queue import SimpleQueue

from voicetech.language.spoken_length import spoken_length_s
from voicetech.speaking.speaker import Speaker, SpeakingError

ECHO_S = 0.3
"""A room gives a prompt back for this long after its end. Judgement, no source."""
SHORTEST_S = 0.1
"""What was over sooner was not heard by anybody: a silent voice, or a prompt hushed as it began."""
FROZEN_AFTER_S = 30.0
"""A voice that takes this much longer than the prompt's length will not come back; adapters give up sooner."""
_REMEMBERED = 32


@dataclass(slots=True)
class _Prompt:
    """One prompt: its words, when it was asked for and when its sound ended, in seconds of the recording."""

    words: str
    tone: bool
    start_s: float
    end_s: float | None = None
    hushed: bool = False


class BackgroundVoice:
    """Says prompts one after the other; `now_s` tells the time of the recording, `clock` any time that passes."""

    def __init__(
        self, speaker: Speaker, now_s: Callable[[], float], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._speaker = speaker
        self._now_s = now_s
        self._clock = clock
        self._lock = threading.Lock()
        self._said: deque[_Prompt] = deque(maxlen=_REMEMBERED)
        self._owed: list[_Prompt] = []
        self._due_s = 0.0
        self._idle = threading.Event()
        self._idle.set()
        self._failure: SpeakingError | None = None
        self._waiting: SimpleQueue[_Prompt | None] = SimpleQueue()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self._thread.start()

    @property
    def busy(self) -> bool:
        """Return whether a prompt is being said or waits to be."""
        return not self._idle.is_set()

    def say(self, words: str, tone: bool) -> None:
        """Have the words said after those before them, then the listening tone where `tone`; returns at once."""
        prompt = _Prompt(words, tone, self._now_s())
        with self._lock:
            due_s = self._clock() if not self._owed else self._due_s
            self._due_s = due_s + spoken_length_s(words) * 2 + FROZEN_AFTER_S
            self._owed.append(prompt)
            if self._speaker.audible:
                self._said.append(prompt)
            self._idle.clear()
        self._waiting.put(prompt)

    def hush(self) -> None:
        """Silence what is being said and drop what waits; a prompt that is only starting is silenced too."""
        with self._lock:
            for prompt in self._owed:
                prompt.hushed = True
        for _ in range(5):
            self._speaker.hush()
            if self._idle.wait(0.2):
                return

    def words_during(self, start_s: float, end_s: float) -> str:
        """Return the prompts that could be heard between two times of the recording, "" where none could."""
        with self._lock:
            heard = [
                prompt.words
                for prompt in self._said
                if prompt.start_s <= end_s and (prompt.end_s is None or start_s < prompt.end_s + ECHO_S)
            ]
        return " ".join(heard)

    def check(self) -> None:
        """Raise SpeakingError where the voice has failed or does not come back from a prompt."""
        if self._failure is not None:
            raise self._failure
        if self.busy and self._clock() > self._due_s:
            raise SpeakingError("The voice does not come back from a prompt. Check the sound device.")

    def wait(self) -> None:
        """Return when everything has been said. Raises SpeakingError as `check` does."""
        while not self._idle.wait(0.1):
            self.check()
        self.check()

    def close(self) -> None:
        """Silence the voice and end its thread; a thread that is stuck is left behind."""
        if self.busy:
            self.hush()
        self._waiting.put(None)
        self._thread.join(timeout=1.0)

    def _work(self) -> None:
        for prompt in iter(self._waiting.get, None):
            try:
                self._perform(prompt)
            except Exception as error:  # noqa: BLE001 - raised by check; in this thread nobody would see it
                self._failure = error if isinstance(error, SpeakingError) else _failed(error)
            self._done(prompt)

    def _perform(self, prompt: _Prompt) -> None:
        if not prompt.hushed:
            self._speaker.say(prompt.words)
        self._ended(prompt)
        if prompt.tone and not prompt.hushed:
            self._speaker.tone()

    def _ended(self, prompt: _Prompt) -> None:
        with self._lock:
            if prompt.end_s is None:
                prompt.end_s = self._now_s()
                if prompt.end_s - prompt.start_s < SHORTEST_S and prompt in self._said:
                    self._said.remove(prompt)

    def _done(self, prompt: _Prompt) -> None:
        self._ended(prompt)
        with self._lock:
            self._owed.remove(prompt)
            if not self._owed:
                self._idle.set()


def _failed(error: Exception) -> SpeakingError:
    return SpeakingError(f"The voice failed ({type(error).__name__}: {error}). Check the sound device.")
