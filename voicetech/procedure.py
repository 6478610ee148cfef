"""A procedure as frozen records: what is said, asked, inspected and measured, and what each outcome leads to.

Records only. `authoring` builds them from `dialogs/*.yaml`; `session.decide` walks them. A procedure never
says when a circuit counts as dead: steps say what state they need, and `session` puts making safe in front.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Final

from voicetech.electrical.appliance import Appliance, Setup
from voicetech.language.meaning import Asking, Choice, DangerKind
from voicetech.language.tags import ENGLISH
from voicetech.units import Quantity, Unit

FRAME: Final = "frame"
"""The label of the metal that a hand touches."""
FOUR_WIRES: Final = ("L1", "L2", "N", FRAME)
"""What a supply brings where a procedure does not say otherwise."""


class Phase(StrEnum):
    """The job from call to report, in order."""

    INTAKE = "intake"
    SETTINGS = "settings"
    TEST = "test"
    DECIDE = "decide"
    REPAIR = "repair"
    PUT_BACK = "put-back"
    RETEST = "retest"
    ADVICE = "advice"
    REPORT = "report"


class Needs(StrEnum):
    """The state of the appliance a step needs."""

    ANY = "any"
    """Nothing is touched."""
    DEAD = "dead"
    """Hands on the wiring: isolated and proved dead, and the proof still stands."""
    LIVE = "live"
    """Probes on energised parts: power on and the hold for live tests taken."""
    POWERED = "powered"
    """Covers on, power on, no probes on live parts."""

    @property
    def power_on(self) -> bool:
        """Return whether the appliance has power then."""
        return self in (Needs.LIVE, Needs.POWERED)


class SafetyRole(StrEnum):
    """What a step does for the technician's safety; the engine, not the author, acts on it."""

    ISOLATE_PLUG = "isolate-plug"
    ISOLATE_LOCKOUT = "isolate-lockout"
    TESTER_BEFORE = "tester-before"
    DEAD_PAIRS = "dead-pairs"
    LOW_IMPEDANCE = "low-impedance"
    TESTER_AFTER = "tester-after"
    LIVE_HOLD = "live-hold"
    COVERS_ON = "covers-on"
    POWER_ON = "power-on"
    NULL_LEADS = "null-leads"


class SectionRole(StrEnum):
    """Sections the engine puts in front of a step that needs them."""

    MAKE_SAFE = "make-safe"
    GO_LIVE = "go-live"
    POWER_UP = "power-up"
    NULL_LEADS = "null-leads"


class ComesUp(StrEnum):
    """When a test comes up: by what it tells for its minutes, before all others, or only where it is asked for."""

    BY_WORTH = "by-worth"
    FIRST = "first"
    BY_NAME = "by-name"


class Signal(StrEnum):
    """Signal words. Source: ANSI Z535.4 (from memory)."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True)
class Due:
    """Where a warning belongs: at each step that has one of each that is named, of these roles, limits, needs, words.

    `words` are looked for in the step's full words.
    """

    roles: tuple[SafetyRole, ...] = ()
    rules: tuple[str, ...] = ()
    needs: tuple[Needs, ...] = ()
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Warning:  # noqa: A001  the trade's and the standard's word
    """A hazard and what avoids it; `due` says at which steps it has to be said."""

    id: str
    signal: Signal
    say: str
    source: str
    due: tuple[Due, ...] = ()


@dataclass(frozen=True, slots=True)
class Point:
    """A test point: how it is said, where it is, and the label it has in readings."""

    id: str
    label: str
    call: tuple[str, ...]
    at: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Two test points between which one value is measured, with the label of the reading ("L1-L2")."""

    label: str
    first: str
    second: str
    say: str


@dataclass(frozen=True, slots=True)
class Condition:
    """True while the answer recorded under `field` is one of `values` (or, with `absent`, is not)."""

    field: str
    values: tuple[str, ...]
    absent: bool = False


