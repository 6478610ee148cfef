"""What the nameplate says, as it was told: model and serial in characters, ratings of parts."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from itertools import groupby
from typing import Final

from voicetech.electrical.appliance import Heater
from voicetech.language.spelled import characters
from voicetech.procedure import Procedure
from voicetech.reports.wording import number_with_unit
from voicetech.units import Unit

_NUMBER_WORDS: Final = frozenset({"and", "double", "hundred", "thousand", "triple"})
"""Words of spelled numbers that are no characters by themselves."""


def written(said: str) -> str | None:
    """Return the characters of a spelled model or serial number, as in "M742"; None where that is not certain."""
    out = ""
    for spelled, group in groupby(said.lower().split(), _is_spelled):
        words = " ".join(group)
        text = characters(words) if spelled else words.replace(" ", "").upper()
        if text is None:
            return None
        out += text
    return out or None


def _is_spelled(word: str) -> bool:
    return word in _NUMBER_WORDS or characters(word) is not None


def rating(part: str, procedure: Procedure | None, known: Mapping[str, str]) -> str:
    """Return an element's rating by the recorded answers, as in "2600 W at 240 V"; empty where it was not told."""
    if procedure is None or procedure.circuit is None:
        return ""
    for heater in procedure.circuit.parts:
        if isinstance(heater, Heater) and part.startswith(f"{heater.name.replace('-', ' ')} element"):
            watts = _figure(known.get(heater.watts_field, ""))
            volts = _figure(known.get(heater.volts_field, ""))
            if watts is None:
                return ""
            at = "" if volts is None else f" at {number_with_unit(volts, Unit.VOLT)}"
            return f"{number_with_unit(watts, Unit.WATT)}{at}"
    return ""


def _figure(text: str) -> Decimal | None:
    try:
        value = Decimal(text)
    except InvalidOperation:
        return None
    return value if value.is_finite() else None
