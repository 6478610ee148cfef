"""What a technician's words mean: a closed union of frozen records.

Records only; `understand` makes them, `session.decide` acts on them.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from voicetech.units import Unit


class Asking(StrEnum):
    """What kind of answer the open question wants."""

    VOLTAGE = "voltage"
    RESISTANCE = "resistance"
    CURRENT = "current"
    CONTINUITY = "continuity"
    TEMPERATURE = "temperature"
    POWER = "power"
    DURATION = "duration"
    INSPECTION = "inspection"
    YES_NO = "yes-no"
    CHOICE = "choice"
    COMMAND = "command"
    SERIAL = "serial"
    NOTE = "note"
    ANY = "any"


MEASURED = frozenset(
    {
        Asking.VOLTAGE,
        Asking.RESISTANCE,
        Asking.CURRENT,
        Asking.CONTINUITY,
        Asking.TEMPERATURE,
        Asking.POWER,
        Asking.DURATION,
    }
)
"""Questions that are answered with what a meter, a thermometer, a plate or a stopwatch shows."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One named answer to a question: its key in the record and the phrases that mean it."""

    key: str
    hear: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Everything about the open question that understanding may use.

    `likely` is the widest range of values a sound or faulty part can show, in the base unit: it ranks
    readings with a dropped decimal point and never narrows what may be heard. `places` maps a named test or
    place the technician may ask for to its phrases. `part` names what is looked at in an inspection.
    """

    asking: Asking
    wording: str = ""
    after_read_back: bool = False
    read_back: Asking | None = None
    """What kind of answer was read back, where it is not the kind this question asks for."""
    partial: bool = False
    choices: tuple[Choice, ...] = ()
    places: tuple[Choice, ...] = ()
    likely: tuple[Decimal, Decimal] | None = None
    labels: tuple[str, ...] = ()
    exact_words: tuple[str, ...] = ()
    chat: bool = False


class Flag(StrEnum):
    """Things to know about an answer besides its value."""

    APPROX = "approx"
    BOUND_ABOVE = "bound_above"
    BOUND_BELOW = "bound_below"
    UNSTABLE = "unstable"
    RANGE = "range"
    SEQUENCE = "sequence"
    MULTIPLE = "multiple"
    SELF_CORRECTED = "self_corrected"
    OUT_OF_RANGE = "out_of_range"
    UNIT_MISMATCH = "unit_mismatch"
    UNIT_MISSING = "unit_missing"
    DC_NOT_AC = "dc_not_ac"
    OVERRANGE = "overrange"
    NEGATED = "negated"
    PARTIAL = "partial"
    NOISE = "noise"
    HOMOPHONE = "homophone"
    TEEN_TY = "teen_ty"
    TYPO = "typo"
    RECOGNISER_ITN = "recogniser_itn"
    LEADING_ZERO = "leading_zero"
    TIME_LIKE = "time_like"
    NOT_MEASURED = "not_measured"
    STATED_NONE = "stated_none"
    WRONG_LANGUAGE = "wrong_language"
    INJECTION = "injection"
    STRIPPED_CONTROL = "stripped_control"
    REPEATED = "repeated"
    ECHO = "echo"
    ACK = "ack"
    BEEP = "beep"
    EXTRA_QUANTITY = "extra_quantity"
    SAFETY_CHECK = "safety_check"


class State(StrEnum):
    """What was said of a circuit; the four stay apart because they mean different things."""

    OPEN = "open"
    CLOSED = "closed"
    BEEP = "beep"
    SHORT = "short"


class Command(StrEnum):
    """What the technician can ask of the program at any time."""

    REPEAT = "repeat"
    """Say the open prompt again."""
    NEXT = "next"
    """An instruction was carried out, go on; an answer that is owed is still asked for."""
    BACK = "back"
    """Take the last answer back and ask it again, as undo does."""
    SKIP = "skip"
    """Leave this step out, with a reason; what belongs to safety cannot be left out."""
    HOLD = "hold"
    """Pause the job; a proof of dead ends with it."""
    RESUME = "resume"
    """Go on after a pause or a call."""
    UNDO = "undo"
    """Take the last answer back, with what followed from it, and ask it again."""
    CANCEL = "cancel"
    """Drop what was read back or offered, or a note that was begun; nothing on record changes."""
    STATUS = "status"
    """Say where the job stands: what is open, found and suspected."""
    HOWTO = "howto"
    """Say how the step is done."""
    WHERE = "where"
    """Say where the test points are."""
    WHY = "why"
    """Say why it is asked."""
    LIMIT = "limit"
    """Say what it should read, and where the figure comes from."""
    NOTE = "note"
    """Keep a note in one's own words."""
    DONE = "done"
    """An instruction was carried out."""
    HUSH = "hush"
    """Stop talking; the prompt stays open."""
    GO_TO = "go_to"
    """Go to a test by its name."""
    CALL_MODE = "call_mode"
    """Listen for nothing but resuming and danger, during a telephone call."""
    SHORTER = "shorter"
    """Ask in few words from here on."""
    LONGER = "longer"
    """Ask in full words from here on."""
    SLOWER = "slower"
    """Speak slower."""
    FASTER = "faster"
    """Speak faster."""
    LOUDER = "louder"
    """Speak louder."""
    QUIETER = "quieter"
    """Speak quieter."""
    NOT_FITTED = "not_fitted"
    """The part is not there; the report says so."""
    CANNOT_REACH = "cannot_reach"
    """The part cannot be reached; the report says so."""
    LATER = "later"
    """Leave a question for later where it may wait, such as a serial number."""
    POWER_IS_ON = "power_is_on"
    """Power is on, whatever the program took it for; a proof of dead ends with it."""
    LEAVING = "leaving"
    """The appliance is left alone: the job is paused, and a proof of dead ends."""
    SAFE_AGAIN = "safe_again"
    """Asks to end a stop; a stop is ended only by the exact words that are shown with it."""
    DECIDE = "decide"
    """Say what is suspected, and why."""
    CLOSE = "close"
    """End the job, once it has come to the report or was handed over."""


