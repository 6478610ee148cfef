"""A small procedure and a whole job by hand: a bake element that is open, one undone reading, one danger stop."""

from decimal import Decimal

from voicetech.events import (
    AnswerTaken,
    AnswerWithdrawn,
    CausesExcluded,
    CauseShown,
    Channel,
    DangerDenied,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    DeadProved,
    Event,
    HoldTaken,
    InputReceived,
    Isolated,
    JobClosed,
    JobOpened,
    JobReopened,
    NoteTaken,
    PairReadDead,
    PartInspected,
    PowerRestored,
    ProofEnded,
    ReadingTaken,
    Refused,
    SectionEnded,
    StepDone,
    StepEntered,
    StepSkipped,
    StopCleared,
    SupplyClassified,
    TesterProved,
)
from voicetech.language.meaning import Asking, Choice, DangerKind
from voicetech.procedure import (
    Ask,
    Cause,
    Complaint,
    HandOver,
    Instruct,
    LimitRule,
    Measure,
    Needs,
    Pair,
    Phase,
    Procedure,
    Prompt,
    Remedy,
    Section,
    SectionRole,
    Step,
)
from voicetech.units import Quantity, Unit

START_S = 1_795_599_660.0
"""25 November 2026, 09:41 UTC."""


def _ask(step: str, field: str, choices: tuple[Choice, ...] = (), unit: Unit | None = None) -> Ask:
    return Ask(
        step, Prompt(f"{field}?", f"{field}?"), Needs.ANY, (), (), None, "", field, Asking.ANY, choices, {}, None, unit
    )


def _measure(step: str, label: str, one_wire_off: bool = True, needs: Needs = Needs.DEAD) -> Measure:
    return Measure(
        id=step,
        prompt=Prompt(f"Measure {label}.", f"Measure {label}."),
        needs=needs,
        warnings=(),
        when=(),
        role=None,
        source="",
        quantity=Quantity.RESISTANCE,
        unit=Unit.OHM,
        pairs=(Pair(label, "a", "b", label),),
        limits=LimitRule("element", {}, {}, ""),
        judged_as="each",
        accepts_beep=False,
        one_wire_off=one_wire_off,
        likely=None,
        outcomes={},
    )


def _do(step: str, words: str) -> Instruct:
    return Instruct(step, Prompt(words, words), Needs.ANY, (), (), None, "", {})


def _section(
    section: str, part: str, phase: Phase, steps: tuple[Step, ...], role: SectionRole | None = None
) -> Section:
    return Section(section, part, phase, role, (), part, Decimal(3), (), steps)


PROCEDURE = Procedure(
    id="range-no-heat",
    title="Electric range does not heat",
    revision=3,
    appliance="electric range",
    digest="d" * 64,
    settings={"proof_minutes": "30"},
    warnings={},
    points={},
    sections=(
        _section(
            "call",
            "the call",
            Phase.INTAKE,
            (
                _ask("complaint", "complaint"),
                _ask("volts", "rated_volts", unit=Unit.VOLT),
                _ask("serial", "serial"),
                _ask("connection", "connection", (Choice("cord-4", ("four wire cord",)),)),
            ),
        ),
        _section("make-safe", "isolation", Phase.TEST, (), SectionRole.MAKE_SAFE),
        _section("supply", "supply", Phase.TEST, (_measure("loaded", "L1-L2", False, Needs.LIVE),)),
        _section("bake", "bake element", Phase.TEST, (_measure("end-to-end", "1-2"), _measure("sheath", "1-sheath"))),
        _section("sensor", "oven sensor", Phase.TEST, (_measure("sensor", "1-2"),)),
        _section("fuse", "thermal fuse", Phase.TEST, (_measure("fuse", "1-2"),)),
        _section("consent", "decision", Phase.DECIDE, (_ask("consent", "consent"),)),
        _section(
            "mend",
            "repair",
            Phase.REPAIR,
            (_do("fit", "Fit the new {parts} and tighten both terminals, then say done."),),
        ),
        _section(
            "close",
            "putting back",
            Phase.PUT_BACK,
            (_do("covers", "Covers on. Say done."), _measure("earth", "frame-pin")),
        ),
        _section("run", "retest", Phase.RETEST, (_do("hot", "Bake at 350 and watch it come to heat. Say done."),)),
        _section("tell", "advice", Phase.ADVICE, (_do("foil", "No foil on the oven floor. Say done when told."),)),
    ),
    complaints={"bake": Complaint("bake", "oven bakes cold", {"bake-open": Decimal(5), "sensor-open": Decimal(1)})},
    causes={
        "bake-open": Cause(
            "bake-open",
            "The bake element is open; the plate says {rated_volts} volts.",
            "bake",
            "swap",
            "Elements wear through at a hot spot; look at its terminals for heat.",
            ("bake element",),
        ),
        "sensor-open": Cause("sensor-open", "The oven sensor is open.", "sensor", "swap-sensor", "", ()),
        "joint": Cause("joint", "A supply joint gives way under load.", "supply", "tighten", "", ()),
    },
    remedies={"swap": Remedy("swap", "Replace the bake element.")},
    hand_overs={"neutral": HandOver("neutral", "The supply's neutral is open.", "a licensed electrician", "")},
    danger_scripts={},
)


