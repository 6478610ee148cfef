"""A job as a reviewer goes through it, turn by turn: frozen records, no layout, no clock, no files.

Everything is read from the record; the procedure lends its words, and the circuit what was suspected after each answer.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby
from typing import Final

from voicetech import diagnosis
from voicetech.dialogue.reply import reason_words
from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    Channel,
    DangerDoubted,
    DangerStopped,
    InputReceived,
    JobOpened,
    JobReopened,
    ListeningBegan,
    PartInspected,
    ProgramTold,
    ProposalDropped,
    ReadingTaken,
    SaidAgain,
    TimePassed,
)
from voicetech.journal.gaps import gaps_told
from voicetech.journal.store import ReadableEvents
from voicetech.language.lexicon import Lexicon
from voicetech.marks import Commented, Mark, Misheard, SignedOff, heard_by_reviewers, standing
from voicetech.procedure import Procedure
from voicetech.replaying import RecordedTurn, turns_of
from voicetech.reports.facts.job import JobFacts, facts_of, names_of
from voicetech.reports.facts.naming import Names
from voicetech.reports.facts.results import results_of
from voicetech.reports.walkthrough.acted_on import NOT_KNOWN, ActedOn, acted_on
from voicetech.reports.walkthrough.happenings import Happening, happenings_of
from voicetech.session import Session, followed
from voicetech.turn import Turn

MOST_SUSPECTS: Final = 4
_LEAST_SHARE: Final = 0.005
_MOVED_SHARE: Final = 0.05
"""A share that moved by less is not told anew. Judgement, no source."""
_LEADS_TO_SUSPICION: Final = (ReadingTaken, AnswerTaken, PartInspected, CauseShown, CausesExcluded, AnswerWithdrawn)


class Flag(StrEnum):
    """What a reviewer may want to go to next."""

    CORRECTION = "correction"
    OUT_OF_LIMITS = "out of limits"
    AGAIN = "asked again"
    DANGER = "danger"
    SAFETY = "making safe"
    READING = "reading"
    MARK = "mark"
    DIFFERING = "reviewers differ"


@dataclass(frozen=True, slots=True)
class SaidFact:
    """Words that came in: what was heard, what it may have been, and what became of it.

    `alternatives` are words with their probability, the likeliest first; `for_us` is how likely it was an answer at
    all. `free` is what was heard without the grammar where that differs. `taken` is what was acted on and `offered`
    what was asked between, where that is known.
    """

    channel: Channel
    engine: str
    words: str
    alternatives: tuple[tuple[str, float], ...]
    for_us: float
    free: str
    outcome: str
    sound_sha256: str | None
    taken: str
    offered: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuspectFact:
    """A fault that is suspected after a turn: its share of the suspicion (0 to 1), or that it is proved."""

    says: str
    share: float
    proved: bool


@dataclass(frozen=True, slots=True)
class MarkFact:
    """What a reviewer said of a turn or of the job; `nr` is the mark's number in the job."""

    nr: int
    mark: Misheard | Commented


@dataclass(frozen=True, slots=True)
class TurnFact:
    """One turn: what came in, what it led to, and what the program said.

    `number` is the number of its first event; `place` is where the job stood before it. `suspects` are there where the
    turn changed them, with `because` what speaks for the first.
    """

    number: int
    at_s: float
    place: str
    began: str
    said: SaidFact | None
    happened: tuple[Happening, ...]
    replied: tuple[str, ...]
    spoken: str
    suspects: tuple[SuspectFact, ...] | None
    because: tuple[str, ...]
    marks: tuple[MarkFact, ...]
    flags: frozenset[Flag]


@dataclass(frozen=True, slots=True)
class SignOff:
    """Somebody looked the job through up to its event `events`; `stale` where the job went on since."""

    nr: int
    reviewer: str
    at_s: float
    events: int
    stale: bool


@dataclass(frozen=True, slots=True)
class Stay:
    """A stretch of the job in one section: from its turn `first` on, for so many turns and readings."""

    title: str
    first: int
    from_s: float
    to_s: float
    turns: int
    readings: int


@dataclass(frozen=True, slots=True)
class Walkthrough:
    """A whole job as it is reviewed.

    `moves` counts how often the conversation went from one state to another. `without_names` where names and free words
    were left out before.
    """

    job: JobFacts
    events: int
    turns: tuple[TurnFact, ...]
    stays: tuple[Stay, ...]
    moves: Mapping[tuple[Turn, Turn], int]
    comments: tuple[MarkFact, ...]
    sign_offs: tuple[SignOff, ...]

    @property
    def sounds(self) -> tuple[str, ...]:
        """Return the names of the sounds, in the order they were said."""
        return tuple(turn.said.sound_sha256 for turn in self.turns if turn.said and turn.said.sound_sha256)


