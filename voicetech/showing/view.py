"""What stands open in a job, whole: what to do, where, what it should read, what is believed, and what comes next."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from voicetech import diagnosis
from voicetech.diagnosis import Suspect
from voicetech.dialogue.draft import proof_s
from voicetech.dialogue.flow import facts, holds, open_step
from voicetech.dialogue.questions import question_for
from voicetech.dialogue.reply import (
    VERDICTS,
    LineKind,
    answer_words,
    cause_words,
    limit_told,
    limit_words,
    prompt_text,
    reason_words,
    said_choice,
    shown_value,
)
from voicetech.dialogue.standing import said_of_what_stands
from voicetech.electrical.limits import Limits
from voicetech.events import AnswerProposed, AnswerTaken, PartInspected, ReadingTaken, StepDone, StepSkipped
from voicetech.language.meaning import MEASURED
from voicetech.language.wording import shown
from voicetech.limit_rules import limits_for
from voicetech.procedure import Ask, Measure, Phase, Procedure, Step
from voicetech.session import Cursor, Power, Session
from voicetech.showing.bands import Placed, band_of, band_of_reading, placed
from voicetech.showing.quick_answers import Quick, quick_answers, requests
from voicetech.showing.sketch import drawn_points
from voicetech.turn import Turn
from voicetech.units import Reading, Unit

MOST_SUSPECTS = 4
MOST_REASONS = 3
MOST_NEXT = 3
_LEAST_SHARE = Decimal("0.01")
_AT_WORK = frozenset({Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON})


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the job; `state` is "done", "now" or "ahead"."""

    name: str
    state: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A hazard at this step under its signal word ("danger", "warning", "caution", "notice")."""

    signal: str
    say: str


@dataclass(frozen=True, slots=True)
class Place:
    """One of the two points that are measured now: its label, how it is said and where it is."""

    label: str
    call: str
    at: str


@dataclass(frozen=True, slots=True)
class LimitShown:
    """What a reading should be: a sentence, its source, the ends in figures ("" where open), and where they stand."""

    says: str
    source: str
    low: str
    high: str
    band: Placed | None


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """A reading that was taken at this step or just before: what it means beside its limits, in words."""

    label: str
    value: str
    verdict: str
    reason: str
    good: bool | None
    low: str
    high: str
    band: Placed | None
    at_s: float


@dataclass(frozen=True, slots=True)
class SuspectShown:
    """A cause that is suspected, with its share of the suspicion (0 to 1), or proved."""

    says: str
    share: float
    proved: bool


@dataclass(frozen=True, slots=True)
class TestShown:
    """A test that may be asked for by name: the line that asks for it, and whether it was done."""

    title: str
    say: str
    done: bool


@dataclass(frozen=True, slots=True)
class SafetyShown:
    """What is known of the appliance's power: "dead" while a proof stands, else "isolated", "live" or "unknown".

    `until_s` is when a proof that stands runs out.
    """

    state: str
    says: str
    until_s: float | None


@dataclass(frozen=True, slots=True)
class View:
    """What a screen shows of a job that is open.

    `turn` is whose turn it is, `prompt` what to do or answer now, `step` the open step's own prompt where another
    question stands before it. `asks_for` is the kind of answer that is owed, `unit` the symbol of its unit where it is
    a figure. `sketch` is a drawing of the test points as SVG, "" where there is none. `correctable` is the last answer
    in words, "" where none can be taken back. `ahead` says what comes next, in words.
    """

    job: str
    appliance: str
    turn: str
    section: str
    stages: tuple[Stage, ...]
    safety: SafetyShown
    prompt: str
    step: str
    cautions: tuple[Caution, ...]
    asks_for: str
    unit: str
    where: tuple[Place, ...]
    sketch: str
    limit: LimitShown | None
    readings: tuple[ReadingShown, ...]
    answers: tuple[Quick, ...]
    requests: tuple[Quick, ...]
    tests: tuple[TestShown, ...]
    correctable: str
    suspects: tuple[SuspectShown, ...]
    because: tuple[str, ...]
    ruled_out: tuple[str, ...]
    ahead: tuple[str, ...]
    sound_kept: bool | None
    outcome: str


def view_of(procedure: Procedure, session: Session, at_s: float) -> View:
    """Return what a screen shows of the job as it stands at this time, in seconds since 1970."""
    cursor = session.at
    section = None if cursor is None else procedure.section(cursor.section)
    step = None if cursor is None else procedure.step(cursor.section, cursor.step)
    at_work = session.turn in _AT_WORK and not session.sound_asked
    question = question_for(procedure, session)
    suspected = diagnosis.suspects(procedure, session) if session.answers.get("complaint") else ()
    measured = step if isinstance(step, Measure) and at_work else None
    return View(
        job=session.job,
        appliance=procedure.title,
        turn=session.turn.value,
        section="" if section is None else section.title,
        stages=tuple(_stages(procedure, session)),
        safety=_safety(procedure, session, at_s),
        prompt=_prompt(procedure, session),
        step=_step_words(procedure, session, cursor, step),
        cautions=tuple(_cautions(procedure, step)) if at_work else (),
        asks_for=question.asking.value,
        unit=_symbol(step) if question.asking in MEASURED else "",
        where=_where(procedure, measured, cursor),
        sketch="" if measured is None else drawn_points(procedure, session),
        limit=_limit(session, measured),
        readings=tuple(_readings(procedure, session)),
        answers=quick_answers(procedure, session),
        requests=requests(session),
        tests=tuple(_tests(procedure, session)) if at_work else (),
        correctable=_correctable(procedure, session) if at_work else "",
        suspects=tuple(_suspects(procedure, session, suspected)),
        because=_because(procedure, session) if suspected else (),
        ruled_out=tuple(
            cause_words(procedure, session, each.cause) for each in suspected if each.standing == "excluded"
        ),
        ahead=tuple(_ahead(procedure, session)) if at_work else (),
        sound_kept=session.sound_kept,
        outcome=session.outcome or "",
    )


def _stages(procedure: Procedure, session: Session) -> Iterator[Stage]:
    if session.at is None:
        return
    now = procedure.section(session.at.section)
    waiting = now if now.role is None or session.resume is None else procedure.section(session.resume.section)
    present = {section.phase for section in procedure.sections if section.role is None}
    phases = [phase for phase in Phase if phase in present]
    at = phases.index(waiting.phase) if waiting.phase in phases else 0
    over = session.turn in (Turn.CLOSED, Turn.HANDED_OVER)
    for number, phase in enumerate(phases):
        state = "done" if over or number < at else "now" if number == at else "ahead"
        yield Stage(_PHASES[phase], state)


_PHASES = {
    Phase.INTAKE: "Call",
    Phase.SETTINGS: "Settings",
    Phase.TEST: "Test",
    Phase.DECIDE: "Decide",
    Phase.REPAIR: "Repair",
    Phase.PUT_BACK: "Put back",
    Phase.RETEST: "Retest",
    Phase.ADVICE: "Advice",
    Phase.REPORT: "Report",
}


def _safety(procedure: Procedure, session: Session, at_s: float) -> SafetyShown:
    safety = session.safety
    if session.proof_stands(at_s, proof_s(procedure)) and safety.began_at_s is not None:
        until_s = safety.began_at_s + proof_s(procedure)
        return SafetyShown("dead", "Every pair read 1 V or less, tester proved before and after.", until_s)
    match safety.power:
        case Power.ON:
            return SafetyShown("live", "Power is on.", None)
        case Power.OFF:
            return SafetyShown("isolated", "Isolated, not proved dead. Treat it as live.", None)
        case Power.UNKNOWN:
            return SafetyShown("unknown", "Nothing proved. Treat it as live.", None)


_ASKED_FOR = frozenset({LineKind.PROMPT, LineKind.QUESTION, LineKind.DANGER, LineKind.RECORD, LineKind.HELP})


def _prompt(procedure: Procedure, session: Session) -> str:
    if session.turn is Turn.CLOSED:
        return f"This job is closed: {session.outcome}."
    said = said_of_what_stands(procedure, session)
    return " ".join(line.show for line in said.lines if line.kind in _ASKED_FOR)


def _step_words(procedure: Procedure, session: Session, cursor: Cursor | None, step: Step | None) -> str:
    if cursor is None or step is None or (session.turn is Turn.ASKING and not session.sound_asked):
        return ""
    return prompt_text(procedure, session, cursor, step, short=False) if session.turn is not Turn.CLOSED else ""


def _cautions(procedure: Procedure, step: Step | None) -> Iterator[Caution]:
    for name in () if step is None else step.warnings:
        warning = procedure.warnings[name]
        yield Caution(warning.signal.value, warning.say)


def _symbol(step: Step | None) -> str:
    unit = step.unit if isinstance(step, (Measure, Ask)) else None
    return _figure(Decimal(1), unit).removeprefix("1").strip() if unit is not None else ""


def _where(procedure: Procedure, step: Measure | None, cursor: Cursor | None) -> tuple[Place, ...]:
    if step is None or cursor is None:
        return ()
    pair = step.pairs[cursor.pair]
    points = (procedure.points.get(pair.first), procedure.points.get(pair.second))
    return tuple(Place(point.label, point.call[0], point.at) for point in points if point is not None)


def _limit(session: Session, step: Measure | None) -> LimitShown | None:
    if step is None:
        return None
    if step.judged_as != "each":
        return LimitShown(f"{limit_told(session, step)} Judged together.", "", "", "", None)
    limits = limits_for(step.limits, session.answers)
    return LimitShown(
        limit_words(limits), limits.source, *_ends(limits.low, limits.high, limits.unit), _limits_band(limits)
    )


def _limits_band(limits: Limits) -> Placed | None:
    band = None if limits.expect_open else band_of(limits.low, limits.high, None)
    return None if band is None else placed(band, read=False)


def _ends(low: Decimal | None, high: Decimal | None, unit: Unit | None) -> tuple[str, str]:
    return "" if low is None else _figure(low, unit), "" if high is None else _figure(high, unit)


def _figure(value: Decimal, unit: Unit | None) -> str:
    return shown(Reading(value, unit))


def _readings(procedure: Procedure, session: Session) -> Iterator[ReadingShown]:
    """Yield the readings of the open step, else those of the last answer: what the technician has just read."""
    cursor, last = session.at, session.last_answer
    here = () if cursor is None else tuple(session.readings_of(cursor).values())
    if not here and isinstance(last, ReadingTaken):
        here = tuple(taken for taken in session.readings if taken.seq == last.seq)
    for taken in here:
        yield _reading(procedure, taken)


def _reading(procedure: Procedure, taken: ReadingTaken) -> ReadingShown:
    step = procedure.step(taken.section, taken.step)
    alone = not isinstance(step, Measure) or step.judged_as == "each"
    band = band_of_reading(procedure, taken) if alone else None
    low, high = _ends(taken.low, taken.high, taken.unit) if alone else ("", "")
    return ReadingShown(
        label=taken.label,
        value=shown_value(taken),
        verdict=VERDICTS.get(taken.verdict, taken.verdict) if alone else "",
        reason=taken.reason if alone else "",
        good=_good(taken.verdict) if alone else None,
        low=low,
        high=high,
        band=None if band is None else placed(band),
        at_s=taken.at_s,
    )


def _good(verdict: str) -> bool | None:
    return {"within": True, "marginal": None, "unusable": None}.get(verdict, False)


def _tests(procedure: Procedure, session: Session) -> Iterator[TestShown]:
    known = facts(procedure, session)
    for section in procedure.sections:
        if section.phase is Phase.TEST and section.role is None and section.call and holds(section.when, known):
            done = session.ended.get(section.id) == "done"
            yield TestShown(section.title, f"go to {section.call[0]}", done)


def _correctable(procedure: Procedure, session: Session) -> str:
    if isinstance(session.pending, AnswerProposed):
        step = open_step(procedure, session)
        return ", ".join(answer_words(answer, step) for answer in session.pending.answers)
    match session.last_answer:
        case ReadingTaken() as taken:
            return f"{taken.label}: {shown_value(taken)}"
        case AnswerTaken(section=section, step=step_id, value=value):
            step = procedure.step(section, step_id)
            return said_choice(step, value) if isinstance(step, Ask) else value
        case PartInspected(part=part, words=words):
            return f"{part}: {words}"
        case StepDone(words=words):
            return words
        case StepSkipped(reason=reason):
            return f"skipped: {reason}"
        case None:
            return ""


def _suspects(procedure: Procedure, session: Session, suspected: tuple[Suspect, ...]) -> Iterator[SuspectShown]:
    for each in [s for s in suspected if s.standing != "excluded"][:MOST_SUSPECTS]:
        proved = each.standing == "proved"
        if proved or each.share >= _LEAST_SHARE:
            yield SuspectShown(cause_words(procedure, session, each.cause), round(float(each.share), 2), proved)


def _because(procedure: Procedure, session: Session) -> tuple[str, ...]:
    return tuple(reason_words(procedure, piece) for piece in diagnosis.reasons(procedure, session)[:MOST_REASONS])


def _ahead(procedure: Procedure, session: Session) -> Iterator[str]:
    """Yield what comes after the open question, as far as it can be told before the answer."""
    cursor = session.at
    if cursor is None:
        return
    section, step = procedure.section(cursor.section), procedure.step(cursor.section, cursor.step)
    taken = session.readings_of(cursor)
    if isinstance(step, Measure):
        owed = [pair.say for pair in step.pairs[cursor.pair + 1 :] if pair.label not in taken]
        yield from (f"Then {say}" for say in owed[:MOST_NEXT])
        if owed:
            return
    if section.role is not None and session.resume is not None:
        waiting = procedure.section(session.resume.section)
        yield f"{section.title}, then {waiting.title}"
        return
    if section.phase is Phase.TEST and not session.proved:
        known = facts(procedure, session)
        following = diagnosis.next_test(
            procedure, session, lambda each: each.id != section.id and holds(each.when, known)
        )
        if following is not None:
            yield f"If nothing is found here: {following.title}"
