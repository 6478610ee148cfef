"""Whether a mutant is found out, by `voicetech check` or by the proof, and which changes nobody could meet."""

import gc
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product
from pathlib import Path
from typing import Final, cast

import pytest

from tests.dialogue.breakages import BREAKAGES
from tests.mutation.mutant import Mutant, Table
from voicetech.authoring.advice import ADVICE
from voicetech.authoring.building import built
from voicetech.authoring.checking import Breach, Check
from voicetech.authoring.checks_failing import verdicts_of
from voicetech.authoring.checks_phrases import misunderstood
from voicetech.authoring.checks_physics import outcomes_against_faults
from voicetech.authoring.checks_sound import sound_fails, untold_faults
from voicetech.authoring.checks_told import weighed_not_shown
from voicetech.authoring.findings import Finding, Notes
from voicetech.authoring.format_steps import EACH
from voicetech.authoring.including import WrittenProcedure, read_written
from voicetech.authoring.places import Written
from voicetech.authoring.procedure_files import CHECKS
from voicetech.authoring.telling import told
from voicetech.authoring.ways import ENGINE_LED, stops
from voicetech.electrical.appliance import Appliance, Fault
from voicetech.electrical.network import NetworkError
from voicetech.limit_rules import RULES, limits_for, no_pass_yet
from voicetech.procedure import Ask, Hold, Measure, Outcome, Phase, Procedure, Section, Step
from voicetech.proof.sections import walk_sections
from voicetech.proof.shown import Idle, plate_of, readings, result_of
from voicetech.proof.verdicts import cases
from voicetech.proof.walk import walk
from voicetech.proof.ways import outcome_of, results

SLOW: Final[tuple[Check, ...]] = (misunderstood, weighed_not_shown, sound_fails, untold_faults, outcomes_against_faults)
"""Checks that look at all ways, all phrases or all of the circuit, and so come last."""
QUICK: Final[tuple[Check, ...]] = tuple(check for check in (*CHECKS, *ADVICE) if check not in SLOW)
EVERY_CHECK: Final[tuple[Check, ...]] = (*QUICK, *SLOW)
"""What `voicetech check` goes by, without the sound of words: no mutant writes new ones."""
_BEHIND_POWER: Final = (Phase.REPAIR, Phase.PUT_BACK, Phase.RETEST)


class How(StrEnum):
    """What became of a mutant."""

    CHECK = "check"
    PROOF = "proof"
    EQUIVALENT = "equivalent"
    """It comes to the same procedure."""
    MISSED = "missed"


@dataclass(frozen=True, slots=True)
class Judged:
    """What became of a mutant, by which rule, and the file and line of what was changed."""

    mutant: Mutant
    how: How
    by: str
    place: str


@dataclass(slots=True)
class Whole:
    """A procedure as it is written, read once for all its mutants, and what is found of it as it is."""

    path: Path
    table: Table
    notes: Notes
    written: WrittenProcedure
    procedure: Procedure
    known: frozenset[tuple[str, str, str]]
    """What is told of it as it is; a mutant has to be told for something else."""
    broken: frozenset[tuple[str, str, str]]


def whole(path: Path) -> Whole:
    """Return a procedure with its written table."""
    written, notes = read_written(path)
    table = cast(Table, written.table)
    procedure = built(written, notes)
    found = told(notes, [breach for check in EVERY_CHECK for breach in check(procedure)])
    known = frozenset(_of_finding(finding) for finding in found)
    broken = frozenset((each.section, each.step, each.rule) for each in walk_sections(procedure).broken)
    return Whole(path, table, notes, written, procedure, known, broken)


def _of_finding(finding: Finding) -> tuple[str, str, str]:
    return finding.rule, finding.where, finding.message


def judged(original: Whole, mutant: Mutant) -> Judged:
    """Return what becomes of a mutant: told by the check, else the same procedure, found by the proof, or missed."""
    place = original.notes.place_of(mutant.keys)
    where = f"{os.path.relpath(place.path, original.path.parent)}:{place.line}"
    notes = Notes(top=original.notes.top, places=dict(original.notes.places))
    procedure = _built(original, mutant, notes)
    found = _told(original, notes, [])
    if found is None:
        found = _checked(original, notes, procedure, QUICK)
    if found is None and same(original.procedure, procedure):
        return Judged(mutant, How.EQUIVALENT, "", where)
    if found is None:
        found = _checked_slowly(original, notes, procedure, mutant)
    if found is not None:
        return Judged(mutant, How.CHECK, found.rule, where)
    rule = _proved(original, procedure, mutant)
    return Judged(mutant, How.MISSED if rule is None else How.PROOF, rule or "", where)


def _section_of(mutant: Mutant) -> str | None:
    """Return the section that a mutant changes; None where it changes anything else."""
    return str(mutant.keys[1]) if mutant.keys[0] == "sections" else None


