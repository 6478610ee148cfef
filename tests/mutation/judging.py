"""Whether a mutant is found out, by `voicetech check` or by the proof, and which changes nobody could notice."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

from tests.authoring.checking import every_check
from tests.mutation.mutants import Mutant, Table
from voicetech.authoring.building import built
from voicetech.authoring.findings import Finding, Notes
from voicetech.authoring.places import Written, WrittenProcedure, read_written
from voicetech.authoring.procedure_files import CHECKS
from voicetech.authoring.telling import told
from voicetech.procedure import Procedure
from voicetech.proof.sections import walk_sections
from voicetech.proof.walk import walk


@dataclass(frozen=True, slots=True)
class Whole:
    """A procedure as it is written, read once for all its mutants."""

    path: Path
    table: Table
    notes: Notes
    texts: WrittenProcedure
    procedure: Procedure


def whole(path: Path) -> Whole:
    """Return a procedure with its written table; ValueError where something is wrong with it to begin with."""
    written, notes = read_written(path)
    procedure = built(written, notes)
    found = told(notes, [breach for check in (*CHECKS, *every_check()) for breach in check(procedure)])
    if found:
        raise ValueError(f"{path} has {len(found)} findings of its own; mend them first: voicetech check {path}")
    return Whole(path, cast(Table, written.table), notes, written, procedure)


@dataclass(frozen=True, slots=True)
class Made:
    """A mutant as a procedure, and what was noted while it was read."""

    procedure: Procedure
    notes: Notes


def made(original: Whole, mutant: Mutant) -> Made:
    """Return the mutant as a procedure."""
    table = mutant.made_of(original.table)
    notes = Notes(top=original.notes.top, places=original.notes.places)
    procedure = built(replace(original.texts, table=cast(dict[str, Written], table)), notes)
    if procedure.circuit == original.procedure.circuit:
        # What was worked out of the circuit is the same.
        procedure = replace(procedure, circuit=original.procedure.circuit)
    return Made(procedure, notes)


def checked(mutant: Made) -> Finding | None:
    """Return the first finding that `voicetech check` tells of it, or None."""
    for check in (None, *CHECKS, *every_check()):
        found = told(mutant.notes, () if check is None else check(mutant.procedure))
        if found:
            return found[0]
    return None


def proved(mutant: Made) -> str | None:
    """Return the first rule that the proof finds broken, or None."""
    ways = walk_sections(mutant.procedure)
    if ways.broken:
        first = ways.broken[0]
        return f"{first.section}/{first.step}: {first.rule}"
    walked = walk(mutant.procedure)
    if walked.broken is not None:
        return walked.broken
    every = {(section.id, step.id) for section in mutant.procedure.sections for step in section.steps}
    never = sorted(every - walked.steps_asked)
    return f"{'/'.join(never[0])} is never asked" if never else None
