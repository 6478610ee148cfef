"""What happened in a job, as frozen records in the past tense, and their codec.

The record of a job is the list of these; nothing else is stored. `KINDS` maps each class to the stable text it is
stored under, so a class may be renamed without orphaning a record. Times (`at_s`) are seconds since the epoch, UTC.
"""

from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError

from voicetech.language.meaning import DangerKind, State
from voicetech.language.tags import ENGLISH
from voicetech.units import Unit


class Channel(StrEnum):
    """Where the words came in: a job that changes from one to another has changed hands."""

    VOICE = "voice"
    CHAT = "chat"
    PAGE = "page"
    """The page in this computer's browser, where answers are typed and spoken."""


class AnswerKind(StrEnum):
    """Which of an answer's fields hold it."""

    READING = "reading"
    STATE = "state"
    YES = "yes"
    NO = "no"
    CHOICE = "choice"
    WORDS = "words"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer on its way into the record, before it is taken."""

    kind: AnswerKind
    label: str | None = None
    value: Decimal | None = None
    unit: Unit | None = None
    state: State | None = None
    text: str | None = None


@dataclass(frozen=True, slots=True)
class AlternativeHeard:
    """One thing the recogniser may have heard, with its probability (0 to 1).

    `at_first` is what that was before a second listening, where there was one.
    """

    text: str
    probability: float
    at_first: float | None = None


@dataclass(frozen=True, slots=True)
class JobOpened:
    """A job began; `digest` names the exact procedure text it follows, `language` what its prompts are in (BCP 47)."""

    job: str
    procedure: str
    revision: int
    digest: str
    channel: Channel
    at_s: float
    language: str = ENGLISH


@dataclass(frozen=True, slots=True)
class JobReopened:
    """The program was started again on this job, or another device took it over."""

    channel: Channel
    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class InputReceived:
    """Words came in: everything heard, what became of it, and the SHA-256 of the sound where it was kept.

    `free_text` is what was heard without the grammar, where the engine offers that.
    """

    channel: Channel
    engine: str
    alternatives: tuple[AlternativeHeard, ...]
    for_us: float
    outcome: str
    text: str
    sound_sha256: str | None
    at_s: float
    free_text: str | None = None


@dataclass(frozen=True, slots=True)
class ListeningBegan:
    """From here on the program listens where answers were typed before; nothing else about the job changes."""

    channel: Channel
    at_s: float


@dataclass(frozen=True, slots=True)
class TimePassed:
    """Time alone changed something: what follows was caused by nothing else."""

    at_s: float


@dataclass(frozen=True, slots=True)
class ProgramTold:
    """The program told something about itself, such as that the microphone is gone."""

    words: str


@dataclass(frozen=True, slots=True)
class SoundAsked:
    """Whether the sound of what is said may be kept was asked; until a yes nothing is."""


@dataclass(frozen=True, slots=True)
class SoundAgreed:
    """The sound is kept from here on, or it is not; `beforehand` where that was not asked in the job."""

    kept: bool
    beforehand: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class StepEntered:
    """This step is now asked; `pair` counts the test point pairs of a measuring step."""

    section: str
    step: str
    pair: int
    attempt: int
    at_s: float


@dataclass(frozen=True, slots=True)
class StepDeferred:
    """This step has to wait: `needs` says for what (dead, live, powered, leads)."""

    section: str
    step: str
    pair: int
    attempt: int
    needs: str


@dataclass(frozen=True, slots=True)
class AnswerProposed:
    """Answers were read back and wait for a yes; `why` is "safety" or "doubt"."""

    answers: tuple[Answer, ...]
    why: str
    others: tuple[Answer, ...] = ()
    """What else the same words could mean, offered after a "no"."""


@dataclass(frozen=True, slots=True)
class RivalsOffered:
    """Two answers sounded alike and the difference matters."""

    first: Answer
    second: Answer


@dataclass(frozen=True, slots=True)
class ProposalDropped:
    """What was read back or offered was not taken."""

    reason: str


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """A reading is on record, judged.

    `value` None with `state` None is over range. `needs` is the state of the appliance it was taken in,
    `lead_ohm` what was subtracted for the leads.
    """

    seq: int
    section: str
    step: str
    label: str
    value: Decimal | None
    unit: Unit | None
    state: State | None
    verdict: str
    reason: str
    low: Decimal | None
    high: Decimal | None
    probability_inside: float | None
    source: str
    attempt: int
    needs: str
    lead_ohm: Decimal | None
    at_s: float


@dataclass(frozen=True, slots=True)
class SupplyClassified:
    """What a set of supply readings means together."""

    seq: int
    finding: str
    meaning: str
    at_s: float


@dataclass(frozen=True, slots=True)
class AnswerTaken:
    """An answer is on record under its field."""

    seq: int
    section: str
    step: str
    field: str
    value: str
    unverified: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class PartInspected:
    """A part was looked at; `words` are the technician's, `fault` whether something was wrong."""

    seq: int
    section: str
    step: str
    part: str
    fault: bool
    words: str
    at_s: float