class DangerKind(StrEnum):
    """Which of the short danger scripts is spoken (what to do differs)."""

    STOP = "stop"
    SHOCK = "shock"
    FIRE = "fire"
    SPARKS = "sparks"
    GAS = "gas"
    PERSON = "person"


NO_PLACE = frozenset({"one side", "one leg", "other", "other side", "other leg", "the other", "the other side"})
"""Labels that tell two results apart without saying which is which."""


@dataclass(frozen=True, slots=True)
class ReadingSaid:
    """A number with its unit, in the base unit; `value` None means over range was said of this unit."""

    value: Decimal
    unit: Unit | None
    label: str | None = None
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False
    """True where the program must ask before taking it."""
    rivals: tuple[Decimal, ...] = ()
    """Other values the same words could mean, the likelier first."""


@dataclass(frozen=True, slots=True)
class StateSaid:
    """Open, closed, a beep or a short, perhaps of named terminals."""

    state: State
    label: str | None = None
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class RangeSaid:
    """Two ends and no midpoint: a reading that would not settle, or an estimate."""

    low: Decimal
    high: Decimal
    unit: Unit | None
    flags: frozenset[Flag] = frozenset()


@dataclass(frozen=True, slots=True)
class SeveralSaid:
    """Several results in one breath, in the order they were said."""

    parts: tuple[ReadingSaid | StateSaid, ...]
    unit: Unit | None = None
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False
    all_pairs: bool = False
    """True for "all six zero": one value said of every pair that was asked."""


@dataclass(frozen=True, slots=True)
class AnswerSaid:
    """Yes or no; of an inspection, yes means that something is wrong and `finding` says what."""

    yes: bool
    finding: str | None = None
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class ChoiceSaid:
    """One of the question's named answers."""

    key: str
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class WordsSaid:
    """Words kept as they are: a spelled serial number, a complaint, a reason, a hold's exact words."""

    text: str
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class CommandSaid:
    """A request to the program; `argument` is a note's text, a reason, or the key of a named place."""

    command: Command
    argument: str | None = None
    flags: frozenset[Flag] = frozenset()
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class DangerSaid:
    """A danger word. `present` false (past tense, negation, a finding) gets "is it happening now?" first.

    `answers` is "yes" or "no" where it answers a question about the past besides, once it is not happening now.
    """

    kind: DangerKind
    present: bool = True
    words: str = ""
    answers: str = ""


@dataclass(frozen=True, slots=True)
class CorrectionSaid:
    """The last answer is withdrawn, and replaced where a replacement was given."""

    replacement: "ReadingSaid | StateSaid | None" = None
    confirm: bool = False


@dataclass(frozen=True, slots=True)
class Unclear:
    """Nothing that may be used. `ask` is the short question to ask back; `candidates` what it might have been.

    `offer` is true where the first candidate may be put to the technician by name, for a yes or a no, because nothing
    in the words speaks against it.
    """

    ask: str = ""
    candidates: "tuple[Meaning, ...]" = ()
    flags: frozenset[Flag] = field(default_factory=frozenset)
    offer: bool = False


Meaning = (
    ReadingSaid
    | StateSaid
    | RangeSaid
    | SeveralSaid
    | AnswerSaid
    | ChoiceSaid
    | WordsSaid
    | CommandSaid
    | DangerSaid
    | CorrectionSaid
    | Unclear
)
