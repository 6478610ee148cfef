"""What a desk's thread is asked to do; it takes one after the other."""

from dataclasses import dataclass

from voicetech.desk.messages import Message
from voicetech.desk.sound import TabMicrophone
from voicetech.desk.tabs import Tab
from voicetech.hearing.recogniser import Recogniser


@dataclass(frozen=True, slots=True)
class Show:
    """A tab was opened: it is shown the job."""

    tab: Tab


@dataclass(frozen=True, slots=True)
class Leave:
    """A tab was closed, or its connection is lost."""

    tab: Tab


@dataclass(frozen=True, slots=True)
class Take:
    """A tab has sent a message."""

    tab: Tab
    message: Message


@dataclass(frozen=True, slots=True)
class Hear:
    """The ear is open for this microphone, or it cannot be, and why."""

    microphone: TabMicrophone
    recogniser: Recogniser | None
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class End:
    """The job is left here, and why."""

    why: str


Order = Show | Leave | Take | Hear | End