@dataclass(frozen=True, slots=True)
class StepDone:
    """An instruction was carried out or a hold's words were said."""

    seq: int
    section: str
    step: str
    words: str
    at_s: float


@dataclass(frozen=True, slots=True)
class StepSkipped:
    """A step was not done, with the technician's reason."""

    seq: int
    section: str
    step: str
    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class SectionEnded:
    """A section is over: "done", "not fitted", "skipped" or "left"."""

    seq: int
    section: str
    how: str


@dataclass(frozen=True, slots=True)
class CauseShown:
    """A result points to this cause; `proved` once it was repeated or cannot be otherwise."""

    seq: int
    cause: str
    proved: bool
    section: str
    step: str


@dataclass(frozen=True, slots=True)
class CausesExcluded:
    """A result rules these causes out."""

    seq: int
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AnswerWithdrawn:
    """The answer of this number, and what followed from it, no longer count; they stay in the record."""

    seq: int
    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class PowerRestored:
    """Power is on, or may be: nothing counts as dead any more."""

    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class Isolated:
    """The appliance was isolated: by "plug" or "lockout"."""

    by: str
    at_s: float


@dataclass(frozen=True, slots=True)
class TesterProved:
    """The tester showed a known live source; `before` the dead readings or after them."""

    before: bool
    value: Decimal
    at_s: float


@dataclass(frozen=True, slots=True)
class PairReadDead:
    """One pair read 1 V or less, confirmed."""

    label: str
    value: Decimal
    at_s: float


@dataclass(frozen=True, slots=True)
class PairReadLive:
    """One pair read more than 1 V, confirmed: it does not count as dead."""

    label: str
    value: Decimal
    at_s: float


@dataclass(frozen=True, slots=True)
class DeadProved:
    """Tester, every pair, tester: the proof of dead stands from here."""

    at_s: float


@dataclass(frozen=True, slots=True)
class ProofEnded:
    """No proof of dead stands any more, nor any part of one."""

    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class HoldTaken:
    """The technician took a hold before power: "live" (probing) or "covers" (closed up)."""

    hold: str
    at_s: float


@dataclass(frozen=True, slots=True)
class ProbesAwaited:
    """A live value was said back; the next prompt waits for the probes to be off."""

    at_s: float


@dataclass(frozen=True, slots=True)
class ReasonAwaited:
    """Free words are owed: the reason for a skip, or a note (`how` is "skip" or "note")."""

    how: str


@dataclass(frozen=True, slots=True)
class Paused:
    """The technician paused the job, or took a call."""

    on_call: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class Resumed:
    """The job goes on."""

    at_s: float


