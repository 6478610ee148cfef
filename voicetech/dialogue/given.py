"""What is handed to `decide`: words, the passing of time, a job opened or taken up again.

Time and ids arrive in these records; the core reads no clock.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from voicetech.events import Channel
from voicetech.heard import Heard
from voicetech.language.meaning import Meaning

ELSEWHERE: Final = "the job had gone on elsewhere"
"""Why a job is taken up again by somebody who had it open while another went on with it."""


class Weighed(StrEnum):
    """What became of the words before the dialogue saw them."""

    ACCEPTED = "accepted"
    ASK = "ask"
    AGAIN = "again"
    IGNORED = "ignored"
    LATE = "late"
    """Said to a question that was no longer open: the job had gone on elsewhere. Danger is never late."""


class KeepSound(StrEnum):
    """Whether the sound of what is said may be kept."""

    OFF = "off"
    ASK = "ask"
    AGREED = "agreed"
    """Whoever is recorded has agreed beforehand."""
    REFUSED = "refused"
    """Somebody has said no beforehand."""


@dataclass(frozen=True, slots=True)
class Words:
    """Words on a channel; `meaning` is there when they were accepted, `rivals` when two meanings compete.

    Words that are sure and mean nothing that can be used are weighed as again with what to ask for their meaning.
    """

    heard: Heard
    weighed: Weighed
    channel: Channel
    at_s: float
    meaning: Meaning | None = None
    rivals: tuple[Meaning, Meaning] | None = None
    sound_sha256: str | None = None


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""

    at_s: float


@dataclass(frozen=True, slots=True)
class Opening:
    """A new job."""

    job: str
    channel: Channel
    at_s: float
    keep_sound: KeepSound = KeepSound.OFF


@dataclass(frozen=True, slots=True)
class Reopening:
    """The program was started again on a job, or another device takes it over."""

    channel: Channel
    reason: str
    at_s: float
    keep_sound: KeepSound = KeepSound.OFF


@dataclass(frozen=True, slots=True)
class Listening:
    """The program begins to listen on a channel where answers were typed."""

    channel: Channel
    at_s: float
    keep_sound: KeepSound = KeepSound.OFF


Given = Words | Tick | Opening | Reopening | Listening
