"""What became of each prompt of a job: answered at once, repeated, asked again, corrected, denied, misheard.

A prompt is asked once for each pair and each attempt of its step; one that is spoken again because it still has no
answer is the same one.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from voicetech.events import (
    AnswerProposed,
    AnswerTaken,
    AnswerWithdrawn,
    Asked,
    Event,
    Ignored,
    InputReceived,
    PartInspected,
    ProposalDropped,
    ReadingTaken,
    RivalsOffered,
    SaidAgain,
    StepDone,
    StepEntered,
)
from voicetech.marks import Mark, heard_by_reviewers
from voicetech.session import OVERHEARD
from voicetech.summary.records import PromptCount

_CORRECTION: Final = "correction"
_DENIED: Final = frozenset({"not confirmed", "withdrawn", "neither"})
"""Why something that was read back is dropped because it was not what was said."""


@dataclass(slots=True)
class _Asking:
    """A prompt from when it is asked until it is answered; `said` counts what was said to it before an answer."""

    section: str
    step: str
    pair: int
    attempt: int
    said: int = 0
    proposed: bool = False
    answered: bool = False
    count: PromptCount = field(init=False)

    def __post_init__(self) -> None:
        self.count = PromptCount(self.section, self.step, asked=1)

    def one_more(self, what: str) -> None:
        self.count = replace(self.count, **{what: getattr(self.count, what) + 1})

    def is_asked_by(self, event: StepEntered) -> bool:
        asked = event.section, event.step, event.pair, event.attempt
        return asked == (self.section, self.step, self.pair, self.attempt)

    def closed(self) -> PromptCount:
        trouble = self.count.again + self.count.which + self.count.corrected + self.count.denied + self.count.misheard
        first = self.answered and self.said == 1 and not trouble
        return replace(self.count, answered=int(self.answered), first=int(first))


@dataclass(slots=True)
class _Following:
    """Follows the prompts; `by_input` tells which one an utterance was said to, `by_answer` which one it answered."""

    askings: list[_Asking] = field(default_factory=list)
    open: _Asking | None = None
    displaced: _Asking | None = None
    corrected: _Asking | None = None
    counted: bool = False
    by_input: dict[int, _Asking] = field(default_factory=dict)
    by_answer: dict[int, _Asking] = field(default_factory=dict)

    def take(self, number: int, event: Event) -> None:
        if isinstance(event, StepEntered):
            self._ask(event)
        elif isinstance(event, InputReceived):
            self.corrected = None
            self._hear(number, event)
        elif isinstance(event, AnswerWithdrawn):
            self._withdraw(event)
        elif self.open is not None:
            self._follow(self.open, event)

    def _ask(self, event: StepEntered) -> None:
        if self.open is not None and not self.open.answered and self.open.is_asked_by(event):
            return
        for known in (self.corrected, self.displaced):
            if known is not None and known.is_asked_by(event):
                self.open = known
                self.displaced = None if known is self.displaced else self.displaced
                return
        self.open = _Asking(event.section, event.step, event.pair, event.attempt)
        self.askings.append(self.open)

    def _hear(self, number: int, event: InputReceived) -> None:
        self.counted = False
        if self.open is None or event.outcome in OVERHEARD:
            return
        self.by_input[number] = self.open
        if not self.open.answered and not self.open.proposed:
            self.open.said += 1
            self.counted = True

    def _withdraw(self, event: AnswerWithdrawn) -> None:
        answered = self.by_answer.pop(event.seq, None)
        if event.reason != _CORRECTION or answered is None:
            return
        answered.one_more("corrected")
        self.corrected = answered
        if self.open is not answered and self.open is not None and not self.open.answered:
            # What was said to the newer prompt was meant for the one before it.
            self.open.said -= self.counted
            self.displaced = self.open

    def _follow(self, asking: _Asking, event: Event) -> None:
        match event:
            case Ignored():
                asking.said -= self.counted
                self.counted = False
            case Asked(what="repeat"):
                asking.one_more("repeated")
            case SaidAgain():
                asking.one_more("again")
            case RivalsOffered():
                asking.one_more("which")
            case AnswerProposed():
                if asking.proposed:
                    asking.one_more("corrected")
                asking.proposed = True
            case ProposalDropped(reason=reason):
                asking.proposed = False
                if reason in _DENIED:
                    asking.one_more("denied")
            case (
                ReadingTaken(section=section, step=step, seq=seq)
                | AnswerTaken(section=section, step=step, seq=seq)
                | PartInspected(section=section, step=step, seq=seq)
                | StepDone(section=section, step=step, seq=seq)
            ) if (section, step) == (asking.section, asking.step):
                asking.answered = True
                self.by_answer[seq] = asking
            case _:
                pass


def prompts_of(numbered: Iterable[tuple[int, Event]], marks: Sequence[Mark] = ()) -> tuple[PromptCount, ...]:
    """Return what became of each prompt, by step, in the order they were asked first; `numbered` are a job's events."""
    following = _Following()
    for number, event in numbered:
        following.take(number, event)
    for seq in heard_by_reviewers(tuple(marks)):
        if seq in following.by_input:
            following.by_input[seq].one_more("misheard")
    return tuple(_added(asking.closed() for asking in following.askings))


def _added(counts: Iterable[PromptCount]) -> Iterator[PromptCount]:
    sums: dict[tuple[str, str], PromptCount] = {}
    for count in counts:
        before = sums.get((count.section, count.step))
        sums[count.section, count.step] = count if before is None else added(before, count)
    yield from sums.values()


def added(one: PromptCount, other: PromptCount) -> PromptCount:
    """Return the sum of two counts of the same prompt."""
    return PromptCount(
        one.section,
        one.step,
        asked=one.asked + other.asked,
        answered=one.answered + other.answered,
        first=one.first + other.first,
        repeated=one.repeated + other.repeated,
        again=one.again + other.again,
        which=one.which + other.which,
        corrected=one.corrected + other.corrected,
        denied=one.denied + other.denied,
        misheard=one.misheard + other.misheard,
    )
