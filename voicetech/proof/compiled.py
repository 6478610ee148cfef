"""A procedure made ready to be walked: what the walk asks of it at every move, worked out once."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import product

from voicetech.diagnosis import LISTED, ORDER
from voicetech.dialogue.watch import lasts_s, wanted_pairs
from voicetech.events import AnswerTaken, SectionEnded
from voicetech.procedure import Ask, Measure, Needs, Phase, Procedure, SafetyRole, Section, SectionRole, Step
from voicetech.proof.shapes import shapes
from voicetech.proof.ways import results
from voicetech.session import REOPENED, Cursor, Taken
from voicetech.units import Quantity


@dataclass(frozen=True, slots=True)
class Compiled:
    """A procedure with its steps by name, and what its sections look at."""

    procedure: Procedure
    lasts_s: float
    """How long a proof of dead lasts, in seconds."""
    dead_pairs: frozenset[str]
    """The labels of the pairs that its proof of dead takes."""
    wanted_pairs: tuple[tuple[str, str], ...]
    """The pairs that the watcher wants."""
    steps: Mapping[tuple[str, str], tuple[Section, Step]]
    looked_at: Mapping[str, frozenset[str]]
    """The fields that the conditions in a section look at, by the section's name."""
    typical: Mapping[str, Cursor]
    """A step of each need in no section of the engine's, to stand for the step that was answered last."""
    told_before: Mapping[str, tuple[tuple[Taken, ...], ...]]
    """What may have been answered before a section that the engine puts in front, as far as its conditions look at it.

    By the section's name; nothing at all is not among them.
    """
    shape: Mapping[tuple[str, str], int]
    """A number that steps have in common that are alike but for their words, by section and step."""
    asked_here: dict[tuple[str | None, ...], tuple[bool, ...]] = field(default_factory=dict, compare=False, repr=False)
    """Which of a section's steps are asked, by its name and what their conditions look at, where it was worked out."""
    memory: dict[object, object] = field(default_factory=dict, compare=False, repr=False)
    """What was worked out of the procedure before; it saves time and changes no result."""

    @property
    def typical_steps(self) -> frozenset[tuple[str, str]]:
        """Return the sections and steps of the typical ones."""
        return frozenset((cursor.section, cursor.step) for cursor in self.typical.values())

    def at(self, cursor: Cursor) -> tuple[Section, Step]:
        """Return the section and step of a cursor; KeyError where there is none."""
        return self.steps[cursor.section, cursor.step]

    def by_role(self, role: SectionRole) -> Section | None:
        """Return the first section with that role, or None."""
        return next((section for section in self.procedure.sections if section.role is role), None)


def compiled(whole: Procedure) -> Compiled:
    """Return the procedure ready to be walked.

    What is believed of faults only orders the tests, and the walk takes them in every order: tests come as listed.
    """
    procedure = replace(whole, circuit=None, settings={**whole.settings, ORDER: LISTED})
    steps = {(section.id, step.id): (section, step) for section in procedure.sections for step in section.steps}
    pairs = [
        pair.label
        for _section, step in steps.values()
        if isinstance(step, Measure) and step.role is SafetyRole.DEAD_PAIRS
        for pair in step.pairs
    ]
    looked_at = {
        section.id: frozenset(condition.field for step in section.steps for condition in step.when)
        for section in procedure.sections
    }
    return Compiled(
        procedure,
        lasts_s(procedure),
        frozenset(pairs),
        wanted_pairs(procedure),
        steps,
        looked_at,
        _typical(procedure),
        {section.id: _told_before(procedure, section) for section in procedure.sections if section.role is not None},
        shapes(procedure),
    )


def wants_leads(step: Step) -> bool:
    """Return whether the leads have to be nulled before the step."""
    ohms = isinstance(step, Measure) and step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY)
    return ohms and step.role is not SafetyRole.NULL_LEADS


def _told_before(procedure: Procedure, front: Section) -> tuple[tuple[Taken, ...], ...]:
    """Return every combination of answers that the section's conditions tell apart, but for none at all."""
    answers: list[tuple[Taken | None, ...]] = []
    conditions = [condition for step in front.steps for condition in step.when]
    for name in dict.fromkeys(condition.field for condition in conditions):
        asking = sorted(_asking(procedure, name), key=lambda at: at[0] is front)
        told_apart: dict[tuple[bool, ...], AnswerTaken | None] = {}
        about = [condition.values for condition in conditions if condition.field == name]
        told_apart[(False,) * len(about)] = None
        for section, step in asking:
            for value in results(procedure, step):
                given = AnswerTaken(0, section.id, step.id, name, value, unverified=False, at_s=0.0)
                told_apart.setdefault(tuple(value in values for values in about), given)
        answers.append(tuple(told_apart.values()))
    # What was answered in an earlier visit of the section itself is not an answer of this one.
    again = SectionEnded(0, front.id, REOPENED)
    told = (tuple(each for each in known if each is not None) for known in product(*answers))
    return tuple((*each, again) for each in told if each)


def _asking(procedure: Procedure, name: str) -> Iterator[tuple[Section, Step]]:
    """Yield the steps that ask for a field, with their sections."""
    for section in procedure.sections:
        for step in section.steps:
            if isinstance(step, Ask) and step.field == name:
                yield section, step


def _typical(procedure: Procedure) -> Mapping[str, Cursor]:
    """Return for each need a step of a test, a measurement where there is one."""
    found: dict[str, Cursor] = {}
    for measured in (True, False):
        for section in procedure.sections:
            for step in section.steps:
                own = section.role is None and (section.phase is Phase.TEST or step.needs is Needs.ANY)
                if own and isinstance(step, Measure) is measured:
                    found.setdefault(step.needs.value, Cursor(section.id, step.id))
    return found