def _built(original: Whole, mutant: Mutant, notes: Notes) -> Procedure:
    """Return the mutant's procedure; of one that changes a section all else is the original's, and not built again."""
    table = cast(dict[str, Written], mutant.made_of(original.table))
    section_id = _section_of(mutant)
    if section_id is None:
        procedure = built(replace(original.written, table=table), notes)
        if procedure.circuit == original.procedure.circuit:
            # What was worked out of the circuit is the same.
            procedure = replace(procedure, circuit=original.procedure.circuit)
        return procedure
    sections = cast(dict[str, Written], table["sections"])
    alone = {name: section for name, section in sections.items() if name == section_id}
    part = {key: value for key, value in table.items() if key != "circuit"} | {"sections": alone}
    changed = {each.id: each for each in built(replace(original.written, table=part), notes).sections}
    known = {each.id: each for each in original.procedure.sections} | changed
    return replace(original.procedure, sections=tuple(known[name] for name in sections))


def _told(original: Whole, notes: Notes, breaches: list[Breach]) -> Finding | None:
    """Return the first finding that the procedure as it is has not, or None."""
    return next((each for each in told(notes, breaches) if _of_finding(each) not in original.known), None)


def _checked(original: Whole, notes: Notes, procedure: Procedure, checks: Iterable[Check]) -> Finding | None:
    for check in checks:
        found = _told(original, notes, list(check(procedure)))
        if found is not None:
            return found
    return None


def _checked_slowly(original: Whole, notes: Notes, procedure: Procedure, mutant: Mutant) -> Finding | None:
    """Return the first finding of the slow checks; of a changed section its own steps are held to the circuit."""
    left_out: set[Check] = set()
    if phrases(procedure) <= phrases(original.procedure):
        left_out.add(misunderstood)
    section_id = _section_of(mutant)
    if section_id is not None:
        # What other sections say of causes may be found wrong too; looking there could only find more.
        left_out.add(outcomes_against_faults)
        found = _told(original, notes, list(outcomes_against_faults(procedure, section_id)))
        if found is not None:
            return found
    return _checked(original, notes, procedure, [check for check in SLOW if check not in left_out])


def phrases(procedure: Procedure) -> frozenset[object]:
    """Return what may be said at each step, and by which names points and tests are called."""
    found: set[object] = {(section.id, section.call) for section in procedure.sections}
    found |= {(point.id, point.call) for point in procedure.points.values()}
    for section in procedure.sections:
        for step in section.steps:
            found |= {(step.id, step.until)} if isinstance(step, Hold) else set()
            found |= {(step.id, step.choices)} if isinstance(step, Ask) else set()
    return frozenset(found)


def _proved(original: Whole, procedure: Procedure, mutant: Mutant) -> str | None:
    """Return the first rule that the proof finds broken, or None."""
    for each in walk_sections(_to_be_walked(procedure, _section_of(mutant))).broken:
        if (each.section, each.step, each.rule) not in original.broken:
            return each.rule
    if not concerns_walk(procedure, mutant):
        return None
    return walk(shortened(procedure, str(mutant.keys[1]))).broken


def _to_be_walked(procedure: Procedure, section_id: str | None) -> Procedure:
    """Return the procedure with the steps of this section, and of those that others are walked beside.

    How a section may be walked through is its own matter but for what a supply is judged beside, and for repairs that
    power follows.
    """
    if section_id is None:
        return procedure
    kept = (
        section.id == section_id
        or section.phase in _BEHIND_POWER
        or any(isinstance(step, Measure) and step.judged_as != "each" for step in section.steps)
        for section in procedure.sections
    )
    sections = (
        section if wanted else replace(section, steps=())
        for wanted, section in zip(kept, procedure.sections, strict=True)
    )
    return replace(procedure, sections=tuple(sections))


def concerns_walk(procedure: Procedure, mutant: Mutant) -> bool:
    """Return whether the walk of every state could find more than the ways of each section.

    How a step is entered is decided in the program's own sections and by its settings; what follows within any other
    section is what its ways are.
    """
    if mutant.keys[0] == "settings":
        return True
    roles = {section.id for section in procedure.sections if section.role is not None}
    return mutant.keys[0] == "sections" and mutant.keys[1] in roles


def shortened(procedure: Procedure, section_id: str) -> Procedure:
    """Return the procedure with the sections of the program, this one, and one step of each need, to be walked.

    The walk enters each step by itself, so what it finds here it finds in the whole procedure.
    """
    kept: list[Section] = []
    needed = {step.needs for section in procedure.sections for step in section.steps if section.role is None}
    for section in procedure.sections:
        mine = {step.needs for step in section.steps} & needed
        if section.role is not None or section.id == section_id or mine:
            kept.append(section)
            needed -= mine if section.role is None else set()
    there = {section.id for section in kept}
    # What is looked for once a cause is shown, in a section that is left out, is not come to here.
    causes = {
        name: replace(cause, upstream=tuple(each for each in cause.upstream if each in there))
        for name, cause in procedure.causes.items()
    }
    return replace(procedure, sections=tuple(kept), causes=causes, circuit=None)


# --- the same procedure


