"""A whole job on the appliance at hand, through the real dialogue, with its safety watched."""

from collections.abc import Callable
from dataclasses import dataclass, field

from voicetech.diagnosis import hypotheses
from voicetech.dialogue.decide import decide
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.given import Given, Opening, Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.watch import NOTHING_PROVED, Watch, broken_rule, watched
from voicetech.events import CauseShown, Channel, Event, PartInspected, ReadingTaken
from voicetech.heard import typed
from voicetech.language.meaning import Meaning, Question
from voicetech.procedure import Instruct, Phase, Section
from voicetech.rehearsal.appliance_at_hand import AtHand, Chance
from voicetech.rehearsal.technician import answer
from voicetech.session import Session, evolve, fold
from voicetech.turn import Turn

MOST_ANSWERS = 500
SECONDS_AN_ANSWER = 4.0
MOST_VISITS = 3
"""Visits to one appliance: what an electrician has mended after a hand-over is followed by another."""

LEFT_PART = 0.1
"""Part of the likeliest cause's share from which on others are named with it where nothing was found."""

Understood = Callable[[str, Question], Meaning]


@dataclass(slots=True)
class Rehearsed:
    """How a rehearsal went: causes named in their order, tests until each, broken rules, and every line.

    `together` are the causes that were named as what is left, because no test made told them apart.
    """

    complaint: str = ""
    """What the customer complained of first; empty until it was asked."""
    named: list[str] = field(default_factory=list)
    together: list[str] = field(default_factory=list)
    tests_until: list[int] = field(default_factory=list)
    tests: int = 0
    visits: int = 0
    beside_it: int = 0
    """Sections tested that could not show any of the faults that were there."""
    unsafe: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)


def rehearse(understood: Understood, at_hand: AtHand, chance: Chance) -> Rehearsed:
    """Return how a careful technician gets on with the appliance at hand.

    Tests are the readings and looks of the testing phase: those that make safe and the leads are not counted, and a
    reading repeated because it was out of limits is the same test. They are counted until the first cause is proved.
    """
    rehearsed = Rehearsed()
    while at_hand.faults and rehearsed.visits < MOST_VISITS:
        visit = Visit(understood, at_hand, chance, rehearsed)
        visit.work()
        rehearsed.visits += 1
        if not visit.named and not visit.suspected:
            break
        # Who takes over after a hand-over mends what was named, and what was named with it.
        at_hand = visit.at_hand.without((*visit.named, *visit.suspected))
    return rehearsed


class Course:
    """How one job on the appliance at hand goes, whoever answers: tests counted, safety watched, the found mended."""

    def __init__(self, at_hand: AtHand, rehearsed: Rehearsed) -> None:
        self.procedure, self.at_hand = at_hand.procedure, at_hand
        self.rehearsed = rehearsed
        self.named: list[str] = []
        self.suspected: list[str] = []
        self._watch: Watch = NOTHING_PROVED
        self._sections: set[str] = set()

    def follow(self, before: Session, given: Given, events: tuple[Event, ...], after: Session) -> None:
        """Take what something given brought about: the session before it, its events, and the session after."""
        if isinstance(given, Words):
            place = f"{before.at.section}/{before.at.step}" if before.at else before.turn.value
            self.rehearsed.lines.append(f"{place}: {given.heard.text}")
        self.rehearsed.complaint = self.rehearsed.complaint or after.answers.get("complaint", "")
        for event in events:
            self._count(event)
        self._look_out(before, given, events, after)
        self._mend(before, after)

    def _count(self, event: Event) -> None:
        match event:
            case ReadingTaken(section=section, attempt=1) | PartInspected(section=section):
                inside = self.procedure.section(section)
                if inside.phase is Phase.TEST and inside.role is None:
                    self.rehearsed.tests += 1
                    self._beside_it(inside)
            case CauseShown(cause=cause, proved=False):
                self.suspected.append(cause)
                self.rehearsed.together.append(cause)
            case CauseShown(cause=cause, proved=True) if cause not in self.named:
                self.named.append(cause)
                self.rehearsed.named.append(cause)
                self.rehearsed.tests_until.append(self.rehearsed.tests)
            case _:
                pass

    def _beside_it(self, section: Section) -> None:
        if section.id not in self._sections:
            self._sections.add(section.id)
            self.rehearsed.beside_it += not self.at_hand.shown_by(section)

    def _look_out(self, before: Session, given: Given, events: tuple[Event, ...], after: Session) -> None:
        believed = self._watch
        self._watch = watched(self.procedure, believed, before, given, events)
        broken = broken_rule(
            self.procedure, believed, self._watch, before, given, events, after, proof_s(self.procedure)
        )
        if broken is not None:
            self.rehearsed.unsafe.append(broken)

    def _mend(self, before: Session, after: Session) -> None:
        """Mend what was found where a step of the repair is closed."""
        if before.at is None or after.at == before.at:
            return
        step = self.procedure.step(before.at.section, before.at.step)
        if isinstance(step, Instruct) and self.procedure.section(before.at.section).phase is Phase.REPAIR:
            self.at_hand = self.at_hand.without(before.proved)


class Visit(Course):
    """One job on the appliance at hand that a careful technician works, until it is closed or handed over."""

    def __init__(self, understood: Understood, at_hand: AtHand, chance: Chance, rehearsed: Rehearsed) -> None:
        super().__init__(at_hand, rehearsed)
        self.understood, self.chance = understood, chance
        self._now_s = 1_000_000.0
        self.session: Session = fold(decide(self.procedure, None, Opening("rehearsal", Channel.CHAT, self._now_s)))

    def work(self) -> None:
        """Answer until the job is over or nothing more is left to test."""
        for _ in range(MOST_ANSWERS):
            if over(self.session):
                return
            if self._nothing_found():
                self._name_what_is_left()
                return
            self.say(answer(self.procedure, self.session, self.at_hand, self.chance))

    def say(self, line: str) -> None:
        """Answer the open question, typed."""
        before = self.session
        self._now_s += SECONDS_AN_ANSWER
        meaning = self.understood(line, question_for(self.procedure, before))
        given = Words(typed(line), Weighed.ACCEPTED, Channel.CHAT, self._now_s, meaning)
        events = decide(self.procedure, before, given)
        for event in events:
            self.session = evolve(self.session, event)
        self.follow(before, given, events, self.session)

    def _nothing_found(self) -> bool:
        at = self.session.at
        return at is not None and not self.session.proved and self.procedure.section(at.section).phase is Phase.DECIDE

    def _name_what_is_left(self) -> None:
        shares: dict[str, float] = {}
        for hypothesis in hypotheses(self.procedure, self.session):
            for cause in {fault.cause for fault in hypothesis.faults}:
                shares[cause] = shares.get(cause, 0.0) + hypothesis.share
        most = max(shares.values(), default=0.0)
        for cause, share in sorted(shares.items(), key=lambda item: -item[1]):
            if share > most * LEFT_PART:
                self.named.append(cause)
                self.rehearsed.together.append(cause)


def over(session: Session) -> bool:
    """Return whether the job is closed, handed over or stopped."""
    return session.turn in (Turn.CLOSED, Turn.HANDED_OVER, Turn.STOPPED)