@dataclass(frozen=True, slots=True)
class Outcome:
    """What follows from one result of a step.

    `next` names a step of the same section; None is the step below, "end" ends the section. `cause` is a fault
    the result proves, `excludes` are faults it rules out, `hand_over` names the stop-work reason, `danger` asks
    for the danger script, `say` is spoken before the next prompt, `again_by` is the step that repeats an
    out-of-limit result by another method.
    """

    next: str | None = None
    cause: str | None = None
    suspects: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    hand_over: str | None = None
    danger: DangerKind | None = None
    say: str = ""
    again_by: str | None = None
    repeat: bool = False


@dataclass(frozen=True, slots=True)
class Prompt:
    """The words of a step: in full, short, how it is done and why it is asked."""

    full: str
    short: str
    how: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class LimitRule:
    """How a step's limits come about: a named rule of `judge.limits_for` with its figures and fields.

    `figures` are fixed numbers (`low`, `high`) in the base unit; `fields` name recorded answers the rule
    computes from (`watts`, `volts`).
    """

    rule: str
    figures: Mapping[str, Decimal]
    fields: Mapping[str, str]
    source: str


@dataclass(frozen=True, slots=True)
class StepBase:
    """What every step has.

    With `hands_off` nothing inside the appliance is touched; with `puts_back` what was taken off for a measurement is
    put back.
    """

    id: str
    prompt: Prompt
    needs: Needs
    warnings: tuple[str, ...]
    when: tuple[Condition, ...]
    role: SafetyRole | None
    source: str
    hands_off: bool = field(default=False, kw_only=True)
    puts_back: bool = field(default=False, kw_only=True)


@dataclass(frozen=True, slots=True)
class Hold(StepBase):
    """Stops the job until its exact words are said."""

    until: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ask(StepBase):
    """A question whose answer is kept under `field`; `outcomes` is keyed by choice, "yes", "no" or "any"."""

    field: str
    asking: Asking
    choices: tuple[Choice, ...]
    outcomes: Mapping[str, Outcome]
    likely: tuple[Decimal, Decimal] | None = None
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Inspect(StepBase):
    """Eyes and nose; `outcomes` has "clean" and "fault"."""

    part: str
    outcomes: Mapping[str, Outcome]


@dataclass(frozen=True, slots=True)
class Measure(StepBase):
    """One value for each pair; `outcomes` is keyed by verdict word, or by supply finding where `judged_as` says so.

    `judged_as` is "each" (every pair against the same limits), or one for all pairs together: "supply-idle",
    "supply-alone" (with nothing on it that draws), "supply-loaded" or "supply-unplugged". `accepts_beep` is true for a
    wire or fuse, where a buzzer counts as continuity.
    """

    quantity: Quantity
    unit: Unit
    pairs: tuple[Pair, ...]
    limits: LimitRule
    judged_as: str
    accepts_beep: bool
    one_wire_off: bool
    likely: tuple[Decimal, Decimal] | None
    outcomes: Mapping[str, Outcome]
    field: str | None = None
    setup: Setup | None = None
    """How the appliance stands while this is read, for the circuit; None where the circuit cannot tell it."""
    through: str | None = None
    """The part of the circuit whose current is read."""


@dataclass(frozen=True, slots=True)
class Instruct(StepBase):
    """Something to do, closed by "done"; `outcomes` has "done"."""

    outcomes: Mapping[str, Outcome]


Step = Hold | Ask | Inspect | Measure | Instruct


@dataclass(frozen=True, slots=True)
class Access:
    """What has to be opened to get at a part, and how long that takes; what is open serves every test behind it."""

    id: str
    say: str
    cost_min: Decimal


