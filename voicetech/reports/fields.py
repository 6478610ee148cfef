"""How recorded answers read in a report: the field they are kept under becomes a name, a yes or no a sentence.

A procedure says so of its own fields; here are those that every appliance has. What neither lists is called by its
plain name.
"""

from collections.abc import Mapping
from typing import Final

from voicetech.reports.wording import headed, plain_name

YES_AND_NO: Final = 2
"""Texts of a field that is answered yes or no; any other has one."""
_NAMES: Final[dict[str, str]] = {
    "breaker_linked": "Breaker",
    "breaker_state": "Breaker when called",
    "complaint": "Complaint",
    "history": "Just before",
    "home": "Home",
    "meter": "Meter used",
    "onset": "How it stopped",
    "plate_volts": "Volts on the plate",
    "plate_watts": "Power on the plate",
    "refusal": "What was refused",
    "retest_meter": "Metered again under load",
    "retest_watts": "Element that was on",
    "seen_too": "Also seen",
    "setting": "Setting found on",
    "told": "Who was told",
    "trip_when": "It tripped",
    "why_it_failed": "Why it failed, by the technician",
}

_SENTENCES: Final[dict[str, tuple[str, str]]] = {
    "breaker_cool": ("Breaker still on and cool", "Breaker off or hot"),
    "complaint_gone": (
        "The original complaint was tried: it works as it should",
        "The original complaint was tried: it does not work as it should",
    ),
    "complaint_seen": ("The complaint was seen on arrival", "The complaint was not seen on arrival"),
    "display_lit": ("Clock, display or a lamp lit", "No clock, display or lamp lit"),
    "half_house_odd": ("Half the lights of the house odd", "No trouble with the lights of the house"),
    "jumpers_out": ("Test jumpers out", "Test jumpers still in"),
    "limits_kept": ("No fuse or limit bypassed", "A fuse or limit is bypassed"),
    "low_impedance": ("Tester on low impedance", "Tester not on low impedance"),
    "off_is_off": (
        "With every control off, everything was off",
        "With every control off, something stayed on",
    ),
    "others_work": ("Everything else works", "Something else does not work"),
    "past_shock": ("Shocks or tingles before today", "No shocks before today"),
    "past_smell_or_sparks": ("Smell, flash or sparks before today", "No smell, flash or sparks before today"),
    "past_trips": ("Its breaker tripped before today", "Its breaker never tripped before today"),
    "refused": ("Something was refused", "Nothing was refused"),
    "urgent": ("Danger when called", "No sparks, smoke or shocks when called"),
}


def field_name(field: str, of_procedure: Mapping[str, tuple[str, ...]] | None = None) -> str:
    """Return what an answer's field is called, by the procedure where it says so."""
    said = (of_procedure or {}).get(field, ())
    return said[0] if len(said) == 1 else _NAMES.get(field, headed(plain_name(field)))


def sentence(field: str, value: str, of_procedure: Mapping[str, tuple[str, ...]] | None = None) -> str | None:
    """Return what a yes or a no to this field says; None where it is neither, or says nothing by itself."""
    said = (of_procedure or {}).get(field, ())
    yes_and_no = said if len(said) == YES_AND_NO else _SENTENCES.get(field)
    if yes_and_no is None or value not in ("yes", "no"):
        return None
    return yes_and_no[0] if value == "yes" else yes_and_no[1]
