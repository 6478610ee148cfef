"""A conversation without microphone, journal, file or clock: lines in, replies out."""

from functools import cache
from itertools import pairwise

from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.authoring.procedure_files import load_shipped
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Given, Opening, Reopening, Tick, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.reply import Reply, reply
from voicetech.events import Channel, Event
from voicetech.heard import typed
from voicetech.language.meaning import Question
from voicetech.language.understand import understand
from voicetech.procedure import Hold, Procedure, SectionRole, Step
from voicetech.session import Session, evolve, opened
from voicetech.turn import Turn

lexicon = cache(load_lexicon)


@cache
def shipped() -> Procedure:
    return load_shipped("electric-range-no-heat")


class Talker:
    """Types lines at the real `decide` and keeps the events."""

    def __init__(self, procedure: Procedure | None = None, channel: Channel = Channel.CHAT) -> None:
        self.procedure = procedure or shipped()
        self.channel = channel
        self.now_s = 1_000_000.0
        self.events: list[Event] = []
        first, *rest = decide(self.procedure, None, Opening("test", channel, self.now_s))
        self.events = [first, *rest]
        self.session: Session = opened(first)  # type: ignore[arg-type]  # the first event is the opening
        for event in rest:
            self.session = evolve(self.session, event)
        self.last: Reply = reply(self.procedure, self.session, self.events)
        self.last_events: tuple[Event, ...] = tuple(self.events)

    @property
    def place(self) -> str:
        at = self.session.at
        return f"{at.section}/{at.step}" if at else ""

    @property
    def step(self) -> Step:
        assert self.session.at is not None
        return self.procedure.step(self.session.at.section, self.session.at.step)

    @property
    def question(self) -> Question:
        return question_for(self.procedure, self.session)

    def say(self, *lines: str, channel: Channel | None = None) -> str:
        """Say lines one after the other; return what was spoken to the last."""
        for line in lines:
            self.now_s += 5
            meaning = understand(line, self.question, lexicon())
            self._take(Words(typed(line), Weighed.ACCEPTED, channel or self.channel, self.now_s, meaning))
        return self.last.speak

    def overhear(self, line: str, channel: Channel) -> None:
        """Let a device hear something that is not meant for the program."""
        self.now_s += 5
        self._take(Words(typed(line), Weighed.IGNORED, channel, self.now_s))

    def wait(self, minutes: float) -> str:
        self.now_s += minutes * 60
        self._take(Tick(self.now_s))
        return self.last.speak

    def restart(self) -> str:
        self.now_s += 60
        self._take(Reopening(self.channel, "the program was started again", self.now_s))
        return self.last.speak

    def _take(self, given: Given) -> None:
        self.last_events = decide(self.procedure, self.session, given)
        for event in self.last_events:
            self.session = evolve(self.session, event)
        self.events.extend(self.last_events)
        self.last = reply(self.procedure, self.session, self.last_events)

    def all_of(self, kind: type[Event]) -> list[Event]:
        return [event for event in self.events if isinstance(event, kind)]

    def proof_stands(self) -> bool:
        return self.session.proof_stands(self.now_s, 1800)

    def make_safe(self) -> None:
        """Answer making safe until the job is out of it."""
        guard = 0
        while self.in_role(SectionRole.MAKE_SAFE):
            self.say(self.safe_answer())
            guard += 1
            assert guard < 40, f"making safe does not end: {self.place}, {self.last.speak}"

    def in_role(self, role: SectionRole) -> bool:
        at = self.session.at
        return at is not None and self.procedure.section(at.section).role is role

    def safe_answer(self) -> str:
        """Return what a careful technician answers at the open step of making safe or going live."""
        step = self.step
        if self.session.turn is Turn.CONFIRMING:
            return "yes"
        if isinstance(step, Hold):
            return step.until[0]
        answers = {"tester-before": "one twenty", "dead-pairs": "all zero", "tester-after": "one twenty"}
        if step.role is not None and step.role.value in answers:
            return answers[step.role.value]
        return "four wire cord" if getattr(step, "field", None) == "connection" else "done"


def in_order(places: list[str], *wanted: str) -> bool:
    """Return whether the wanted places come one after the other somewhere in the list."""
    found = [places.index(place) if place in places else -1 for place in wanted]
    return all(at >= 0 for at in found) and all(a < b for a, b in pairwise(found))
