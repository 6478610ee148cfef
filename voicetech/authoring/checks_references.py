"""Names that lead nowhere, and things nothing leads to."""

import string
from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import Final

from voicetech.authoring.checking import (
    Breach,
    Check,
    asked_fields,
    every_condition,
    every_outcome,
    every_step,
    words_key,
)
from voicetech.authoring.findings import Keys
from voicetech.procedure import ComesUp, Hold, Measure, Outcome, Phase, Procedure, Section, Step

END: Final = "end"
MORE_TESTS: Final = "more-tests"
FROM_DIAGNOSIS: Final = frozenset({"found", "cause", "remedy", "supply"})
"""Fields that conditions may look at though nobody is asked for them."""
FILLED_IN: Final = FROM_DIAGNOSIS | {"why", "parts", "not_tested", "excluded"}
"""Placeholders that are filled from the diagnosis."""
_YES_AND_NO: Final = 2


def unknown_steps(procedure: Procedure) -> Iterator[Breach]:
    """`next` and `again_by` name a step of the same section."""
    for keys, section, outcome in every_outcome(procedure):
        known = {step.id for step in section.steps}
        if outcome.next is not None and outcome.next not in {*known, END, MORE_TESTS}:
            yield _unknown((*keys, "next"), "step", outcome.next, f"a step of {section.id}, or end")
        if outcome.again_by is not None and outcome.again_by not in known:
            yield _unknown((*keys, "again_by"), "step", outcome.again_by, f"a step of {section.id}")


def conditional_targets(procedure: Procedure) -> Iterator[Breach]:
    """A step named by an outcome has no conditions but those its way there has: they are not looked at again."""
    for keys, section, step in every_step(procedure):
        if isinstance(step, Hold):
            continue
        conditional = {other.id for other in section.steps if not set(other.when) <= set(step.when)}
        for name, outcome in step.outcomes.items():
            for key, target in (("next", outcome.next), ("again_by", outcome.again_by)):
                if target in conditional:
                    message = f"{target} has conditions that are passed by here; give this step the same, or lead on"
                    yield Breach((*keys, "outcomes", name, key), message, "conditional-target")


def fallen_into(procedure: Procedure) -> Iterator[Breach]:
    """A step that is meant to be jumped to is not fallen into where the step that ends before it is skipped."""
    for section in procedure.sections:
        jumped_to = {o.next for step in section.steps for o in _outcomes(step)}
        jumped_to |= {o.again_by for step in section.steps for o in _outcomes(step)}
        for before, step in pairwise(section.steps):
            leads_away = bool(_outcomes(before)) and all(_leads_away(outcome) for outcome in _outcomes(before))
            if step.id in jumped_to and leads_away and before.when and not set(before.when) <= set(step.when):
                message = f"is fallen into where {before.id} is skipped; give it the same conditions, or end before it"
                yield Breach(("sections", section.id, "steps", step.id), message, "fallen-into")


def _outcomes(step: Step) -> tuple[Outcome, ...]:
    return () if isinstance(step, Hold) else tuple(step.outcomes.values())


def _leads_away(outcome: Outcome) -> bool:
    return outcome.next is not None or _stops(outcome)


def unknown_causes(procedure: Procedure) -> Iterator[Breach]:
    """Outcomes and complaints name causes that are described."""
    for keys, _section, outcome in every_outcome(procedure):
        named = [("cause", outcome.cause)] if outcome.cause else []
        named += [("suspects", cause) for cause in outcome.suspects]
        named += [("excludes", cause) for cause in outcome.excludes]
        for key, cause in named:
            if cause not in procedure.causes:
                yield _unknown((*keys, key), "cause", cause, "one under causes")
    for complaint in procedure.complaints.values():
        for cause in complaint.weights:
            if cause not in procedure.causes:
                keys = ("complaints", complaint.id, "weights", cause)
                yield _unknown(keys, "cause", cause, "one under causes")


def unknown_remedies(procedure: Procedure) -> Iterator[Breach]:
    """Every cause has a remedy that is described."""
    for cause in procedure.causes.values():
        if cause.remedy not in procedure.remedies:
            yield _unknown(("causes", cause.id, "remedy"), "remedy", cause.remedy, "one under remedies")


def unknown_sections(procedure: Procedure) -> Iterator[Breach]:
    """Every cause names the section that shows it."""
    known = {section.id for section in procedure.sections}
    for cause in procedure.causes.values():
        if cause.tested_by not in known:
            yield _unknown(("causes", cause.id, "tested_by"), "section", cause.tested_by, "one under sections")


def unknown_warnings(procedure: Procedure) -> Iterator[Breach]:
    """Steps name warnings that are written."""
    for keys, _section, step in every_step(procedure):
        for warning in step.warnings:
            if warning not in procedure.warnings:
                yield _unknown((*keys, "warnings"), "warning", warning, "one under warnings")


