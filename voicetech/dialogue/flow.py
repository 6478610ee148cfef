"""Where the job goes next, and the gate every step is entered through.

`enter` is the only way to a step. It puts making safe in front of a step that needs a dead appliance while no proof
of dead stands, and the hold before power in front of a live or powered one, after making safe where a cover has to be
opened or closed for it. The nulling of the leads comes in front of the first resistance. The step that waits is kept
and tried again through the same gate.
"""

from collections.abc import Mapping
from dataclasses import replace

from voicetech import diagnosis
from voicetech.dialogue.draft import Draft
from voicetech.events import (
    CausesExcluded,
    JobClosed,
    PowerRestored,
    ProofEnded,
    SectionEnded,
    StepDeferred,
    StepEntered,
    SupplyClassified,
)
from voicetech.procedure import (
    ComesUp,
    Condition,
    Measure,
    Needs,
    Phase,
    Procedure,
    SafetyRole,
    Section,
    SectionRole,
    Step,
)
from voicetech.session import REOPENED, Cursor, Power, Safety, Session
from voicetech.units import Quantity

MORE_TESTS = "more-tests"
"""The `next` of an outcome that sends the job back to testing: the repair did not mend the complaint."""
END = "end"
"""The `next` of an outcome that ends its section."""

FROM_DIAGNOSIS = frozenset({"found", "found_too", "cause", "remedy", "supply"})
"""Fields that conditions may look at though nobody is asked for them."""


def facts(procedure: Procedure, session: Session) -> dict[str, str]:
    """Return the answers that conditions look at, with what the diagnosis has found, and what the supply is."""
    known = dict(session.answers)
    supply = next((taken.finding for taken in reversed(session.record) if isinstance(taken, SupplyClassified)), None)
    if supply is not None:
        known["supply"] = supply
    proved = session.proved
    known["found"] = "yes" if proved else "no"
    known["found_too"] = "yes" if len(proved) > 1 else "no"
    if proved:
        known["cause"] = proved[0]
        known["remedy"] = procedure.causes[proved[0]].remedy
    return known


def open_step(procedure: Procedure, session: Session) -> Step | None:
    """Return the step that is asked, None where nothing is."""
    return None if session.at is None else procedure.step(session.at.section, session.at.step)


def holds(conditions: tuple[Condition, ...], known: Mapping[str, str]) -> bool:
    """Return whether every condition is true of these answers."""
    return all((known.get(c.field, "") in c.values) != c.absent for c in conditions)


def what_is_missing(draft: Draft, step: Step) -> str | None:
    """Return what the step still needs in front of it (dead, live, powered, leads), or None."""
    safety = draft.session.safety
    match step.needs:
        case Needs.DEAD if not draft.proof_stands:
            return "dead"
        case Needs.LIVE if safety.power is not Power.ON or safety.ready != "live":
            return "live" if draft.proof_stands else "dead"
        case Needs.POWERED if safety.power is not Power.ON or safety.ready != "covers":
            may_close_up = draft.proof_stands or not draft.session.covers_open
            return "powered" if may_close_up else "dead"
        case _:
            pass
    if _needs_leads(draft, step):
        return "leads"
    return None


def _needs_leads(draft: Draft, step: Step) -> bool:
    return (
        isinstance(step, Measure)
        and step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY)
        and step.role is not SafetyRole.NULL_LEADS
        and draft.session.lead_ohm is None
        and draft.session.ended.get(draft.procedure.by_role(SectionRole.NULL_LEADS).id) is None
    )


def _first_owed(draft: Draft, step: Step, cursor: Cursor) -> Cursor:
    """Return the cursor at the first pair without a reading, so that no pair is asked twice."""
    if not isinstance(step, Measure):
        return cursor
    taken = draft.session.readings_of(cursor)
    owed = next((index for index, pair in enumerate(step.pairs) if pair.label not in taken), cursor.pair)
    return cursor if owed == cursor.pair else replace(cursor, pair=owed)


_IN_FRONT = {
    "dead": SectionRole.MAKE_SAFE,
    "live": SectionRole.GO_LIVE,
    "powered": SectionRole.POWER_UP,
    "leads": SectionRole.NULL_LEADS,
}


def enter(draft: Draft, cursor: Cursor) -> None:
    """Enter the step, or what has to come before it."""
    step = draft.procedure.step(cursor.section, cursor.step)
    missing = what_is_missing(draft, step)
    if missing is not None:
        draft.add(StepDeferred(cursor.section, cursor.step, cursor.pair, cursor.attempt, missing))
        if missing == "dead":
            end_proof(draft, "making safe begins")
        start_over(draft, draft.procedure.by_role(_IN_FRONT[missing]))
        return
    cursor = _first_owed(draft, step, cursor)
    if step.role is SafetyRole.POWER_ON:
        draft.add(PowerRestored(f"the step {step.id} asks for power", draft.at_s))
    draft.add(StepEntered(cursor.section, cursor.step, cursor.pair, cursor.attempt, draft.at_s))


def first_step(draft: Draft, section: Section, after: str | None = None) -> Step | None:
    """Return the first step of the section (or the first after a named one) whose conditions hold."""
    known = facts(draft.procedure, draft.session)
    waiting = after is not None
    for step in section.steps:
        if waiting:
            waiting = step.id != after
            continue
        if holds(step.when, known):
            return step
    return None


