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
from voicetech.authoring.format import words_of
from voicetech.authoring.naming import instead, nearest
from voicetech.authoring.ways import first_steps, outcomes_of, reached_from, stops
from voicetech.dialogue.flow import END, FROM_DIAGNOSIS, MORE_TESTS
from voicetech.electrical.supply_findings import SupplyKind
from voicetech.procedure import ComesUp, Hold, Measure, Outcome, Phase, Procedure

FILLED_IN: Final = FROM_DIAGNOSIS | {"cause_too", "remedy_too", "why", "parts", "not_tested", "excluded"}
"""Placeholders that are filled from the diagnosis."""
_YES_AND_NO: Final = 2


def unknown_steps(procedure: Procedure) -> Iterator[Breach]:
    """`next` and `again_by` name a step of the same section."""
    homes = {step.id: section.id for section in procedure.sections for step in section.steps}
    for keys, section, outcome in every_outcome(procedure):
        known = [step.id for step in section.steps]
        for key, name, ends in (("next", outcome.next, (END, MORE_TESTS)), ("again_by", outcome.again_by, ())):
            if name is None or name in (*known, *ends):
                continue
            if name in homes:
                message = f"{name} is a step of {homes[name]}; `{key}` leads only to steps of {section.id}"
                yield Breach((*keys, key), message, "unknown-step")
                continue
            where = f"a step of {section.id}, or end" if ends else f"a step of {section.id}"
            yield _unknown((*keys, key), "step", name, known, where)


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
        followed = [outcome for step in section.steps for outcome in outcomes_of(step).values()]
        jumped_to = {outcome.next for outcome in followed} | {outcome.again_by for outcome in followed}
        for before, step in pairwise(section.steps):
            results = outcomes_of(before).values()
            leads_away = bool(results) and all(_leads_away(outcome) for outcome in results)
            if step.id in jumped_to and leads_away and before.when and not set(before.when) <= set(step.when):
                message = f"is fallen into where {before.id} is skipped; give it the same conditions, or end before it"
                yield Breach(("sections", section.id, "steps", step.id), message, "fallen-into")


def _leads_away(outcome: Outcome) -> bool:
    return outcome.next is not None or stops(outcome)


def unknown_causes(procedure: Procedure) -> Iterator[Breach]:
    """Outcomes and complaints name causes that are described."""
    known = procedure.causes
    for keys, _section, outcome in every_outcome(procedure):
        named: list[tuple[Keys, str]] = [(("cause",), outcome.cause)] if outcome.cause else []
        named += [(("suspects", at), cause) for at, cause in enumerate(outcome.suspects)]
        named += [(("excludes", at), cause) for at, cause in enumerate(outcome.excludes)]
        for below, cause in named:
            if cause not in known:
                yield _unknown((*keys, *below), "cause", cause, known, "one under causes")
    for section in procedure.sections:
        for at, cause in enumerate(section.narrows):
            if cause not in known:
                keys = ("sections", section.id, "narrows", at)
                yield _unknown(keys, "cause", cause, known, "one under causes")
    for complaint in procedure.complaints.values():
        for cause in complaint.weights:
            if cause not in known:
                yield _unknown(
                    ("complaints", complaint.id, "weights", cause), "cause", cause, known, "one under causes"
                )


def unknown_remedies(procedure: Procedure) -> Iterator[Breach]:
    """Every cause has a remedy that is described."""
    for cause in procedure.causes.values():
        if cause.remedy not in procedure.remedies:
            keys = ("causes", cause.id, "remedy")
            yield _unknown(keys, "remedy", cause.remedy, procedure.remedies, "one under remedies")


def unknown_sections(procedure: Procedure) -> Iterator[Breach]:
    """Every cause names the section that shows it, and tests that look for what made it fail."""
    known = [section.id for section in procedure.sections]
    tests = [each.id for each in procedure.sections if each.phase is Phase.TEST and each.role is None]
    for cause in procedure.causes.values():
        if cause.tested_by not in known:
            keys = ("causes", cause.id, "tested_by")
            yield _unknown(keys, "section", cause.tested_by, known, "one under sections")
        for at, section in enumerate(cause.upstream):
            if section not in tests:
                upstream = ("causes", cause.id, "upstream", at)
                yield _unknown(upstream, "section", section, tests, "a test under sections")


def unknown_warnings(procedure: Procedure) -> Iterator[Breach]:
    """Steps name warnings that are written."""
    if not procedure.warnings:
        named = [(keys, step.warnings) for keys, _section, step in every_step(procedure) if step.warnings]
        if named:
            message = f"no warning is written, and {len(named)} steps name one; include the file that has them"
            yield Breach((*named[0][0], "warnings", 0), message, "unknown-warning")
        return
    for keys, _section, step in every_step(procedure):
        for at, warning in enumerate(step.warnings):
            if warning not in procedure.warnings:
                yield _unknown((*keys, "warnings", at), "warning", warning, procedure.warnings, "one under warnings")


