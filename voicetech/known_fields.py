"""Fields of recorded answers that appliances share: how each reads in a report, and those that the program looks at."""

from collections.abc import Mapping
from typing import Final

NAMES: Final[Mapping[str, str]] = {
    "breaker_linked": "Breaker",
    "breaker_state": "Breaker when called",
    "complaint": "Complaint",
    "element_to_frame": "Element that leaks to the frame",
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
"""Of any other: what it is called."""
SENTENCES: Final[Mapping[str, tuple[str, str]]] = {
    "back_when_cold": ("Once cold it heated again", "It did not heat again once cold"),
    "bake_lets_go": ("Bake let go every time", "Bake did not let go every time"),
    "breaker_cool": ("Breaker still on and cool", "Breaker off or hot"),
    "complaint_gone": (
        "The original complaint was tried: it works as it should",
        "The original complaint was tried: it does not work as it should",
    ),
    "complaint_seen": ("The complaint was seen on arrival", "The complaint was not seen on arrival"),
    "display_lit": ("Clock, display or a lamp lit", "No clock, display or lamp lit"),
    "fuse_fitted": ("A separate thermal fuse or limit is fitted", "No separate thermal fuse or limit"),
    "half_house_odd": ("Half the lights of the house odd", "No trouble with the lights of the house"),
    "jumpers_out": ("Test jumpers out", "Test jumpers still in"),
    "lamp_lit": ("A lamp on it lights", "No lamp on it lights"),
    "limits_kept": ("No fuse or limit bypassed", "A fuse or limit is bypassed"),
    "low_impedance": ("Tester on low impedance", "Tester not on low impedance"),
    "motor_free": ("The motor turns freely by hand", "The motor does not turn freely"),
    "off_is_off": (
        "With every control off, everything was off",
        "With every control off, something stayed on",
    ),
    "ohms_fall": ("Warmed by hand the ohms fell steadily", "Warmed by hand the ohms did not fall steadily"),
    "others_work": ("Everything else works", "Something else does not work"),
    "outlet_damaged": ("The outlet itself is damaged", "The outlet itself looks sound"),
    "past_shock": ("Shocks or tingles before today", "No shocks before today"),
    "past_smell_or_sparks": ("Smell, flash or sparks before today", "No smell, flash or sparks before today"),
    "past_trips": ("Its breaker tripped before today", "Its breaker never tripped before today"),
    "refused": ("Something was refused", "Nothing was refused"),
    "strap_seen": ("A strap joins neutral and frame", "No strap between neutral and frame"),
    "touched_other": ("Other metal was touched at the same time", "No other metal was touched"),
    "twin_cuts": ("Another element of its size goes dark in time", "Another element of its size does not go dark"),
    "urgent": ("Danger when called", "No sparks, smoke or shocks when called"),
}
"""Of a question that is answered yes or no: what yes says, and what no says."""
OWN: Final = frozenset({"consent", "lead_ohm", "loaded_volts", "model", "serial"})
"""What the program looks at by itself."""
KNOWN: Final = frozenset({*NAMES, *SENTENCES, *OWN})
