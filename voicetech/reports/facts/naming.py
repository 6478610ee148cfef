"""What the names in a record are called, by the procedure where it is at hand and plainly where it is not.

A record outlives its procedure: a section, step or cause that the procedure does not know any more keeps its
stored name, written as words.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from voicetech.dialogue.found import without_answer, words_found
from voicetech.language.wording import without_call_to_say
from voicetech.procedure import Ask, Cause, Measure, Phase, Procedure, Section, Step
from voicetech.reports.wording import headed, number_with_unit, plain_name, with_answers


class Stage(StrEnum):
    """Where in a report a result stands."""

    CALL = "call"
    SAFETY = "safety"
    TEST = "test"
    DECIDE = "decide"
    REPAIR = "repair"
    PUT_BACK = "put-back"
    RETEST = "retest"
    ADVICE = "advice"


_STAGES: dict[Phase, Stage] = {
    Phase.INTAKE: Stage.CALL,
    Phase.SETTINGS: Stage.CALL,
    Phase.TEST: Stage.TEST,
    Phase.DECIDE: Stage.DECIDE,
    Phase.REPAIR: Stage.REPAIR,
    Phase.PUT_BACK: Stage.PUT_BACK,
    Phase.RETEST: Stage.RETEST,
    Phase.ADVICE: Stage.ADVICE,
    Phase.REPORT: Stage.ADVICE,
}


_SUPPLY: dict[str, str] = {
    "supply-idle": "idle",
    "supply-alone": "nothing on it",
    "supply-loaded": "under load",
    "supply-unplugged": "unplugged",
}


@dataclass(frozen=True, slots=True)
class Names:
    """A procedure, or None, the recorded answers its words may ask for, and the causes that were proved."""

    procedure: Procedure | None
    known: Mapping[str, str]
    found: tuple[str, ...] = ()

    @property
    def fields(self) -> Mapping[str, tuple[str, ...]]:
        """Return how the procedure's recorded answers read in a report, by their field."""
        return {} if self.procedure is None else self.procedure.fields

    def section(self, section: str) -> Section | None:
        """Return the section of that name, or None."""
        if self.procedure is None:
            return None
        return next((known for known in self.procedure.sections if known.id == section), None)

    def step(self, section: str, step: str) -> Step | None:
        """Return the step of that name in that section, or None."""
        found = self.section(section)
        return None if found is None else next((known for known in found.steps if known.id == step), None)

    def part(self, section: str) -> str:
        """Return what a section tests."""
        found = self.section(section)
        return headed(plain_name(section) if found is None else found.part or found.title)

    def title(self, section: str) -> str:
        """Return what a section is called."""
        found = self.section(section)
        return headed(plain_name(section) if found is None else found.title)

    def stage(self, section: str) -> Stage:
        """Return where results of a section stand; among the tests where that is not known."""
        found = self.section(section)
        if found is None:
            return Stage.TEST
        return Stage.SAFETY if found.role is not None else _STAGES[found.phase]

    def doing(self, section: str, step: str) -> str:
        """Return what a step asks to be done."""
        found = self.step(section, step)
        if found is None:
            return headed(plain_name(step))
        # Advice is told whole, because the customer reads it; of the rest the short words say what was done.
        whole = "{remedy}" in found.prompt.full or self.stage(section) is Stage.ADVICE
        words = found.prompt.full if whole else found.prompt.short
        return without_call_to_say(self.filled(words or found.prompt.full))

    def answer(self, section: str, step: str, value: str) -> str:
        """Return a recorded answer in the procedure's words, or as it was given."""
        found = self.step(section, step)
        if not isinstance(found, Ask):
            return value
        if self.procedure is not None and found.field == "complaint" and value in self.procedure.complaints:
            return self.procedure.complaints[value].say
        chosen = next((choice for choice in found.choices if choice.key == value), None)
        if chosen is not None:
            return chosen.hear[0] if chosen.hear else plain_name(value)
        return with_unit(value, found)

    def cause(self, cause: str) -> Cause | None:
        """Return the cause of that name, or None."""
        return None if self.procedure is None else self.procedure.causes.get(cause)

    def cause_words(self, cause: str) -> str:
        """Return a cause as it is said, with the answer that shows it only where it is proved."""
        found = self.cause(cause)
        if found is None:
            return headed(plain_name(cause)).removesuffix(".")
        says = found.say if cause in self.found else without_answer(found.say)
        return headed(self.filled(says)).removesuffix(".")

    def remedy(self, cause: str) -> str:
        """Return what mends a cause; empty where the procedure does not say."""
        found = self.cause(cause)
        if found is None or self.procedure is None or found.remedy not in self.procedure.remedies:
            return ""
        return self.filled(self.procedure.remedies[found.remedy].say)

    def wire_off(self, section: str, step: str) -> bool:
        """Return whether a reading was taken with one wire off."""
        found = self.step(section, step)
        return isinstance(found, Measure) and found.one_wire_off

    def stood(self, section: str, step: str) -> tuple[str, ...]:
        """Return what else is known of how the appliance stood for a reading: idle, under load, unplugged, hot."""
        found = self.step(section, step)
        if not isinstance(found, Measure):
            return ()
        hot = ("hot",) if found.setup is not None and found.setup.hot else ()
        supply = _SUPPLY.get(found.judged_as)
        return hot if supply is None else (supply, *hot)

    def judged_together(self, section: str, step: str) -> bool:
        """Return whether a step's readings mean something only as a set, so that none has limits of its own."""
        found = self.step(section, step)
        return isinstance(found, Measure) and found.judged_as != "each"

    def filled(self, text: str) -> str:
        """Return a procedure's words with the recorded answers in the place of their names."""
        return with_answers(text, self.known)


def with_unit(value: str, step: Ask) -> str:
    """Return an answer with its unit where it is a number of one."""
    if step.unit is None:
        return value
    try:
        return number_with_unit(Decimal(value), step.unit)
    except InvalidOperation:
        return value


def names_for(procedure: Procedure | None, answers: Mapping[str, str], found: tuple[str, ...]) -> Names:
    """Return the names for a job with these standing answers and proved causes."""
    known = {**(procedure.settings if procedure is not None else {}), **answers}
    names = Names(procedure, known)
    if procedure is None:
        return names
    return Names(procedure, {**known, **words_found(procedure, found, names.filled)}, found)