@dataclass(frozen=True, slots=True)
class DangerDoubted:
    """Danger words that may be past or denied: "is it happening now?" was asked.

    `finding` is true where the words are what was seen or smelled at the open inspection, `answers` the "yes" or "no"
    that they are to the open question about the past.
    """

    kind: DangerKind
    words: str
    at_s: float
    finding: bool = False
    answers: str = ""


@dataclass(frozen=True, slots=True)
class DangerDenied:
    """It is not happening now."""

    at_s: float


@dataclass(frozen=True, slots=True)
class DangerStopped:
    """Danger words: everything stopped."""

    kind: DangerKind
    words: str
    at_s: float


@dataclass(frozen=True, slots=True)
class StopCleared:
    """The words that end a stop were said."""

    at_s: float


@dataclass(frozen=True, slots=True)
class DangerRecounted:
    """What happened, in the technician's words (unverified)."""

    words: str
    at_s: float


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Work stopped for good and passes to somebody else."""

    seq: int
    reason: str
    at_s: float


@dataclass(frozen=True, slots=True)
class NoteTaken:
    """A note in the technician's words (unverified where it was spoken)."""

    text: str
    unverified: bool
    at_s: float


@dataclass(frozen=True, slots=True)
class Refused:
    """What was asked is not possible now, and why."""

    reason: str


@dataclass(frozen=True, slots=True)
class Remarked:
    """What the procedure says of a result, spoken before the next prompt."""

    text: str


@dataclass(frozen=True, slots=True)
class SaidAgain:
    """The answer could not be used and is asked for again; `silent` after two times."""

    why: str
    silent: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """The technician asked the program something: repeat, how, where, why, limit, status."""

    what: str


@dataclass(frozen=True, slots=True)
class PromptsSet:
    """Prompts are short or full from here on."""

    short: bool


@dataclass(frozen=True, slots=True)
class VoiceChanged:
    """The program speaks slower, faster, louder, quieter, or hushes."""

    how: str


@dataclass(frozen=True, slots=True)
class Ignored:
    """Not meant for the program."""

    reason: str


@dataclass(frozen=True, slots=True)
class Replied:
    """What the program said and showed; committed before it is spoken."""

    speak: str
    show: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JobClosed:
    """The job is over: "repaired", "left safe", "handed over", "not found" or "abandoned"."""

    outcome: str
    at_s: float


Event = (
    JobOpened
    | JobReopened
    | InputReceived
    | ListeningBegan
    | TimePassed
    | ProgramTold
    | SoundAsked
    | SoundAgreed
    | StepEntered
    | StepDeferred
    | AnswerProposed
    | RivalsOffered
    | ProposalDropped
    | ReadingTaken
    | SupplyClassified
    | AnswerTaken
    | PartInspected
    | StepDone
    | StepSkipped
    | SectionEnded
    | CauseShown
    | CausesExcluded
    | AnswerWithdrawn
    | PowerRestored
    | Isolated
    | TesterProved
    | PairReadDead
    | PairReadLive
    | DeadProved
    | ProofEnded
    | HoldTaken
    | ProbesAwaited
    | ReasonAwaited
    | Paused
    | Resumed
    | DangerDoubted
    | DangerDenied
    | DangerStopped
    | StopCleared
    | DangerRecounted
    | HandedOver
    | NoteTaken
    | Refused
    | Remarked
    | SaidAgain
    | Asked
    | PromptsSet
    | VoiceChanged
    | Ignored
    | Replied
    | JobClosed
)

