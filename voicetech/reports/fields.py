"""How recorded answers read in a report: the field they are kept under becomes a name, a yes or no a sentence.

A field that is not listed is called by its plain name, so that a procedure of somebody's own needs no change here.
"""

from typing import Final

from voicetech.reports.wording import headed, plain_name

_NAMES: Final[dict[str, str]] = {
    "breaker_linked": "Breaker",
    "breaker_state": "Breaker when called",
    "complaint": "What is cold",
    "history": "Just before",
    "home": "Home",
    "meter": "Meter used",
    "onset": "How it stopped",
    "oven_temperature": "Oven set to 350 °F averaged",
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
    "wrong_where": "Where the heat is wrong",
}

_SENTENCES: Final[dict[str, tuple[str, str]]] = {
    "anti_tip": ("Anti-tip bracket engaged", "Anti-tip bracket not engaged"),
    "breaker_cool": ("Breaker still on and cool", "Breaker off or hot"),
    "complaint_gone": (
        "The original complaint was tried: it heats as it should",
        "The original complaint was tried: it does not heat as it should",
    ),
    "complaint_seen": ("The complaint was seen on arrival", "The complaint was not seen on arrival"),
    "display_lit": ("Clock, display or a lamp lit", "No clock, display or lamp lit"),
    "foil_out": ("All foil out", "Foil still in it"),
    "half_house_odd": ("Half the lights of the house odd", "No trouble with the lights of the house"),
    "jumpers_out": ("Test jumpers out", "Test jumpers still in"),
    "limits_kept": ("No fuse or limit bypassed", "A fuse or limit is bypassed"),
    "low_impedance": ("Tester on low impedance", "Tester not on low impedance"),
    "off_is_off": (
        "With every control off, everything was off",
        "With every control off, something stayed on",
    ),
    "others_work": ("Every other burner and oven function heats", "Something else does not heat"),
    "oven_near": (
        "The oven held within 25 °F of its setting",
        "The oven was more than 25 °F from its setting",
    ),
    "past_shock": ("Shocks or tingles before today", "No shocks before today"),
    "past_smell_or_sparks": ("Smell, flash or sparks before today", "No smell, flash or sparks before today"),
    "past_trips": ("Its breaker tripped before today", "Its breaker never tripped before today"),
    "ran_away": ("The oven once ran away", "The oven never ran away"),
    "refused": ("Something was refused", "Nothing was refused"),
    "urgent": ("Danger when called", "No sparks, smoke or shocks when called"),
}


def field_name(field: str) -> str:
    """Return what an answer's field is called."""
    return _NAMES.get(field, headed(plain_name(field)))


def sentence(field: str, value: str) -> str | None:
    """Return what a yes or a no to this field says; None where it is neither, or says nothing by itself."""
    yes_and_no = _SENTENCES.get(field)
    if yes_and_no is None or value not in ("yes", "no"):
        return None
    return yes_and_no[0] if value == "yes" else yes_and_no[1]
