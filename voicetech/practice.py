"""A job on a simulated appliance that somebody practises on, by voice or by keyboard; nothing of it is recorded."""

import re
from collections.abc import Callable, Hashable, Sequence
from typing import Final

from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Given, Opening
from voicetech.dialogue.reply import Reply, reply
from voicetech.events import Channel, Event
from voicetech.heard import Heard
from voicetech.job import Job
from voicetech.language.meaning import Question
from voicetech.language.phrases import Choice, Phrase, Rule
from voicetech.language.templates import phrase_from
from voicetech.rehearsal.appliance_at_hand import AtHand, Chance
from voicetech.rehearsal.rehearsal import Course, Rehearsed, over
from voicetech.rehearsal.technician import answer, found_at
from voicetech.session import fold
from voicetech.weigh import ACCEPT_VERDICT

SHOW: Final = "show"
GIVE_UP: Final = "give up"
ASIDES: Final = frozenset({SHOW, GIVE_UP})
"""What may be said to a practice beside what a job understands."""
_SPOKEN: Final = {"show me": SHOW, "show the meter": SHOW, GIVE_UP: GIVE_UP, "i give up": GIVE_UP}
"""Not "show" alone: it sounds like "no", and would make every no less sure."""
_SAID: Final = {SHOW: SHOW, **_SPOKEN}


class Unrecorded:
    """A record that keeps nothing."""

    def append(self, job: str, expected_seq: int, events: Sequence[Event]) -> int:  # noqa: ARG002
        """Return the number that the last event would have."""
        return expected_seq + len(events)

    def since(self, job: str, seq: int) -> Sequence[Event]:  # noqa: ARG002
        """Return nothing: nobody else can go on with it."""
        return ()


class Practice(Job):
    """A job on the appliance at hand that ends when it is over or given up.

    `show` is given what is found at the open question each time that is asked for. `first` is what the program says
    first, `rehearsed` how the practice goes.
    """

    def __init__(
        self,
        at_hand: AtHand,
        chance: Chance,
        channel: Channel,
        clock: Callable[[], float],
        show: Callable[[str], None],
    ) -> None:
        events = decide(at_hand.procedure, None, Opening("practice", channel, clock()))
        super().__init__(at_hand.procedure, Unrecorded(), fold(events), len(events), clock)
        self.first: Reply = reply(at_hand.procedure, self.session, events)
        self.rehearsed = Rehearsed()
        self._course = Course(at_hand, self.rehearsed)
        self._chance = chance
        self._show = show
        self._given_up = False

    @property
    def closed(self) -> bool:
        """Return whether the practice is over: closed, handed over, stopped or given up."""
        return self._given_up or over(self.session)

    def found(self) -> str | None:
        """Return what is found at the open question: the meter, a look, what is told; None where nothing is asked."""
        return found_at(self.procedure, self.session, self._course.at_hand, self._chance)

    def heard(
        self,
        heard: Heard,
        channel: Channel = Channel.VOICE,
        sound_sha256: str | None = None,
        seen: Hashable | None = None,
    ) -> Reply:
        """Take what was heard and return the reply; none where it was an aside."""
        self._caused = ()
        match _aside(heard):
            case None:
                return super().heard(heard, channel, sound_sha256, seen)
            case str(aside) if aside == SHOW:
                self._show(answer(self.procedure, self.session, self._course.at_hand, self._chance))
            case _:
                self._given_up = True
        return Reply(())

    def _sayable(self, question: Question) -> Phrase:
        asides = Rule("aside", phrase_from("|".join(_SPOKEN)))
        return Choice((super()._sayable(question), asides))

    def _given(self, given: Given) -> Reply:
        before = self.session
        answered = super()._given(given)
        self._course.follow(before, given, self._caused, self.session)
        return answered


def _aside(heard: Heard) -> str | None:
    """Return the aside that was surely said, however it was worded, or None."""
    said: dict[str, float] = {}
    for alternative in heard.alternatives:
        aside = _SAID.get(re.sub("[^a-z ]", "", alternative.text.lower()).strip())
        if aside is not None:
            said[aside] = said.get(aside, 0.0) + alternative.probability * heard.for_us
    return next((aside for aside, probability in said.items() if probability >= ACCEPT_VERDICT), None)
