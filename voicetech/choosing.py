"""Which appliance it is, asked before a job is begun, by voice or by keyboard; nothing of it is recorded.

It is worked like a job, so that danger words, asking again and two names that sound alike are what they are there.
"""

from collections.abc import Callable, Hashable, Mapping
from typing import Final

from voicetech.authoring.headings import Heading
from voicetech.authoring.which_appliance import AFTER, CONFIRMED, FIELD, which_appliance
from voicetech.dialogue.danger import CLEAR_WORDS
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Opening
from voicetech.dialogue.reply import LineKind, Reply, reply
from voicetech.events import Channel
from voicetech.heard import Heard
from voicetech.job import Job
from voicetech.practice import Unrecorded
from voicetech.session import fold
from voicetech.turn import Turn

_NAME: Final = "which-appliance"


class Choosing(Job):
    """The question which of the offered procedures is to be worked.

    `offered` are their headings by name. `first` is what is said first, `chosen` the name, once one was said, and by
    voice confirmed.
    """

    def __init__(self, offered: Mapping[str, Heading], channel: Channel, clock: Callable[[], float]) -> None:
        self._confirmed = channel is Channel.VOICE
        procedure = which_appliance(offered, self._confirmed)
        self._opening = decide(procedure, None, Opening(_NAME, channel, clock()))
        super().__init__(procedure, Unrecorded(), fold(self._opening), len(self._opening), clock)
        self._offered = offered
        self.first: Reply = reply(procedure, self.session, self._opening)

    @property
    def chosen(self) -> str | None:
        """Return the name of the procedure that was chosen, None as long as none was."""
        answers = self.session.answers
        name = answers.get(FIELD)
        settled = not self._confirmed or answers.get(CONFIRMED) == "yes"
        return name if settled and name in self._offered else None

    @property
    def stopped(self) -> bool:
        """Return whether there is danger: then no job is begun."""
        return self.session.turn is Turn.STOPPED

    @property
    def closed(self) -> bool:
        """Return whether it is over: chosen, or stopped."""
        return self.stopped or self.chosen is not None

    def heard(
        self,
        heard: Heard,
        channel: Channel = Channel.VOICE,
        sound_sha256: str | None = None,
        seen: Hashable | None = None,
    ) -> Reply:
        """Take what was heard and return the reply. Once something is chosen nothing more is asked."""
        answer = super().heard(heard, channel, sound_sha256, seen)
        if self.chosen is not None:
            return Reply(()) if self._confirmed else _only(answer, LineKind.SAID_BACK)
        if self.stopped:
            # There is no job to go on with: what is said is how to get out of danger, not how to go on.
            return Reply(tuple(line for line in answer.lines if CLEAR_WORDS[0] not in line.show))
        if self.session.at is not None and self.session.at.step == AFTER:
            # It was skipped, and cannot be.
            self.session = fold(self._opening)
            return self.first
        # What was heard is read back by the question that follows.
        return _without(answer, LineKind.SAID_BACK) if self._confirmed else answer


def _only(answer: Reply, kind: LineKind) -> Reply:
    return Reply(tuple(line for line in answer.lines if line.kind is kind))


def _without(answer: Reply, kind: LineKind) -> Reply:
    return Reply(tuple(line for line in answer.lines if line.kind is not kind))
