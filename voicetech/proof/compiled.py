"""A procedure made ready to be walked: what the walk asks of it at every move, worked out once."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from voicetech.diagnosis import LISTED, ORDER
from voicetech.dialogue.watch import lasts_s, wanted_pairs
from voicetech.procedure import Measure, Needs, Phase, Procedure, SafetyRole, Section, SectionRole, Step
from voicetech.session import Cursor
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
    )


def wants_leads(step: Step) -> bool:
    """Return whether the leads have to be nulled before the step."""
    ohms = isinstance(step, Measure) and step.quantity in (Quantity.RESISTANCE, Quantity.CONTINUITY)
    return ohms and step.role is not SafetyRole.NULL_LEADS


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
