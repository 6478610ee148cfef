"""The order a job goes through a procedure in, and the numbers that stand for its sections and steps on paper."""

from dataclasses import dataclass
from string import ascii_uppercase

from voicetech.procedure import Ask, Measure, Phase, Procedure, Section, SectionRole, Step


@dataclass(frozen=True, slots=True)
class Numbers:
    """Sections in the order of the job, those of the engine first, each with its mark: "A" to "D", then "1", "2"."""

    sections: tuple[Section, ...]
    marks: dict[str, str]

    def of(self, section: Section) -> str:
        """Return the mark of a section."""
        return self.marks[section.id]

    def step(self, section: Section, step_id: str) -> str:
        """Return the mark of a step: "7.3"; the section's own where it has no such step."""
        for number, step in enumerate(section.steps, start=1):
            if step.id == step_id:
                return f"{self.of(section)}.{number}"
        return self.of(section)

    def role(self, role: SectionRole) -> str:
        """Return the mark of the section with that role, with its title; the role's own name where there is none."""
        for section in self.sections:
            if section.role is role:
                return f"{self.of(section)} {section.title}"
        return role.value.replace("-", " ")

    def asked_at(self, field: str) -> str:
        """Return the mark of the first step whose answer is kept under that field, "" where none is.

        What making safe asks again is asked first elsewhere.
        """
        for section in sorted(self.sections, key=lambda each: each.role is not None):
            for step in section.steps:
                if field_of(step) == field:
                    return self.step(section, step.id)
        return ""


def field_of(step: Step) -> str:
    """Return the field a step's answer is kept under, "" where it keeps none."""
    return (step.field or "") if isinstance(step, (Ask, Measure)) else ""


def numbered(procedure: Procedure) -> Numbers:
    """Return the procedure's sections in the order of the job with their marks.

    Those that the engine puts in front of others have letters, the rest numbers by phase and then as they are written.
    """
    roles, phases = list(SectionRole), list(Phase)
    in_front = [section for section in procedure.sections if section.role is not None]
    in_front.sort(key=lambda section: roles.index(section.role or roles[0]))
    others = [section for section in procedure.sections if section.role is None]
    others.sort(key=lambda section: phases.index(section.phase))
    marks = {section.id: ascii_uppercase[number] for number, section in enumerate(in_front)}
    marks |= {section.id: str(number) for number, section in enumerate(others, start=1)}
    return Numbers((*in_front, *others), marks)
