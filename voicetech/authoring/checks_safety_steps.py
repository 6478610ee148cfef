"""The safety steps themselves: of their kind, never skipped, never passed by, and something always isolates."""

import re
from collections.abc import Iterator, Mapping
from itertools import product
from math import prod
from typing import Final

from voicetech.authoring.checking import Breach, Check, asked_fields, every_step
from voicetech.authoring.findings import Keys
from voicetech.authoring.ways import ENGINE_LED, outcomes_of
from voicetech.dialogue.flow import END, MORE_TESTS, holds
from voicetech.language.meaning import Asking
from voicetech.procedure import (
    Ask,
    Due,
    Hold,
    Instruct,
    Measure,
    Needs,
    Outcome,
    Procedure,
    SafetyRole,
    Section,
    SectionRole,
    Signal,
    Step,
)
from voicetech.units import Quantity

LEAD_OHM: Final = "lead_ohm"
"""The field that the ohms of the leads are kept under, to be subtracted."""
_ISOLATES: Final = frozenset({SafetyRole.ISOLATE_PLUG, SafetyRole.ISOLATE_LOCKOUT})
_JUDGED_BY: Final[Mapping[SafetyRole, tuple[Quantity, str]]] = {
    SafetyRole.TESTER_BEFORE: (Quantity.VOLTAGE, "known-live"),
    SafetyRole.DEAD_PAIRS: (Quantity.VOLTAGE, "dead"),
    SafetyRole.TESTER_AFTER: (Quantity.VOLTAGE, "known-live"),
    SafetyRole.NULL_LEADS: (Quantity.RESISTANCE, "leads"),
}
_MOST_ANSWERS: Final = 500


def kinds(procedure: Procedure) -> Iterator[Breach]:
    """A safety step is of the kind that its role is, a measurement by the role's own limits."""
    for keys, _section, step in every_step(procedure):
        if step.role is None:
            continue
        wanted = _wanted(step.role, step)
        if wanted:
            message = f"the role {step.role.value} is {wanted}; write it so"
            yield Breach((*keys, "role"), message, "safety-step")
        if step.role is SafetyRole.NULL_LEADS and isinstance(step, Measure) and step.field != LEAD_OHM:
            message = f"the ohms of the leads are subtracted only from the field {LEAD_OHM}; write `field: {LEAD_OHM}`"
            yield Breach((*keys, "field"), message, "safety-step")


def _wanted(role: SafetyRole, step: Step) -> str:
    """Return what the role wants the step to be, empty where it is that."""
    if role in _JUDGED_BY:
        quantity, rule = _JUDGED_BY[role]
        right = isinstance(step, Measure) and step.quantity is quantity and step.limits.rule == rule
        return "" if right else f"a number, `measure: {quantity.value}` by the limits rule {rule}"
    if role is SafetyRole.LOW_IMPEDANCE:
        return "" if isinstance(step, Ask) and step.asking is Asking.YES_NO else "a question, `ask: yes-no`"
    if role is SafetyRole.POWER_ON:
        return "" if isinstance(step, Instruct) else "an instruction, `instruct`"
    return "" if isinstance(step, Hold) else "a hold, `hold`"


def never_skipped(procedure: Procedure) -> Iterator[Breach]:
    """No safety step but those that isolate has conditions, is there twice, or needs a state itself."""
    for section in procedure.sections:
        if section.role is None:
            continue
        there: set[SafetyRole] = set()
        for step in section.steps:
            keys: Keys = ("sections", section.id, "steps", step.id)
            if step.needs not in _may_need(section.role):
                message = "what makes safe or brings power needs no state itself; remove `needs`"
                yield Breach((*keys, "needs"), message, "safety-step")
            if step.role is None or step.role in _ISOLATES:
                continue
            if step.when:
                key = "when_not" if step.when[0].absent else "when"
                message = f"a step with the role {step.role.value} is never skipped; remove its conditions"
                yield Breach((*keys, key), message, "safety-step")
            if step.role in there:
                message = f"another step has the role {step.role.value} already; keep one"
                yield Breach((*keys, "role"), message, "safety-step")
            there.add(step.role)


def _may_need(role: SectionRole) -> tuple[Needs, ...]:
    return (Needs.ANY, Needs.DEAD) if role is SectionRole.NULL_LEADS else (Needs.ANY,)


def never_passed_by(procedure: Procedure) -> Iterator[Breach]:
    """In the sections of the program no outcome leads past a safety step."""
    for section in procedure.sections:
        if section.role is None or section.role is SectionRole.NULL_LEADS:
            continue
        for at, step in enumerate(section.steps):
            for name, outcome in outcomes_of(step).items() if step.role not in ENGINE_LED else ():
                passed = _passed(section, at, outcome)
                if passed is not None:
                    keys = ("sections", section.id, "steps", step.id, "outcomes", name)
                    message = f"leads past {passed}, which keeps the technician safe; lead to the step below"
                    yield Breach(keys, message, "safety-step")


def _passed(section: Section, at: int, outcome: Outcome) -> str | None:
    """Return the safety step that the outcome leads past, or None."""
    behind = list(section.steps[at + 1 :])
    target = outcome.again_by or outcome.next
    if outcome.hand_over is not None or outcome.danger is not None:
        return None
    if target is None:
        return behind[0].id if outcome.cause is not None and behind else None
    if target in (END, MORE_TESTS):
        between = behind
    else:
        names = [step.id for step in behind]
        between = behind[: names.index(target)] if target in names else []
    return next((step.id for step in between if step.role is not None), None)