def reading(
    seq: int,
    section: str,
    step: str,
    label: str,
    value: str | None,
    verdict: str,
    low: str | None,
    high: str | None,
    at_s: float,
    *,
    unit: Unit = Unit.OHM,
    needs: str = "dead",
    attempt: int = 1,
    lead_ohm: str | None = None,
) -> ReadingTaken:
    """Return a reading with its verdict; figures as text, None for over range or an open limit."""
    return ReadingTaken(
        seq=seq,
        section=section,
        step=step,
        label=label,
        value=None if value is None else Decimal(value),
        unit=unit,
        state=None,
        verdict=verdict,
        reason=f"the reading is {verdict.replace('_', ' ')}",
        low=None if low is None else Decimal(low),
        high=None if high is None else Decimal(high),
        probability_inside=None,
        source="nameplate",
        attempt=attempt,
        needs=needs,
        lead_ohm=None if lead_ohm is None else Decimal(lead_ohm),
        at_s=at_s,
    )


def proof(at_s: float, by: str = "plug") -> tuple[Event, ...]:
    """Return one whole proof of dead, minute by minute from `at_s`."""
    pairs = ("L1-L2", "L1-N", "L2-N", "L1-frame", "L2-frame", "N-frame")
    return (
        Isolated(by, at_s),
        TesterProved(True, Decimal("121.4"), at_s + 60),
        *(PairReadDead(label, Decimal("0.0"), at_s + 120) for label in pairs),
        TesterProved(False, Decimal("121.2"), at_s + 180),
        DeadProved(at_s + 180),
    )


def answer(seq: int, field: str, value: str, at_s: float, *, unverified: bool = False, step: str = "") -> AnswerTaken:
    """Return an answer given at intake."""
    return AnswerTaken(seq, "call", step or field, field, value, unverified, at_s)


def opening() -> tuple[Event, ...]:
    """Return the first events of the job: its opening alone."""
    return (JobOpened("20261125-0941-k7", "range-no-heat", 3, "d" * 64, Channel.VOICE, START_S),)


def whole_job() -> tuple[Event, ...]:
    """Return a job from its opening to its end."""
    t = START_S
    return (
        *opening(),
        InputReceived(Channel.VOICE, "model", (), 1.0, "accepted", "bake", None, t + 20),
        answer(1, "complaint", "bake", t + 20),
        answer(2, "rated_volts", "240", t + 40, step="volts"),
        answer(3, "serial", "QX 4471", t + 60, unverified=True),
        answer(4, "connection", "cord-4", t + 80),
        StepEntered("make-safe", "unplug", 0, 1, t + 90),
        *proof(t + 120),
        StepEntered("bake", "end-to-end", 0, 1, t + 320),
        reading(6, "bake", "end-to-end", "1-2", "23.4", "within", "19.9", "24.4", t + 360, lead_ohm="0.2"),
        CausesExcluded(6, ("bake-open",)),
        AnswerWithdrawn(6, "correction", t + 380),
        reading(7, "bake", "end-to-end", "1-2", None, "over_range", "19.9", "24.4", t + 400, lead_ohm="0.2"),
        StepEntered("bake", "end-to-end", 0, 2, t + 410),
        reading(8, "bake", "end-to-end", "1-2", None, "over_range", "19.9", "24.4", t + 440, attempt=2),
        CauseShown(8, "bake-open", True, "bake", "end-to-end"),
        SectionEnded(8, "bake", "done"),
        PartInspected(9, "bake", "look", "bake element", True, "burnt through near the back", t + 470),
        StepEntered("fuse", "fuse", 0, 1, t + 480),
        StepSkipped(10, "fuse", "fuse", "not fitted", t + 490),
        SectionEnded(10, "fuse", "not fitted"),
        DangerDoubted(DangerKind.SPARKS, "it sparked last night", t + 500),
        DangerDenied(t + 505),
        ProofEnded("danger", t + 520),
        DangerStopped(DangerKind.FIRE, "smoke", t + 520),
        StopCleared(t + 700),
        DangerRecounted("a rag on the other burner", t + 720),
        Refused("This is a safety step. It cannot be skipped."),
        Refused("This is a safety step. It cannot be skipped."),
        JobReopened(Channel.CHAT, "taken over from voice", t + 800),
        *proof(t + 820, "lockout"),
        AnswerTaken(11, "consent", "consent", "consent", "repair", False, t + 1100),
        StepDone(12, "mend", "fit", "done", t + 1900),
        StepDone(13, "close", "covers", "done", t + 2000),
        reading(14, "close", "earth", "frame-pin", "0.08", "within", None, "0.2", t + 2050),
        HoldTaken("covers", t + 2100),
        PowerRestored("the step power-on asks for power", t + 2120),
        reading(
            15, "supply", "loaded", "L1-L2", "238.6", "within", "228", "252", t + 2300, unit=Unit.VOLT, needs="live"
        ),
        CausesExcluded(15, ("joint",)),
        SupplyClassified(15, "split-phase", "A sound 240 volt supply.", t + 2300),
        StepDone(16, "run", "hot", "done", t + 4100),
        StepDone(17, "tell", "foil", "done", t + 4200),
        NoteTaken("anti tip bracket was missing, fitted one", True, t + 4300),
        JobClosed("repaired", t + 4400),
    )
