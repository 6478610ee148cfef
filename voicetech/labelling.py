"""What was said in the recordings of a job, as far as its record knows it.

Known is what was read back and then let stand or confirmed, and what a correction or a choice put in the place of
what was heard first. Everything else is counted and left out: a request is not read back, "say again" does not tell
what was said, and an answer that was undone may have been heard well and measured badly.

The record was made by what was heard: an error that nobody noticed stands in it as right, until a reviewer who listened
to it says what was said. That counts before everything else.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Final, assert_never

from voicetech.dialogue.answering import LATER
from voicetech.dialogue.decide import decide
from voicetech.dialogue.given import Weighed, Words
from voicetech.dialogue.questions import question_for
from voicetech.events import (
    AnswerProposed,
    AnswerTaken,
    AnswerWithdrawn,
    DangerRecounted,
    Event,
    InputReceived,
    JobOpened,
    NoteTaken,
    PartInspected,
    ProposalDropped,
    ReadingTaken,
    RivalsOffered,
    SaidAgain,
    StepDone,
    StepSkipped,
)
from voicetech.language.lexicon import Lexicon
from voicetech.language.meaning import AnswerSaid, Asking, Command, CorrectionSaid, Meaning, Question, State
from voicetech.language.understand import understand
from voicetech.marks import Mark, Misheard, heard_by_reviewers
from voicetech.procedure import Ask, Procedure
from voicetech.scoring import Expected, Limits, MeaningExpected, NothingExpected, WordsExpected
from voicetech.sense import heard_then
from voicetech.session import Cursor, Session, evolve, opened
from voicetech.turn import Turn

ReadBack = ReadingTaken | AnswerTaken | PartInspected
"""Results that are read back, so that letting them stand says something."""


class How(StrEnum):
    """How the record knows what was said."""

    LET_STAND = "let stand"
    """It was read back and nothing was said against it."""
    CONFIRMED = "confirmed"
    """It was read back and got a yes."""
    CHOSEN = "chosen"
    """It could have been two things, and one of them was chosen."""
    CORRECTED = "corrected"
    """Something else was heard first; this is what it was corrected to."""
    REVIEWED = "reviewed"
    """A reviewer said that it was misheard, and what was said."""


class WhyNot(StrEnum):
    """Why the record does not know what was said in a recording."""

    NOT_TAKEN = "not understood, or asked again"
    NOT_READ_BACK = "requests, confirmations, holds and danger words, which are not read back"
    FREE_WORDS = "notes and reasons in free words"
    LEFT_OPEN = "read back, and neither confirmed nor corrected"
    TAKEN_BACK = "taken back by undo or cancel"
    SEVERAL = "several values in one breath, corrected afterwards"
    NO_LONGER_ASKED = "asked or understood otherwise by today's procedure and vocabulary"


@dataclass(frozen=True, slots=True)
class LabelledAnswer:
    """One recording with what was said in it.

    Where reviewers differ about that, `differing` is what each answer of theirs is, the one that counts here last.
    """

    sound_sha256: str
    question: Question
    expected: Expected
    how: How
    limits: Limits
    differing: tuple[Misheard, ...] = ()


@dataclass(frozen=True, slots=True)
class Labels:
    """The recordings whose words are known, in the order they were said, and why others are left out."""

    answers: tuple[LabelledAnswer, ...]
    left_out: tuple[tuple[WhyNot, int], ...]

    @property
    def sounds(self) -> int:
        """Return how many recordings the job has."""
        return len(self.answers) + sum(count for _, count in self.left_out)


@dataclass(frozen=True, slots=True)
class _Input:
    """Words that came in, the question they answered, and what they caused; `number` is the event's in its job.

    `question` is None where today's procedure does not have the step. `text` is the alternative that was acted on
    and `meaning` what it means, None where nothing heard leads to what was caused.
    """

    number: int
    received: InputReceived
    question: Question | None
    before: Session
    after: Session
    caused: tuple[Event, ...]
    text: str | None
    meaning: Meaning | None

    @property
    def results(self) -> list[ReadBack]:
        return [event for event in self.caused if isinstance(event, ReadBack)]

    def has(self, *kinds: type[Event]) -> bool:
        return any(isinstance(event, kinds) for event in self.caused)


@dataclass(frozen=True, slots=True)
class _Known:
    """What was said is the result of this number."""

    how: How
    seq: int


def labels_of(
    procedure: Procedure,
    events: Sequence[Event],
    lexicon: Lexicon,
    marks: tuple[Mark, ...] = (),
    numbers: Sequence[int] | None = None,
) -> Labels:
    """Return what was said in each recording of a job.

    `marks` are those of its review; `numbers` are those of its events in the job where they are not all there. Raises
    ValueError where the events do not begin with the job's opening.
    """
    inputs = tuple(_inputs(procedure, events, numbers or range(1, len(events) + 1), lexicon))
    reviewed = heard_by_reviewers(marks)
    results: dict[int, list[ReadBack]] = {}
    for each in inputs:
        for result in each.results:
            results.setdefault(result.seq, []).append(result)
    answers: list[LabelledAnswer] = []
    left_out: Counter[WhyNot] = Counter()
    for each, fate in zip(inputs, _Following().through(inputs), strict=True):
        if each.received.sound_sha256 is None:
            continue
        known = [] if isinstance(fate, WhyNot) else results[fate.seq]
        if each.number in reviewed:
            label = _reviewed(each, reviewed[each.number], known)
        else:
            label = fate if isinstance(fate, WhyNot) else _label(procedure, each, fate.how, known)
        if isinstance(label, WhyNot):
            left_out[label] += 1
        else:
            answers.append(label)
    return Labels(tuple(answers), tuple((why, left_out[why]) for why in WhyNot if left_out[why]))


def _inputs(
    procedure: Procedure, events: Sequence[Event], numbers: Sequence[int], lexicon: Lexicon
) -> Iterator[_Input]:
    if not events or not isinstance(events[0], JobOpened):
        raise ValueError("a job's record begins with its opening")
    session = opened(events[0])
    before, received, caused = session, None, list[Event]()
    for number, event in zip(numbers[1:], events[1:], strict=True):
        if isinstance(event, InputReceived):
            if received is not None:
                yield _input(procedure, lexicon, received, (before, session), caused)
            before, received, caused = session, (number, event), []
        else:
            caused.append(event)
        session = evolve(session, event)
    if received is not None:
        yield _input(procedure, lexicon, received, (before, session), caused)


def _input(
    procedure: Procedure,
    lexicon: Lexicon,
    numbered: tuple[int, InputReceived],
    sessions: tuple[Session, Session],
    caused: Iterable[Event],
) -> _Input:
    number, received = numbered
    before, after = sessions
    events = tuple(caused)
    try:
        question = question_for(procedure, before)
        text, meaning = _acted_on(procedure, before, received, events, question, lexicon)
    except KeyError:
        return _Input(number, received, None, before, after, events, None, None)
    return _Input(number, received, question, before, after, events, text, meaning)


def _acted_on(
    procedure: Procedure,
    before: Session,
    received: InputReceived,
    caused: tuple[Event, ...],
    question: Question,
    lexicon: Lexicon,
) -> tuple[str | None, Meaning | None]:
    """Return the first alternative that leads to what was caused, with its meaning.

    The record keeps all alternatives and not which of them was weighed heaviest; deciding once more tells.
    """
    if received.outcome != Weighed.ACCEPTED:
        return None, None
    heard = heard_then(received)
    wanted = _outline(caused)
    for alternative in heard.alternatives:
        meaning = understand(alternative.text, question, lexicon)
        words = Words(heard, Weighed.ACCEPTED, received.channel, received.at_s, meaning)
        if _outline(decide(procedure, before, words)) == wanted:
            return alternative.text, meaning
    return None, None


def _outline(events: Iterable[Event]) -> list[tuple[object, ...]]:
    """Return what was taken, proposed and withdrawn, without reasons, limits and verdicts."""
    return [outline for event in events if (outline := _outlined(event))]


def _outlined(event: Event) -> tuple[object, ...]:
    match event:
        case ReadingTaken():
            return "reading", event.label, event.value, event.unit, event.state
        case AnswerTaken():
            return "answer", event.field, event.value
        case PartInspected():
            return "part", event.part, event.fault, event.words
        case StepDone():
            return "done", event.step, event.words
        case StepSkipped():
            return "skipped", event.step
        case AnswerProposed():
            return "proposed", event.answers
        case RivalsOffered():
            return "rivals", event.first, event.second
        case AnswerWithdrawn():
            return "withdrawn", event.seq
        case ProposalDropped():
            return ("dropped",)
        case _:
            return ()


@dataclass(slots=True)
class _Following:
    """Follows each recording to the result that tells what was said in it.

    `waiting` are the recordings whose answer was read back or offered and is not settled; `denied` is the step that
    is asked again after a "no" or a "scratch that". `standing` are the recordings of each result on record.
    """

    waiting: list[tuple[int, How]] = field(default_factory=list)
    denied: Cursor | None = None
    standing: dict[int, list[tuple[int, How]]] = field(default_factory=dict)
    fates: dict[int, WhyNot] = field(default_factory=dict)

    def through(self, inputs: Sequence[_Input]) -> list[_Known | WhyNot]:
        """Return what becomes of each input, in order."""
        for place, each in enumerate(inputs):
            self._take(place, each)
        self._give_up(self.waiting, WhyNot.LEFT_OPEN)
        fates: dict[int, _Known | WhyNot] = {**self.fates}
        for seq, followed in self.standing.items():
            fates.update({place: _Known(how, seq) for place, how in followed})
        return [fates[place] for place in range(len(inputs))]

    def _take(self, place: int, each: _Input) -> None:
        if each.before.turn not in _OPEN and (self.denied is None or each.before.at != self.denied):
            self._give_up(self.waiting, WhyNot.LEFT_OPEN)
            self._settle()
        corrected = self._withdrawn(each)
        offers = each.has(AnswerProposed, RivalsOffered)
        if each.before.turn in _OPEN and isinstance(each.meaning, AnswerSaid):
            self._yes_or_no(place, each, offers)
        elif offers:
            how = How.CHOSEN if each.has(RivalsOffered) else How.CONFIRMED
            self.waiting = [*self._revised(each), *corrected, (place, how)]
            self.denied = None
        elif each.results:
            self.standing[each.results[0].seq] = [*self._revised(each), *corrected, (place, How.LET_STAND)]
            self._settle()
        else:
            self.fates[place] = _why_not(each)
            if corrected:
                self.waiting, self.denied = corrected, each.after.at
            elif isinstance(each.meaning, CorrectionSaid):
                self.waiting, self.denied = self._revised(each), each.after.at
            elif each.has(ProposalDropped):
                self._give_up(self.waiting, WhyNot.TAKEN_BACK)
                self._settle()

    def _yes_or_no(self, place: int, each: _Input, offers: bool) -> None:
        self.fates[place] = WhyNot.NOT_READ_BACK
        if each.results:
            self.standing[each.results[0].seq] = self.waiting
            self._settle()
        elif offers:
            self.waiting = [(earlier, How.CHOSEN) for earlier, _ in self.waiting]
        elif each.has(ProposalDropped):
            self.waiting = self._revised(each)
            self.denied = each.after.at

    def _withdrawn(self, each: _Input) -> list[tuple[int, How]]:
        """Return the recordings of the answer that is being corrected; what is merely taken back is given up."""
        corrected: list[tuple[int, How]] = []
        for event in each.caused:
            if not isinstance(event, AnswerWithdrawn):
                continue
            for seq in [seq for seq in self.standing if seq >= event.seq]:
                followed = self.standing.pop(seq)
                if seq == event.seq and event.reason == "correction":
                    corrected = [(earlier, How.CORRECTED) for earlier, _ in followed]
                else:
                    self._give_up(followed, WhyNot.TAKEN_BACK)
        return corrected

    def _revised(self, each: _Input) -> list[tuple[int, How]]:
        """Return the waiting recordings, whose answer is another than the one that was read back."""
        how = How.CHOSEN if each.before.turn is Turn.CHOOSING else How.CORRECTED
        return [(earlier, how) for earlier, _ in self.waiting]

    def _settle(self) -> None:
        self.waiting, self.denied = [], None

    def _give_up(self, followed: Iterable[tuple[int, How]], why: WhyNot) -> None:
        self.fates.update({place: why for place, _ in followed})


_OPEN: Final = (Turn.CONFIRMING, Turn.CHOOSING)


def _why_not(each: _Input) -> WhyNot:
    if each.has(NoteTaken, DangerRecounted, StepSkipped):
        return WhyNot.FREE_WORDS
    if each.received.outcome != Weighed.ACCEPTED or each.has(SaidAgain):
        return WhyNot.NOT_TAKEN
    return WhyNot.NOT_READ_BACK


def _reviewed(each: _Input, marks: tuple[Misheard, ...], results: Sequence[ReadBack]) -> LabelledAnswer | WhyNot:
    if each.question is None:
        return WhyNot.NO_LONGER_ASKED
    if each.question.asking is Asking.NOTE:
        return WhyNot.FREE_WORDS
    said = marks[-1].said
    expected = WordsExpected(said) if said else NothingExpected()
    sound = each.received.sound_sha256 or ""
    differing = marks if len(marks) > 1 else ()
    return LabelledAnswer(sound, each.question, expected, How.REVIEWED, _limits(results or each.results), differing)


def _label(procedure: Procedure, each: _Input, how: How, results: Sequence[ReadBack]) -> LabelledAnswer | WhyNot:
    if each.question is None:
        return WhyNot.NO_LONGER_ASKED
    if each.question.asking is Asking.NOTE:
        return WhyNot.FREE_WORDS
    expected: Expected | WhyNot
    match how:
        case How.LET_STAND | How.CONFIRMED:
            expected = WhyNot.NO_LONGER_ASKED if each.text is None else WordsExpected(each.text)
        case How.CHOSEN | How.CORRECTED:
            expected = WhyNot.SEVERAL if _values(each) > 1 else _meant(procedure, results)
        case How.REVIEWED:
            raise ValueError("a reviewer's words are no result of the job")
        case _:
            assert_never(how)
    if isinstance(expected, WhyNot):
        return expected
    return LabelledAnswer(each.received.sound_sha256 or "", each.question, expected, how, _limits(results))


def _values(each: _Input) -> int:
    proposed = [len(event.answers) for event in each.caused if isinstance(event, AnswerProposed)]
    return max(len([result for result in each.results if isinstance(result, ReadingTaken)]), *proposed, 0)


def _meant(procedure: Procedure, results: Sequence[ReadBack]) -> MeaningExpected | WhyNot:
    readings = [result for result in results if isinstance(result, ReadingTaken)]
    if len(readings) > 1:
        return WhyNot.SEVERAL
    match readings[0] if readings else results[0]:
        case ReadingTaken(value=None, state=state):
            return MeaningExpected((state or State.OPEN).value)
        case ReadingTaken(value=value, unit=unit):
            return MeaningExpected("reading", value, unit)
        case PartInspected(fault=fault):
            return MeaningExpected("yes" if fault else "no")
        case AnswerTaken() as taken:
            return _answer_meant(procedure, taken)
        case result:
            assert_never(result)


def _answer_meant(procedure: Procedure, taken: AnswerTaken) -> MeaningExpected | WhyNot:
    try:
        step = procedure.step(taken.section, taken.step)
    except KeyError:
        return WhyNot.NO_LONGER_ASKED
    if not isinstance(step, Ask):
        return WhyNot.NO_LONGER_ASKED
    if taken.value == LATER:
        return MeaningExpected("command", command=Command.LATER.value)
    match step.asking:
        case Asking.YES_NO:
            return MeaningExpected(taken.value)
        case Asking.CHOICE:
            return MeaningExpected("choice", note=taken.value)
        case Asking.SERIAL:
            return MeaningExpected("words", note=taken.value)
        case _:
            return MeaningExpected("reading", Decimal(taken.value), step.unit)


def _limits(results: Sequence[ReadBack]) -> Limits:
    readings = [result for result in results if isinstance(result, ReadingTaken)]
    if len(readings) != 1 or readings[0].low is None or readings[0].high is None:
        return None
    return readings[0].low, readings[0].high