def unconditional_roles(procedure: Procedure) -> Iterator[Breach]:
    """A section of the program has no conditions: they are not looked at."""
    for section in procedure.sections:
        if section.role is not None and section.when:
            key = "when_not" if section.when[0].absent else "when"
            message = f"the section {section.role.value} comes whenever it is needed; remove its conditions"
            yield Breach(("sections", section.id, key), message, "section-role")


def isolation(procedure: Procedure) -> Iterator[Breach]:
    """Whatever was answered, one kind of isolation is held to, and a plug in the hand needs no lock."""
    asked = asked_fields(procedure)
    for section in procedure.sections:
        isolating = [step for step in section.steps if step.role in _ISOLATES]
        if section.role is not SectionRole.MAKE_SAFE or not isolating:
            continue
        fields = sorted({condition.field for step in isolating for condition in step.when})
        answers = [asked.get(field) or () for field in fields]
        if not all(answers) or prod(map(len, answers)) > _MOST_ANSWERS:
            continue
        told: set[str] = set()
        for values in product(*answers):
            known = dict(zip(fields, values, strict=True))
            asked_for = [step for step in isolating if holds(step.when, known)]
            with_it = " and ".join(f"{field} {value}" for field, value in known.items())
            if not asked_for and "none" not in told:
                told.add("none")
                message = f"nothing isolates with {with_it}; let the conditions of one step take it in"
                yield Breach(("sections", section.id, "steps"), message, "isolation")
            both = {step.role for step in asked_for} == _ISOLATES
            lock = next((step for step in asked_for if step.role is SafetyRole.ISOLATE_LOCKOUT), None)
            if both and lock is not None and lock.id not in told:
                told.add(lock.id)
                answer = f" with {with_it}" if with_it else ""
                message = f"asks for a lock on a plug in the hand{answer}; give it conditions that tell them apart"
                yield Breach(("sections", section.id, "steps", lock.id), message, "isolation")


BREAKERS: Final = "breaker_linked"
SINGLES: Final = "singles"
"""The question for the breakers, and its answer that says there are two without a common handle."""
_BOTH: Final = re.compile(r"\b(both|each|two|every)\b")


def one_lock_for_two(procedure: Procedure) -> Iterator[Breach]:
    """Two single breakers are two sources: where the answers tell them apart, each gets a lock of its own."""
    asked = asked_fields(procedure)
    for keys, section, step in every_step(procedure):
        if section.role is not SectionRole.MAKE_SAFE or step.role is not SafetyRole.ISOLATE_LOCKOUT:
            continue
        comes_up = SINGLES in (asked.get(BREAKERS) or ()) and _holds_with(step, SINGLES)
        if comes_up and not _BOTH.search(step.prompt.full.lower()):
            message = (
                "asks for one lock with two single breakers, which are two sources; give it "
                f"`when_not: {{{BREAKERS}: [{SINGLES}]}}`, and write a step for them with a lock and a tag on each"
            )
            yield Breach(keys, message, "isolation")


def _holds_with(step: Step, answer: str) -> bool:
    """Return whether the step comes up with this answer for the breakers, whatever else was answered."""
    return all((answer in c.values) != c.absent for c in step.when if c.field == BREAKERS)


def missing_warnings(procedure: Procedure) -> Iterator[Breach]:
    """A caution is said in front of live parts, hot parts and stored charge."""
    for keys, _section, step in every_step(procedure):
        signals = {procedure.warnings[name].signal for name in step.warnings if name in procedure.warnings}
        unknown = [name for name in step.warnings if name not in procedure.warnings]
        if step.role is SafetyRole.LIVE_HOLD and not unknown and not signals & {Signal.DANGER, Signal.WARNING}:
            message = "live parts come next and nobody is warned; name one with the signal danger under `warnings`"
            yield Breach(keys, message, "missing-warning")
        if isinstance(step, Measure) and not step.warnings:
            hot = step.needs is Needs.DEAD and step.setup is not None and step.setup.hot
            if hot or step.limits.rule == "insulation":
                what = "hot parts" if hot else "an insulation tester, which leaves a charge,"
                message = f"{what} can hurt and nobody is warned; name a warning under `warnings`"
                yield Breach(keys, message, "missing-warning")


def warnings_due(procedure: Procedure) -> Iterator[Breach]:
    """Each warning is said at the steps that it says itself it is due at."""
    for keys, _section, step in every_step(procedure):
        # One that is mistyped may be the one that is due.
        mistyped = any(name not in procedure.warnings for name in step.warnings)
        for warning in procedure.warnings.values() if not mistyped else ():
            if warning.id not in step.warnings and any(is_due(due, step) for due in warning.due):
                message = f"the warning {warning.id} is due here by its own list; name it under `warnings`"
                yield Breach((*keys, "warnings"), message, "missing-warning")


def is_due(due: Due, step: Step) -> bool:
    """Return whether a warning with this entry in its list is due at the step."""
    words = step.prompt.full.lower()
    return due != Due() and (
        (not due.roles or step.role in due.roles)
        and (not due.rules or (isinstance(step, Measure) and step.limits.rule in due.rules))
        and (not due.needs or step.needs in due.needs)
        and (not due.words or any(phrase in words for phrase in due.words))
    )


CHECKS: Final[tuple[Check, ...]] = (
    kinds,
    never_skipped,
    never_passed_by,
    unconditional_roles,
    isolation,
    one_lock_for_two,
    missing_warnings,
    warnings_due,
)
