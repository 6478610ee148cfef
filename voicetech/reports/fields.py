"""How recorded answers read in a report: the field they are kept under becomes a name, a yes or no a sentence.

A procedure says so of its own fields; here are those that every appliance has. What neither lists is called by its
plain name.
"""

from collections.abc import Mapping
from typing import Final

from voicetech.known_fields import NAMES, SENTENCES
from voicetech.reports.wording import headed, plain_name

YES_AND_NO: Final = 2
"""Texts of a field that is answered yes or no; any other has one."""


def field_name(field: str, of_procedure: Mapping[str, tuple[str, ...]] | None = None) -> str:
    """Return what an answer's field is called, by the procedure where it says so."""
    said = (of_procedure or {}).get(field, ())
    return said[0] if len(said) == 1 else NAMES.get(field, headed(plain_name(field)))


def sentence(field: str, value: str, of_procedure: Mapping[str, tuple[str, ...]] | None = None) -> str | None:
    """Return what a yes or a no to this field says; None where it is neither, or says nothing by itself."""
    said = (of_procedure or {}).get(field, ())
    yes_and_no = said if len(said) == YES_AND_NO else SENTENCES.get(field)
    if yes_and_no is None or value not in ("yes", "no"):
        return None
    return yes_and_no[0] if value == "yes" else yes_and_no[1]
