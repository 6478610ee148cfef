"""How values, limits, verdicts and names are written in a report."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from voicetech.electrical.words import plain, rounded
from voicetech.language.meaning import State
from voicetech.units import Unit

_NBSP: Final = "\N{NO-BREAK SPACE}"

_SYMBOLS: Final[dict[Unit, str]] = {
    Unit.VOLT: "V",
    Unit.AMPERE: "A",
    Unit.OHM: "Ω",
    Unit.CELSIUS: "°C",
    Unit.FAHRENHEIT: "°F",
    Unit.HERTZ: "Hz",
    Unit.FARAD: "F",
    Unit.WATT: "W",
    Unit.KILOWATT: "kW",
    Unit.SECOND: "s",
}

_VERDICTS: Final[dict[str, str]] = {
    "below": "below the limits",
    "within": "within the limits",
    "marginal": "too close to a limit to tell",
    "above": "above the limits",
    "over_range": "over range",
    "unusable": "not usable",
}

_STATES: Final[dict[State, str]] = {
    State.OPEN: "open (over range)",
    State.CLOSED: "closed",
    State.BEEP: "buzzer sounded, ohms not taken",
    State.SHORT: "short",
}

_NEEDS: Final[dict[str, str]] = {"dead": "dead", "live": "live", "powered": "power on, covers on", "any": ""}


def plain_name(key: str) -> str:
    """Return a name from a procedure as words: "bake-element" becomes "bake element"."""
    return key.replace("-", " ").replace("_", " ").strip()


def headed(words: str) -> str:
    """Return the words with a capital first letter."""
    return words[:1].upper() + words[1:]


def scaled(value: Decimal, unit: Unit | None) -> tuple[str, str]:
    """Return a figure as a meter would show it and its unit's prefix: 1200000 ohms are "1.2" and "M"."""
    if unit is Unit.OHM and abs(value) >= 1_000_000:
        return plain(value.scaleb(-6)), "M"
    if unit in (Unit.OHM, Unit.WATT) and abs(value) >= 10_000:
        return plain(value.scaleb(-3)), "k"
    return format(value, "f"), ""


def limit_figure(limit: Decimal, unit: Unit | None) -> tuple[str, str]:
    """Return a limit to four figures and its unit's prefix; limits are computed and carry digits nobody reads."""
    step = Decimal(1).scaleb(min(0, limit.adjusted() - 3))
    figure, prefix = scaled(rounded(limit, str(step)), unit)
    return plain(Decimal(figure)), prefix


def number_with_unit(value: Decimal, unit: Unit | None) -> str:
    """Return a figure with the digits the meter gave and its unit's symbol: "21.80 Ω", "1.2 MΩ"."""
    return _joined(*scaled(value, unit), unit)


def _joined(figure: str, prefix: str, unit: Unit | None) -> str:
    return figure if unit is None else f"{figure}{_NBSP}{prefix}{_SYMBOLS[unit]}"


def reading_words(value: Decimal | None, unit: Unit | None, state: State | None) -> str:
    """Return what the meter showed; over range where there is neither a value nor a state."""
    if value is not None:
        return number_with_unit(value, unit)
    return "OL (over range)" if state is None else _STATES[state]


def limits_words(low: Decimal | None, high: Decimal | None, unit: Unit | None) -> str:
    """Return the limits: "19.9 to 24.4 Ω", "at most 1 Ω", "at least 1 MΩ", or "none"."""
    at_low = None if low is None else limit_figure(low, unit)
    at_high = None if high is None else limit_figure(high, unit)
    if at_low is not None and at_high is not None:
        if at_low == at_high:
            return _joined(*at_high, unit)
        # One unit is enough where both ends have the same.
        first = at_low[0] if at_low[1] == at_high[1] else _joined(*at_low, unit)
        return f"{first} to {_joined(*at_high, unit)}"
    if at_high is not None:
        return f"at most {_joined(*at_high, unit)}"
    if at_low is not None:
        return f"at least {_joined(*at_low, unit)}"
    return "none"


def verdict_words(verdict: str) -> str:
    """Return a verdict in words; one this version does not know stays as it is stored."""
    return _VERDICTS.get(verdict, plain_name(verdict))


def needs_words(needs: str) -> str:
    """Return the state of the appliance a reading was taken in; empty where it did not matter."""
    return _NEEDS.get(needs, plain_name(needs))


def with_answers(text: str, answers: Mapping[str, str]) -> str:
    """Return a procedure's words with the recorded answers in the place of their names in braces."""
    return re.sub(r"\{([\w-]+)\}", lambda found: answers.get(found[1], plain_name(found[1])), text)


def as_sentence(words: str) -> str:
    """Return words with a capital first letter and a full stop behind them."""
    words = words.strip()
    return headed(words) if not words or words[-1] in ".?!" else f"{headed(words)}."


_NOTHING_ELSE: Final = re.compile(r"(no|none|nothing|nothing (else|seen|more)|no,? nothing)[.!]?", re.IGNORECASE)


def is_nothing(words: str) -> bool:
    """Return whether somebody's words to "anything else?" say that there is nothing."""
    return _NOTHING_ELSE.fullmatch(words.strip()) is not None


_NOT_PRINTABLE: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufff9-\ufffb\ud800-\udfff]")


_TURNS_TEXT: Final = re.compile(r"[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Marks that turn the direction of whatever follows, the report's own words included."""


def inside_quotes(words: str) -> str:
    """Return words for a place between quotation marks: straight pairs in them become single curly ones.

    A mark on its own may be inches and stays.
    """
    return re.sub(r'"([^"]*)"', "\N{LEFT SINGLE QUOTATION MARK}\\1\N{RIGHT SINGLE QUOTATION MARK}", words)


def printable(text: str) -> str:
    """Return text without marks of direction, with a replacement character for what is no character of a page."""
    one_direction = _TURNS_TEXT.sub("", text).replace("\r\n", "\n")
    return _NOT_PRINTABLE.sub("\N{REPLACEMENT CHARACTER}", one_direction)
