"""Which voice a job gets."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from voicetech.speaking.file_speaker import FileSpeaker
from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker
from voicetech.speaking.silent_speaker import SilentSpeaker
from voicetech.speaking.speaker import Speaker, SpeakingError


def _tell_on_standard_error(words: str) -> None:
    sys.stderr.write(words + "\n")


def open_speaker(
    kind: Literal["aloud", "silent"] | Path, tell: Callable[[str], None] = _tell_on_standard_error
) -> Speaker:
    """Return the voice of that kind; a path is the folder that prompts are written to.

    `tell` is given, once each, the reasons why prompts cannot be heard. Raises `SpeakingError` where the
    voice cannot be started or the folder cannot be made.
    """
    match kind:
        case "aloud":
            return Pyttsx3Speaker(tell)
        case "silent":
            return SilentSpeaker()
        case Path():
            return FileSpeaker(kind)
    raise SpeakingError(f"There is no voice called {kind!r}; it is aloud, silent or a folder.")