def unknown_access(procedure: Procedure) -> Iterator[Breach]:
    """Tests name accesses that are written."""
    for section in procedure.sections:
        for name in section.access:
            if name not in procedure.access:
                yield _unknown(("sections", section.id, "access"), "access", name, "one under access")


def unknown_points(procedure: Procedure) -> Iterator[Breach]:
    """Measurements name test points that are described, and two different ones."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure):
            continue
        for number, pair in enumerate(step.pairs):
            for point in (pair.first, pair.second):
                if point not in procedure.points:
                    yield _unknown((*keys, "between", number), "point", point, "one under points")
            if pair.first == pair.second:
                message = f"measures {pair.first} against itself; name two points"
                yield Breach((*keys, "between", number), message, "unknown-point")


def unknown_hand_overs(procedure: Procedure) -> Iterator[Breach]:
    """Outcomes name reasons to hand over that are written."""
    for keys, _section, outcome in every_outcome(procedure):
        if outcome.hand_over is not None and outcome.hand_over not in procedure.hand_overs:
            yield _unknown((*keys, "hand_over"), "hand-over", outcome.hand_over, "one under hand_overs")


def _unknown(keys: Keys, what: str, name: str, instead: str) -> Breach:
    return Breach(keys, f"there is no {what} {name!r}; name {instead}", f"unknown-{what}")


def unknown_fields(procedure: Procedure) -> Iterator[Breach]:
    """Conditions and limits look only at what is asked somewhere."""
    fields = {*asked_fields(procedure), *FROM_DIAGNOSIS}
    for keys, condition in every_condition(procedure):
        if condition.field not in fields:
            yield Breach(keys, f"nothing records {condition.field!r}; ask for it or correct the name", "unknown-field")
    for step_keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure):
            continue
        for key, field in step.limits.fields.items():
            if field not in fields:
                message = f"nothing records {field!r}; ask for it or correct the name"
                yield Breach((*step_keys, "limits", key), message, "unknown-field")


def unknown_fields_of_reports(procedure: Procedure) -> Iterator[Breach]:
    """What is said of recorded answers is said of fields that are recorded: a name, or a yes and a no."""
    asked = asked_fields(procedure)
    for field, said in procedure.fields.items():
        if field not in asked:
            message = f"nothing records {field!r}; ask for it or correct the name"
            yield Breach(("fields", field), message, "unknown-field")
        elif len(said) != 1 and not (len(said) == _YES_AND_NO and set(asked[field] or ()) == {"yes", "no"}):
            message = "has no one name; write one text, or of a yes-or-no question [what yes says, what no says]"
            yield Breach(("fields", field), message, "shape")


def unknown_answers(procedure: Procedure) -> Iterator[Breach]:
    """Conditions wait for answers that can be given."""
    known: dict[str, Collection[str] | None] = {**asked_fields(procedure)}
    known |= {"found": ("yes", "no"), "cause": procedure.causes, "remedy": procedure.remedies}
    for keys, condition in every_condition(procedure):
        answers = known.get(condition.field)
        if answers is None:
            continue
        for value in condition.values:
            if value not in answers:
                message = f"{condition.field} is never {value!r}; write one of {', '.join(answers)}"
                yield Breach(keys, message, "unknown-answer")


def unknown_placeholders(procedure: Procedure) -> Iterator[Breach]:
    """Texts hold only placeholders that can be filled."""
    known = {*asked_fields(procedure), *procedure.settings, *FILLED_IN}
    for keys, text in every_text(procedure):
        try:
            names = {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
        except ValueError:
            yield Breach(keys, "has a brace without its partner; close or remove it", "unknown-placeholder")
            continue
        for name in sorted(names - known):
            message = f"nothing fills {{{name}}}; name a recorded answer or a setting"
            yield Breach(keys, message, "unknown-placeholder")


def every_text(procedure: Procedure) -> Iterator[tuple[Keys, str]]:
    """Return every text that is spoken, with the keys that lead to it."""
    for keys, _section, step in every_step(procedure):
        yield (*keys, words_key(step)), step.prompt.full
        yield (*keys, "short"), step.prompt.short
        yield (*keys, "how"), step.prompt.how
        yield (*keys, "why"), step.prompt.why
    for keys, _section, outcome in every_outcome(procedure):
        yield (*keys, "say"), outcome.say
    for cause in procedure.causes.values():
        yield ("causes", cause.id, "say"), cause.say
        yield ("causes", cause.id, "why_failed"), cause.why_failed
    for remedy in procedure.remedies.values():
        yield ("remedies", remedy.id), remedy.say
    for hand_over in procedure.hand_overs.values():
        yield ("hand_overs", hand_over.id, "say"), hand_over.say
    for kind, script in procedure.danger_scripts.items():
        yield ("danger_scripts", kind.value, "say"), script.say
    for warning in procedure.warnings.values():
        yield ("warnings", warning.id, "say"), warning.say


def unreachable_steps(procedure: Procedure) -> Iterator[Breach]:
    """Every step can be come to from the first of its section."""
    for section in procedure.sections:
        reached = _reached(section)
        for step in section.steps:
            if step.id not in reached:
                keys = ("sections", section.id, "steps", step.id)
                yield Breach(keys, "nothing leads here; lead an outcome to it or remove it", "unreachable-step")


def _reached(section: Section) -> set[str]:
    order = {step.id: number for number, step in enumerate(section.steps)}
    reached: set[str] = set()
    owed = _from(section, 0)
    while owed:
        step_id = owed.pop()
        if step_id in reached:
            continue
        reached.add(step_id)
        step = section.steps[order[step_id]]
        for target in _targets(step):
            if target is None:
                owed += _from(section, order[step_id] + 1)
            elif target in order:
                owed.append(target)
    return reached


def _from(section: Section, number: int) -> list[str]:
    """Return the step at this position and, where it may be skipped, those it is skipped to."""
    found: list[str] = []
    for step in section.steps[number:]:
        found.append(step.id)
        if not step.when:
            break
    return found


def _targets(step: Step) -> Iterator[str | None]:
    if isinstance(step, Hold) or step.role is not None:
        yield None
        return
    for outcome in step.outcomes.values():
        if outcome.again_by is not None:
            yield outcome.again_by
        if not _stops(outcome):
            yield outcome.next
    if not step.outcomes:
        yield None


def _stops(outcome: Outcome) -> bool:
    stopped = outcome.hand_over is not None or outcome.danger is not None
    return stopped or (outcome.cause is not None and outcome.next is None)


def causes_never_shown(procedure: Procedure) -> Iterator[Breach]:
    """Every cause is shown by some outcome of the section that is said to test it, or at least suspected there."""
    shown: dict[str, set[str]] = {}
    suspected: set[tuple[str, str]] = set()
    for _keys, section, outcome in every_outcome(procedure):
        if outcome.cause is not None:
            shown.setdefault(outcome.cause, set()).add(section.id)
        suspected.update((cause, section.id) for cause in outcome.suspects)
    for cause in procedure.causes.values():
        keys = ("causes", cause.id)
        if (cause.id, cause.tested_by) in suspected:
            continue
        if cause.id not in shown:
            yield Breach(keys, "no outcome shows this; let one show it or remove it", "cause-never-shown")
        elif cause.tested_by not in shown[cause.id]:
            message = f"{cause.tested_by} does not show this; name {' or '.join(sorted(shown[cause.id]))}"
            yield Breach((*keys, "tested_by"), message, "cause-never-shown")


def tests_never_chosen(procedure: Procedure) -> Iterator[Breach]:
    """Every test is for a cause that some complaint gives a weight."""
    weighed = {cause for complaint in procedure.complaints.values() for cause in complaint.weights}
    tested = {procedure.causes[cause].tested_by for cause in weighed if cause in procedure.causes}
    for section in procedure.sections:
        by_worth = section.phase is Phase.TEST and section.role is None and section.asked is ComesUp.BY_WORTH
        if by_worth and section.id not in tested:
            message = (
                "no complaint leads to this test; give a cause it shows a weight under complaints, "
                "or write `asked: by-name`"
            )
            yield Breach(("sections", section.id), message, "test-never-chosen")


def complaints_not_asked(procedure: Procedure) -> Iterator[Breach]:
    """The complaints are the answers of the question whose field is `complaint`."""
    asked = set(asked_fields(procedure).get("complaint") or ())
    for name in procedure.complaints:
        if name not in asked:
            message = "no question has this answer; add the choice to the step with the field complaint"
            yield Breach(("complaints", name), message, "complaint-not-asked")
    for name in sorted(asked - set(procedure.complaints)):
        message = f"the answer {name!r} has no complaint; describe it with its weights"
        yield Breach(("complaints",), message, "complaint-not-asked")


CHECKS: Final[tuple[Check, ...]] = (
    unknown_steps,
    conditional_targets,
    fallen_into,
    unknown_causes,
    unknown_remedies,
    unknown_sections,
    unknown_warnings,
    unknown_access,
    unknown_points,
    unknown_hand_overs,
    unknown_fields,
    unknown_fields_of_reports,
    unknown_answers,
    unknown_placeholders,
    unreachable_steps,
    causes_never_shown,
    tests_never_chosen,
    complaints_not_asked,
)