def go_on(draft: Draft, next_step: str | None) -> None:
    """Go where an outcome leads: a named step, the step below, the end of the section, or back to testing."""
    section = draft.section
    if next_step == MORE_TESTS:
        more_tests(draft)
        return
    if next_step == END:
        end_section(draft, section, "done")
        return
    if next_step is not None:
        enter(draft, Cursor(section.id, next_step))
        return
    step = first_step(draft, section, after=draft.cursor.step)
    if step is None:
        end_section(draft, section, "done")
    else:
        enter(draft, Cursor(section.id, step.id))


def end_section(draft: Draft, section: Section, how: str) -> None:
    """End the section and go where the job goes from there."""
    if section.role is not None:
        _end_front(draft, section, how)
        return
    draft.add(SectionEnded(draft.seq, section.id, how))
    next_section(draft, section.phase)


def _end_front(draft: Draft, section: Section, how: str) -> None:
    if section.role is SectionRole.NULL_LEADS:
        draft.add(SectionEnded(draft.seq, section.id, how))
    waiting = draft.session.resume
    if waiting is None:
        next_section(draft, section.phase)
    else:
        enter(draft, waiting)


def next_section(draft: Draft, phase: Phase) -> None:
    """Enter the first section that is still to do, in this phase or a later one; close the job where none is."""
    for later in list(Phase)[list(Phase).index(phase) :]:
        section = _next_in(draft, later)
        if section is None:
            continue
        first = first_step(draft, section)
        if first is None:
            draft.add(SectionEnded(draft.seq, section.id, "nothing to do"))
            next_section(draft, later)
            return
        enter(draft, Cursor(section.id, first.id))
        return
    close(draft)


def _next_in(draft: Draft, phase: Phase) -> Section | None:
    known = facts(draft.procedure, draft.session)
    if phase is Phase.TEST:
        if draft.session.proved:
            return _upstream(draft, known)
        first = _asked_first(draft, known)
        if first is not None:
            return first
        return diagnosis.next_test(draft.procedure, draft.session, lambda section: holds(section.when, known))
    for section in draft.procedure.sections:
        if section.phase is not phase or section.role is not None or section.id in draft.session.ended:
            continue
        if holds(section.when, known):
            return section
    return None


def _asked_first(draft: Draft, known: Mapping[str, str]) -> Section | None:
    """Return the test that comes before any bargaining, because what it may show is dangerous."""
    ended = draft.session.ended
    for section in draft.procedure.sections:
        if section.asked is ComesUp.FIRST and section.id not in ended and holds(section.when, known):
            return section
    return None


def _upstream(draft: Draft, known: Mapping[str, str]) -> Section | None:
    """Return the next test of what may have made the last proved cause fail, until one has shown it."""
    procedure, session = draft.procedure, draft.session
    for section_id in procedure.causes[session.proved[-1]].upstream:
        section = procedure.section(section_id)
        if section_id not in session.ended and holds(section.when, known):
            return section
    return None


def more_tests(draft: Draft) -> None:
    """Send the job back to testing: what was found is mended or was not it, and the complaint is still there."""
    session = draft.session
    if session.proved:
        draft.add(CausesExcluded(draft.seq, session.proved))
    again = {Phase.DECIDE, Phase.REPAIR, Phase.PUT_BACK, Phase.RETEST}
    for section in draft.procedure.sections:
        if section.phase in again and section.id in draft.session.ended:
            draft.add(SectionEnded(draft.seq, section.id, REOPENED))
    next_section(draft, Phase.TEST)


def end_proof(draft: Draft, reason: str) -> None:
    """End any proof of dead and everything that making safe or ready for power had reached."""
    if draft.session.safety != Safety():
        draft.add(ProofEnded(reason, draft.at_s))


def reenter(draft: Draft) -> None:
    """Enter the open step again through the gate; making safe and going live start over for the step that waits."""
    section, waiting = draft.section, draft.session.resume
    # Asking for power goes on only with the word that it is on, as long as the hold before it stands.
    power_on = draft.step.role is SafetyRole.POWER_ON and bool(draft.session.safety.ready)
    if section.role in (None, SectionRole.NULL_LEADS) or power_on:
        enter(draft, draft.cursor)
    elif waiting is not None:
        enter(draft, waiting)
    else:
        start_over(draft, section)


def start_over(draft: Draft, section: Section) -> None:
    """Begin a section anew, at its first step."""
    draft.add(SectionEnded(draft.seq, section.id, REOPENED))
    first = first_step(draft, section)
    if first is None:
        raise RuntimeError(f"the section {section.id} has no step to ask")
    enter(draft, Cursor(section.id, first.id))


def close(draft: Draft) -> None:
    """Close the job with its outcome in a word."""
    session = draft.session
    if session.handed_over is not None:
        outcome = "handed over"
    elif not session.proved:
        outcome = "not found"
    elif session.answers.get("consent") == "repair":
        outcome = "repaired"
    else:
        outcome = "left safe"
    draft.add(JobClosed(outcome, draft.at_s))