def walkthrough_of(
    procedure: Procedure | None,
    readable: ReadableEvents,
    marks: tuple[Mark, ...] = (),
    *,
    lexicon: Lexicon | None = None,
    without_names: bool = False,
) -> Walkthrough:
    """Return a job as it is reviewed; without `lexicon` it is not told which of the things heard was acted on.

    Raises ValueError where the record does not begin with the job's opening.
    """
    left_out = [f"{told[:1].upper()}{told[1:]}." for told in gaps_told(readable.left_out)]
    facts = facts_of(procedure, readable.events, left_out, without_names=without_names)
    names = names_of(procedure, results_of(readable.events))
    recorded = turns_of(readable.events, readable.numbers)
    kept = standing(marks)
    count = max((*readable.numbers, *(left.seq for left in readable.left_out)), default=0)
    teller = _Teller(procedure, names, facts, happenings_of(readable.events, names), kept, lexicon)
    turns = tuple(teller.told(turn) for turn in recorded)
    return Walkthrough(
        job=facts,
        events=count,
        turns=turns,
        stays=tuple(_stays(turns)),
        moves=_moves(recorded),
        comments=tuple(MarkFact(nr, mark) for nr, mark in kept if isinstance(mark, Commented) and mark.seq is None),
        sign_offs=tuple(
            SignOff(nr, mark.reviewer, mark.at_s, mark.events, mark.events < count)
            for nr, mark in kept
            if isinstance(mark, SignedOff)
        ),
    )


class _Teller:
    """Tells one turn after the other, remembering the time and what was suspected before."""

    def __init__(
        self,
        procedure: Procedure | None,
        names: Names,
        facts: JobFacts,
        happened: Mapping[int, tuple[Happening, ...]],
        marks: Sequence[tuple[int, Mark]],
        lexicon: Lexicon | None,
    ) -> None:
        self._procedure = procedure
        self._names = names
        self._happened = happened
        self._marks = marks
        self._lexicon = lexicon
        self._at_s = facts.opened_at_s or 0.0
        self._suspects: tuple[SuspectFact, ...] = ()

    def told(self, turn: RecordedTurn) -> TurnFact:
        """Return one turn."""
        times = [at_s for event in turn.caused if (at_s := getattr(event, "at_s", None)) is not None]
        self._at_s = times[0] if times else self._at_s
        suspects, because = self._suspected(turn)
        happened = tuple(each for event in turn.caused for each in self._happened.get(id(event), ()))
        marks = self._marks_on(turn)
        return TurnFact(
            number=turn.number,
            at_s=self._at_s,
            place=self._place(turn),
            began=_began(turn),
            said=_said(turn, self._acted_on(turn)),
            happened=happened,
            replied=() if turn.replied is None else turn.replied.show,
            spoken="" if turn.replied is None else turn.replied.speak,
            suspects=suspects,
            because=because,
            marks=marks,
            flags=frozenset(_flags(turn, happened, marks)),
        )

    def _acted_on(self, turn: RecordedTurn) -> ActedOn:
        if self._procedure is None or self._lexicon is None:
            return NOT_KNOWN
        return acted_on(self._procedure, self._lexicon, turn)

    def _place(self, turn: RecordedTurn) -> str:
        at = None if turn.before is None else turn.before.at
        return "" if at is None else self._names.title(at.section)

    def _marks_on(self, turn: RecordedTurn) -> tuple[MarkFact, ...]:
        numbers = range(turn.number, turn.number + len(turn.caused) + 1)
        return tuple(
            MarkFact(nr, mark)
            for nr, mark in self._marks
            if isinstance(mark, Misheard | Commented) and mark.seq is not None and mark.seq in numbers
        )

    def _suspected(self, turn: RecordedTurn) -> tuple[tuple[SuspectFact, ...] | None, tuple[str, ...]]:
        if self._procedure is None or not any(isinstance(event, _LEADS_TO_SUSPICION) for event in turn.caused):
            return None, ()
        session = _after(turn)
        try:
            found = tuple(self._ranked(self._procedure, session))
            because = tuple(
                reason_words(self._procedure, piece) for piece in diagnosis.reasons(self._procedure, session)[:2]
            )
        except KeyError:
            # The job followed a procedure with steps or causes that this one does not have.
            return None, ()
        if not _differ(found, self._suspects):
            return None, ()
        self._suspects = found
        return found, because

    def _ranked(self, procedure: Procedure, session: Session) -> Iterator[SuspectFact]:
        ranked = [each for each in diagnosis.suspects(procedure, session) if each.standing != "excluded"]
        for each in ranked[:MOST_SUSPECTS]:
            proved = each.standing == "proved"
            if proved or each.share >= _LEAST_SHARE:
                yield SuspectFact(self._names.cause_words(each.cause), round(float(each.share), 2), proved)