def unknown_access(procedure: Procedure) -> Iterator[Breach]:
    """Tests name accesses that are written."""
    for section in procedure.sections:
        for at, name in enumerate(section.access):
            if name not in procedure.access:
                keys = ("sections", section.id, "access", at)
                yield _unknown(keys, "access", name, procedure.access, "one under access")


def unknown_points(procedure: Procedure) -> Iterator[Breach]:
    """Measurements name test points that are described, and two different ones."""
    for keys, _section, step in every_step(procedure):
        if not isinstance(step, Measure):
            continue
        for number, pair in enumerate(step.pairs):
            for at, point in enumerate((pair.first, pair.second)):
                if point not in procedure.points:
                    place = (*keys, "between", number, at)
                    yield _unknown(place, "point", point, procedure.points, "one under points")
            if pair.first == pair.second:
                message = f"measures {pair.first} against itself; name two points"
                yield Breach((*keys, "between", number), message, "unknown-point")


def unknown_hand_overs(procedure: Procedure) -> Iterator[Breach]:
    """Outcomes name reasons to hand over that are written."""
    for keys, _section, outcome in every_outcome(procedure):
        name = outcome.hand_over
        if name is not None and name not in procedure.hand_overs:
            yield _unknown((*keys, "hand_over"), "hand-over", name, procedure.hand_overs, "one under hand_overs")


def _unknown(keys: Keys, what: str, name: str, known: Collection[str], where: str) -> Breach:
    return Breach(keys, f"there is no {what} {name!r}; {instead(name, known, where)}", f"unknown-{what}")


def unknown_fields(procedure: Procedure) -> Iterator[Breach]:
    """Conditions look only at what is asked somewhere."""
    fields = {*asked_fields(procedure), *FROM_DIAGNOSIS}
    for keys, condition in every_condition(procedure):
        if condition.field not in fields:
            yield _unrecorded(keys, condition.field, fields)


def _unrecorded(keys: Keys, field: str, fields: Collection[str]) -> Breach:
    return Breach(keys, unrecorded(field, fields), "unknown-field")


def unrecorded(field: str, fields: Collection[str]) -> str:
    """Return that nothing records a field, and what to do about it."""
    guess = nearest(field, fields)
    do = f"did you mean {guess}?" if guess else "ask for it or correct the name"
    return f"nothing records {field!r}; {do}"


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
    known |= {"found": ("yes", "no"), "found_too": ("yes", "no")}
    known |= {"cause": procedure.causes, "remedy": procedure.remedies}
    known["supply"] = words_of(SupplyKind)
    for keys, condition in every_condition(procedure):
        answers = known.get(condition.field)
        if answers is None:
            continue
        for at, value in enumerate(condition.values):
            if value not in answers:
                message = f"{condition.field} is never {value!r}; {instead(value, answers)}"
                yield Breach((*keys, at), message, "unknown-answer")


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
            guess = nearest(name, known)
            do = f"did you mean {{{guess}}}?" if guess else "name a recorded answer or a setting"
            message = f"nothing fills {{{name}}}; {do}"
            yield Breach(keys, message, "unknown-placeholder")


def every_text(procedure: Procedure) -> Iterator[tuple[Keys, str]]:
    """Return every text that is spoken, with the keys that lead to it."""
    for keys, _section, step in every_step(procedure):
        yield (*keys, words_key(step)), step.prompt.full
        if step.prompt.short != step.prompt.full:
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
        first = first_steps(section)
        reached = first.union(*(reached_from(section, step_id) for step_id in first))
        for step in section.steps:
            if step.id not in reached:
                keys = ("sections", section.id, "steps", step.id)
                yield Breach(keys, "nothing leads here; lead an outcome to it or remove it", "unreachable-step")


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
        if by_worth and section.id not in tested and not weighed & {*section.narrows}:
            message = (
                "no complaint leads to this test; give a cause it shows a weight under complaints, "
                "or write `asked: by-name`"
            )
            yield Breach(("sections", section.id), message, "test-never-chosen")


def tests_not_called(procedure: Procedure) -> Iterator[Breach]:
    """Every test has a name to ask for it by; one that comes up only so has to have it."""
    for section in procedure.sections:
        if section.phase is not Phase.TEST or section.role is not None or section.call:
            continue
        keys = ("sections", section.id)
        if section.asked is ComesUp.BY_NAME:
            yield Breach(keys, "is only done by name and has none; write `call`", "test-never-chosen")
        else:
            yield Breach(keys, "cannot be asked for by name; write `call`", "test-not-called")
    for complaint in procedure.complaints.values():
        if not complaint.weights:
            weights = ("complaints", complaint.id, "weights")
            yield Breach(weights, "weighs no cause; write at least one, as in cord-open: 2", "test-never-chosen")


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
    tests_not_called,
    complaints_not_asked,
)
