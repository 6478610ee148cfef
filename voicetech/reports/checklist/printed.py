"""What a checklist is printed for: a procedure, the answers that are known beforehand, the tests that are wanted."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Final

from voicetech.drawing.numbering import Numbers, field_of, numbered
from voicetech.drawing.words import plain
from voicetech.electrical.element import rated_resistance_ohm
from voicetech.language.meaning import MEASURED, Asking
from voicetech.procedure import Ask, Measure, Phase, Procedure, Section, Step
from voicetech.reports.blocks import Run, Text

_BLANK: Final = "_" * 12
_ANY_VOLTS: Final = Decimal(100)
_ANY_WATTS: Final = Decimal(1000)


class NotPrintedError(Exception):
    """What is asked for does not fit the procedure; the message says why and what there is."""


@dataclass(frozen=True, slots=True)
class Printed:
    """One checklist to be: `answers` by field, `tests` the sections that are wanted, all where it is empty."""

    procedure: Procedure
    numbers: Numbers
    answers: Mapping[str, str] = field(default_factory=dict)
    tests: frozenset[str] = frozenset()

    @property
    def sections(self) -> tuple[Section, ...]:
        """Return the sections on it, in the order of the job; those of safety are always there."""
        return tuple(section for section in self.numbers.sections if not self._left_out(section))

    @property
    def left_out(self) -> tuple[Section, ...]:
        """Return the tests that are not on it."""
        return tuple(section for section in self.numbers.sections if self._left_out(section))

    def _left_out(self, section: Section) -> bool:
        return bool(self.tests) and is_test(section) and section.id not in self.tests

    def filled(self, words: str) -> Text:
        """Return a procedure's words with what is known in the place of names in braces, else room to write."""

        def known(found: re.Match[str]) -> str:
            name = found[1]
            value = self.answers.get(name) or self.procedure.settings.get(name)
            return value or f"{_BLANK} ({plain(name)})"

        return (Run(re.sub(r"\{([\w-]+)\}", known, words)),)


def is_test(section: Section) -> bool:
    """Return whether a section is a test that may be chosen or left out."""
    return section.role is None and section.phase is Phase.TEST


def printed(procedure: Procedure, answers: Mapping[str, str], tests: Iterable[str]) -> Printed:
    """Return what is to be printed. Raises NotPrintedError for answers and tests that the procedure does not know."""
    checked = {name: _checked(procedure, name, value) for name, value in answers.items()}
    return Printed(procedure, numbered(procedure), checked, frozenset(_test(procedure, name) for name in tests))


def plate_fields(procedure: Procedure, asking: Asking) -> tuple[str, ...]:
    """Return the fields that the plate's figure of this kind is kept under; NotPrintedError where none is asked for."""
    asked = [
        step.field
        for section in procedure.sections
        if section.phase is Phase.INTAKE
        for step in section.steps
        if isinstance(step, Ask) and step.asking is asking
    ]
    if not asked:
        raise NotPrintedError(
            f"{procedure.title!r} does not ask for the {_CALLED[asking]} of a plate at intake. Leave the option out, "
            "or name the answer with --answer FIELD=VALUE."
        )
    return tuple(asked)


_CALLED: Final = {Asking.VOLTAGE: "volts", Asking.POWER: "watts"}


def _checked(procedure: Procedure, name: str, value: str) -> str:
    asked = [step for section in procedure.sections for step in section.steps if field_of(step) == name]
    if not asked:
        fields = dict.fromkeys(field_of(step) for section in procedure.sections for step in section.steps)
        raise NotPrintedError(
            f"No step of {procedure.title!r} keeps an answer under {name!r}. There are these: "
            f"{', '.join(sorted(filter(None, fields)))}."
        )
    choices = {choice.key for step in asked if isinstance(step, Ask) for choice in step.choices}
    if choices and value not in choices:
        raise NotPrintedError(f"{value!r} is no answer for {name}; it has these: {', '.join(sorted(choices))}.")
    kinds = {kind for step in asked for kind in _kinds(step)}
    if Asking.YES_NO in kinds and value not in ("yes", "no"):
        raise NotPrintedError(f"{name} is answered with yes or no, and {value!r} is neither.")
    return _figure(name, value, kinds) if kinds & MEASURED else value


def _kinds(step: Step) -> Iterator[Asking]:
    if isinstance(step, Ask):
        yield step.asking
    elif isinstance(step, Measure):
        yield Asking(step.quantity.value)


def _figure(name: str, value: str, kinds: set[Asking]) -> str:
    try:
        figure = Decimal(value)
    except InvalidOperation:
        figure = Decimal("NaN")
    try:
        if not figure.is_finite():
            raise ValueError("write a figure, as in 240")
        if Asking.VOLTAGE in kinds:
            rated_resistance_ohm(_ANY_WATTS, figure)
        elif Asking.POWER in kinds:
            rated_resistance_ohm(figure, _ANY_VOLTS)
    except (ValueError, InvalidOperation) as error:
        raise NotPrintedError(f"{value!r} cannot be {name}: {error}.") from None
    return value


def _test(procedure: Procedure, name: str) -> str:
    wanted = name.strip().lower()
    tests = [section for section in procedure.sections if is_test(section)]
    for section in tests:
        if wanted in (section.id.lower(), section.title.lower(), *(call.lower() for call in section.call)):
            return section.id
    raise NotPrintedError(
        f"{procedure.title!r} has no test {name!r}. It has these: {', '.join(section.id for section in tests)}."
    )
