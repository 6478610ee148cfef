"""The whole check of a file, as `voicetech check` makes it."""

from functools import cache
from pathlib import Path

from voicetech.authoring.advice import ADVICE
from voicetech.authoring.checking import Check
from voicetech.authoring.findings import Finding
from voicetech.authoring.procedure_files import checked, checked_in_languages
from voicetech.hearing.checks_hearing import hearing_checks
from voicetech.hearing.phones import load_dictionary

HEARING_RULES = frozenset({"unheard", "sounds-alike"})
"""What needs a pronouncing dictionary, which does not come with every Python."""


@cache
def every_check() -> tuple[Check, ...]:
    known = load_dictionary()
    return ADVICE if known is None else (*ADVICE, *hearing_checks(known))


def found_in(path: Path) -> tuple[Finding, ...]:
    return tuple(sorted({*checked(path, every_check())[1], *checked_in_languages(path)}))