def same(original: Procedure, procedure: Procedure) -> bool:
    """Return whether nobody can meet a difference: outcomes of results that come about, limits as they come out.

    What is written only for check and proof to hold the rest to is left out.
    """
    if len(original.sections) != len(procedure.sections) or _others(original) != _others(procedure):
        return False
    return all(
        one is other or _same_section(original, procedure, one, other)
        for one, other in zip(original.sections, procedure.sections, strict=True)
    )


def _same_section(original: Procedure, procedure: Procedure, one: Section, other: Section) -> bool:
    if replace(one, steps=()) != replace(other, steps=()) or len(one.steps) != len(other.steps):
        return False
    return all(
        before == after
        or (_met_step(original, one, before), _limits(before)) == (_met_step(procedure, other, after), _limits(after))
        or _reads_alike(original.circuit, before, after)
        for before, after in zip(one.steps, other.steps, strict=True)
    )


def _reads_alike(circuit: Appliance | None, one: Step, other: Step) -> bool:
    """Return whether two steps differ only in where they measure, or how the appliance stands, and no reading does.

    With every fault, and on the sound appliance, each comes to the same: a probe on the other end of a wire.
    """
    if circuit is None or not isinstance(one, Measure) or not isinstance(other, Measure):
        return False
    if one.setup is None or other.setup is None:
        return False
    if replace(other, pairs=one.pairs, setup=one.setup, through=one.through) != one:
        return False
    plate = plate_of(circuit)
    try:
        return all(
            _result(circuit, one, faults, parts, plate, left_on)
            == _result(circuit, other, faults, parts, plate, left_on)
            for parts in _parts(circuit)
            for faults in ((), *((fault,) for fault in circuit.faults if fault.can_be(dict(parts))))
            for left_on in (False, True)
        )
    except (NetworkError, KeyError, ValueError):
        return False


def _parts(circuit: Appliance) -> list[tuple[tuple[str, str], ...]]:
    fields: dict[str, dict[str, None]] = {}
    for wanted in circuit.only.values():
        for field, answers in wanted.items():
            fields.setdefault(field, {}).update(dict.fromkeys(answers))
    return [tuple(zip(fields, each, strict=True)) for each in product(*fields.values())]


def _result(
    circuit: Appliance,
    step: Measure,
    faults: tuple[Fault, ...],
    parts: tuple[tuple[str, str], ...],
    plate: Mapping[str, str],
    left_on: bool,
) -> str | None:
    values = readings(circuit, step, faults, parts, left_on)
    return result_of(step, values, {**plate, **dict(parts)}, Idle(), again=False)


def _others(procedure: Procedure) -> Procedure:
    warnings = {name: replace(warning, due=()) for name, warning in procedure.warnings.items()}
    return replace(procedure, sections=(), warnings=warnings, stop_work={}, digest="")


def _met_step(procedure: Procedure, section: Section, step: Step) -> Step:
    if isinstance(step, Hold):
        return step
    known = isinstance(step, Measure) and step.limits.rule not in RULES
    try:
        names = tuple(step.outcomes) if known else results(procedure, step)
        if isinstance(step, Measure) and step.judged_as == EACH and not known:
            # What cannot come with the answers that the step waits for comes about nowhere.
            names = tuple(name for name in names if name in verdicts_of(section, step))
    except ValueError:
        # Figures that are missing or out of order are the check's matter.
        return step
    outcomes: dict[str, Outcome] = {}
    for name in names if step.role not in ENGINE_LED or step.role == "low-impedance" else ():
        outcomes[name] = _led(section, step, outcome_of(step, name))
    if isinstance(step, Measure) and not known:
        # The limits stand beside it as they come out.
        step = replace(step, limits=replace(step.limits, rule="", fields={}, figures={}))
    return replace(step, outcomes=outcomes)


def _led(section: Section, step: Step, outcome: Outcome) -> Outcome:
    """Return the outcome with the step below written out where it leads there."""
    if outcome.next is not None or outcome.again_by is not None or stops(outcome):
        return outcome
    at = section.steps.index(step) + 1
    if at == len(section.steps):
        return replace(outcome, next="end")
    below = section.steps[at]
    return outcome if below.when else replace(outcome, next=below.id)


def _limits(step: Step) -> object:
    if not isinstance(step, Measure) or step.limits.rule not in RULES:
        return None
    try:
        return tuple(
            (tuple(answers.items()), limits_for(step.limits, answers, pair.label), no_pass_yet(step.limits, answers))
            for answers in cases(step)
            for pair in step.pairs
        )
    except ValueError:
        return step.limits


# --- the program itself


def programs_judged(original: Whole) -> Iterator[tuple[str, str | None]]:
    """Yield each way to break the program with the rule that the walk of this procedure finds broken, or None.

    A proof of dead that outlives a pause, power or its time is a mistake of the program: a procedure has no words for
    it.
    """
    procedure = shortened(original.procedure, "")
    for breakage in BREAKAGES:
        with pytest.MonkeyPatch.context() as patch:
            breakage(patch)
            yield breakage.__name__.replace("_", " "), walk(procedure).broken
        gc.collect()