KINDS: Final[dict[str, type[Event]]] = {
    "job-opened/1": JobOpened,
    "job-reopened/1": JobReopened,
    "input-received/1": InputReceived,
    "listening-began/1": ListeningBegan,
    "time-passed/1": TimePassed,
    "program-told/1": ProgramTold,
    "sound-asked/1": SoundAsked,
    "sound-agreed/1": SoundAgreed,
    "step-entered/1": StepEntered,
    "step-deferred/1": StepDeferred,
    "answer-proposed/1": AnswerProposed,
    "rivals-offered/1": RivalsOffered,
    "proposal-dropped/1": ProposalDropped,
    "reading-taken/1": ReadingTaken,
    "supply-classified/1": SupplyClassified,
    "answer-taken/1": AnswerTaken,
    "part-inspected/1": PartInspected,
    "step-done/1": StepDone,
    "step-skipped/1": StepSkipped,
    "section-ended/1": SectionEnded,
    "cause-shown/1": CauseShown,
    "causes-excluded/1": CausesExcluded,
    "answer-withdrawn/1": AnswerWithdrawn,
    "power-restored/1": PowerRestored,
    "isolated/1": Isolated,
    "tester-proved/1": TesterProved,
    "pair-read-dead/1": PairReadDead,
    "pair-read-live/1": PairReadLive,
    "dead-proved/1": DeadProved,
    "proof-ended/1": ProofEnded,
    "hold-taken/1": HoldTaken,
    "probes-awaited/1": ProbesAwaited,
    "reason-awaited/1": ReasonAwaited,
    "paused/1": Paused,
    "resumed/1": Resumed,
    "danger-doubted/1": DangerDoubted,
    "danger-denied/1": DangerDenied,
    "danger-stopped/1": DangerStopped,
    "stop-cleared/1": StopCleared,
    "danger-recounted/1": DangerRecounted,
    "handed-over/1": HandedOver,
    "note-taken/1": NoteTaken,
    "refused/1": Refused,
    "remarked/1": Remarked,
    "said-again/1": SaidAgain,
    "asked/1": Asked,
    "prompts-set/1": PromptsSet,
    "voice-changed/1": VoiceChanged,
    "ignored/1": Ignored,
    "replied/1": Replied,
    "job-closed/1": JobClosed,
}
_KIND_OF: Final[dict[type[Event], str]] = {record: kind for kind, record in KINDS.items()}


class UnreadableEventError(Exception):
    """A stored event is of an unknown kind or does not fit its kind."""


_MOST: Final = 2.0**63
"""What a database can count to."""
_FIRST_S, _LAST_S = -62_000_000_000.0, 253_000_000_000.0
"""The years 5 to 9987, by which every computer can tell the day."""


@cache
def _adapter(kind: str) -> TypeAdapter[Event]:
    """Return the codec of a kind, made where it is first needed: all of them would hold up every start."""
    return TypeAdapter(KINDS[kind])


@cache
def _bounded(kind: str) -> tuple[tuple[str, float, float], ...]:
    """Return the fields of a kind that are counts or times, each with what it is above and below."""
    counts = [(field.name, -_MOST, _MOST) for field in fields(KINDS[kind]) if field.type is int]
    return (*counts, *((field.name, _FIRST_S, _LAST_S) for field in fields(KINDS[kind]) if field.name == "at_s"))


def kind_of(event: Event) -> str:
    """Return the stable text an event is stored under."""
    return _KIND_OF[type(event)]


def encoded(event: Event) -> tuple[str, str]:
    """Return the kind and the JSON text an event is stored as; decimals keep their digits."""
    kind = kind_of(event)
    return kind, _adapter(kind).dump_json(event).decode()


def decoded(kind: str, text: str) -> Event:
    """Return the event stored under this kind and JSON text; UnreadableEventError where it is neither."""
    if kind not in KINDS:
        raise UnreadableEventError(f"unknown kind of event {kind!r}: a newer program wrote this record")
    try:
        event = _adapter(kind).validate_json(text)
    except ValidationError as error:
        raise UnreadableEventError(f"the event {kind} cannot be read: {error.errors()[0]['msg']}") from error
    for name, above, below in _bounded(kind):
        if not above < getattr(event, name) < below:
            raise UnreadableEventError(f"the event {kind} cannot be read: nothing can have such a {name}")
    return event


def payload(event: Event) -> dict[str, Any]:
    """Return an event's fields by name, for tables and exports."""
    return {f.name: getattr(event, f.name) for f in fields(event)}