@dataclass(frozen=True, slots=True)
class Section:
    """Steps that belong together: one part's test, one stage of the job.

    `asked` says when a test comes up by itself. `call` are the words that ask for it by name. `cost_min` is what it
    takes a technician in minutes (judgement, no source), and `access` what has to be opened first, which takes its own.
    `part` is how a report names what it tests. `narrows` are causes that it clears or halves without showing one.
    """

    id: str
    title: str
    phase: Phase
    role: SectionRole | None
    call: tuple[str, ...]
    part: str
    cost_min: Decimal
    when: tuple[Condition, ...]
    steps: tuple[Step, ...]
    asked: ComesUp = ComesUp.BY_WORTH
    access: tuple[str, ...] = ()
    narrows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cause:
    """A fault: how it is said, what mends it, why it may have happened and what to look at upstream.

    `say` may name a recorded answer in braces. `tested_by` is the section that shows it. `upstream` are tests that come
    up once it is proved, because something else may have made it fail.
    """

    id: str
    say: str
    tested_by: str
    remedy: str
    why_failed: str
    parts: tuple[str, ...]
    upstream: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remedy:
    """What is done about a cause."""

    id: str
    say: str


@dataclass(frozen=True, slots=True)
class HandOver:
    """A reason to stop work: what to say and who takes over."""

    id: str
    say: str
    to: str
    source: str


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is complained of, and how likely each cause is for it (weights; judgement, no statistics).

    `out` are the elements and motors of the circuit that do nothing with it; with `wrong` all of them do something, and
    not as they should. A rehearsal's customer goes by these.
    """

    id: str
    say: str
    weights: Mapping[str, Decimal]
    out: tuple[str, ...] = ()
    wrong: bool = False


@dataclass(frozen=True, slots=True)
class DangerScript:
    """What is said at once for one kind of danger; `{emergency_number}` is a setting."""

    kind: DangerKind
    say: str
    source: str


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """A file a procedure was written in: its name from the procedure's own folder, and its text."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class Procedure:
    """One appliance and complaint, whole.

    `digest` is the SHA-256 of `texts`, the files it was built from, its own file first. `settings` are named figures
    a shop may change (`proof_minutes`, `emergency_number`). `stop_work` lists once more what stops the work: by section
    and step ("intake.history") the results, each with its reason to hand over or its kind of danger. `supply` are the
    labels of what the supply brings to the appliance, the frame among them: a proof of dead takes every two of them.
    `fields` say how recorded answers read in a report: one text is what the field is called, two are the sentences that
    a yes and a no make. `explained` tells a customer what words of the trade mean.
    `call` is how the appliance is called when it is chosen, where `appliance` does not say all of it.
    `language` is the tag of the language (BCP 47) that its texts are in.
    """

    id: str
    title: str
    revision: int
    appliance: str
    digest: str
    settings: Mapping[str, str]
    warnings: Mapping[str, Warning]
    points: Mapping[str, Point]
    sections: tuple[Section, ...]
    complaints: Mapping[str, Complaint]
    causes: Mapping[str, Cause]
    remedies: Mapping[str, Remedy]
    hand_overs: Mapping[str, HandOver]
    danger_scripts: Mapping[DangerKind, DangerScript]
    access: Mapping[str, Access] = field(default_factory=dict)
    circuit: Appliance | None = None
    stop_work: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    supply: tuple[str, ...] = FOUR_WIRES
    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    explained: Mapping[str, str] = field(default_factory=dict)
    call: tuple[str, ...] = ()
    language: str = ENGLISH
    texts: tuple[WrittenFile, ...] = field(default=(), compare=False, repr=False)

    def section(self, section_id: str) -> Section:
        """Return the section of that name; KeyError where there is none."""
        for section in self.sections:
            if section.id == section_id:
                return section
        raise KeyError(section_id)

    def by_role(self, role: SectionRole) -> Section:
        """Return the section with that role; KeyError where there is none."""
        for section in self.sections:
            if section.role is role:
                return section
        raise KeyError(role)

    def step(self, section_id: str, step_id: str) -> Step:
        """Return the step of that name in that section; KeyError where there is none."""
        for step in self.section(section_id).steps:
            if step.id == step_id:
                return step
        raise KeyError(f"{section_id}/{step_id}")