def _differ(now: Sequence[SuspectFact], before: Sequence[SuspectFact]) -> bool:
    """Return whether the suspicion is worth telling anew: others, another order, or a share that moved."""
    if [(each.says, each.proved) for each in now] != [(each.says, each.proved) for each in before]:
        return True
    return any(abs(a.share - b.share) >= _MOVED_SHARE for a, b in zip(now, before, strict=True))


def _after(turn: RecordedTurn) -> Session:
    session = turn.before
    for event in turn.caused:
        session = followed(session, event)
    if session is None:
        raise ValueError("a job's record begins with its opening")
    return session


def _began(turn: RecordedTurn) -> str:
    match turn.began:
        case JobOpened(channel=channel):
            return f"Job opened by {channel}"
        case JobReopened(channel=channel, reason=reason):
            return f"Taken up again by {channel}: {reason}"
        case TimePassed() | None:
            return "Time passed"
        case ListeningBegan():
            return "The program began to listen"
        case ProgramTold():
            return "The program told of itself"
        case InputReceived():
            return ""


_OUTCOMES: Final = {
    "accepted": "taken",
    "ask": "two meanings: asked which",
    "again": "not sure enough: asked again",
    "ignored": "taken as not meant for the program",
    "late": "said when the job had gone on elsewhere: not taken",
}


def _said(turn: RecordedTurn, acted: ActedOn) -> SaidFact | None:
    received = turn.began
    if not isinstance(received, InputReceived):
        return None
    return SaidFact(
        channel=received.channel,
        engine=received.engine,
        words=received.text,
        alternatives=tuple((each.text, each.probability) for each in received.alternatives),
        for_us=received.for_us,
        free=received.free_text if received.free_text and received.free_text != received.text else "",
        outcome=_OUTCOMES.get(received.outcome, received.outcome),
        sound_sha256=received.sound_sha256,
        taken=acted.taken,
        offered=acted.offered,
    )


def _flags(turn: RecordedTurn, happened: Sequence[Happening], marks: Sequence[MarkFact]) -> Iterator[Flag]:
    if any(isinstance(event, AnswerWithdrawn | ProposalDropped) for event in turn.caused):
        yield Flag.CORRECTION
    if any(each.reading is not None for each in happened):
        yield Flag.READING
    if any(each.reading is not None and each.reading.good is False for each in happened):
        yield Flag.OUT_OF_LIMITS
    if any(isinstance(event, SaidAgain) for event in turn.caused) or (
        isinstance(turn.began, InputReceived) and turn.began.outcome == "ask"
    ):
        yield Flag.AGAIN
    if any(isinstance(event, DangerDoubted | DangerStopped) for event in turn.caused):
        yield Flag.DANGER
    if any(each.safety for each in happened):
        yield Flag.SAFETY
    if marks:
        yield Flag.MARK
    if any(len(answers) > 1 for answers in heard_by_reviewers(tuple(each.mark for each in marks)).values()):
        yield Flag.DIFFERING


def _stays(turns: Sequence[TurnFact]) -> Iterator[Stay]:
    # Each turn answers what stood open before it, so it belongs to the place it began at.
    for title, group in groupby((turn for turn in turns if turn.place), key=lambda turn: turn.place):
        inside = tuple(group)
        following = next((turn.at_s for turn in turns if turn.number > inside[-1].number), inside[-1].at_s)
        readings = sum(each.reading is not None for turn in inside for each in turn.happened)
        yield Stay(title, inside[0].number, inside[0].at_s, max(following, inside[0].at_s), len(inside), readings)


def _moves(turns: Sequence[RecordedTurn]) -> Mapping[tuple[Turn, Turn], int]:
    counts: dict[tuple[Turn, Turn], int] = {}
    for turn in turns:
        if turn.before is not None:
            move = (turn.before.turn, _after(turn).turn)
            counts[move] = counts.get(move, 0) + 1
    return counts
