"""How readings are read back and shown: words for the ear, digits for the screen.

What is spoken here parses back to the same value; no digit with a dot is left to a voice.
"""

import re
from decimal import Decimal

from voicetech.language.number_words import TENS, UNDER_TWENTY
from voicetech.units import Reading, Unit

_SPOKEN = {
    Unit.VOLT: ("volt", "volts"),
    Unit.OHM: ("ohm", "ohms"),
    Unit.AMPERE: ("amp", "amps"),
    Unit.CELSIUS: ("degrees celsius", "degrees celsius"),
    Unit.FAHRENHEIT: ("degrees fahrenheit", "degrees fahrenheit"),
    Unit.HERTZ: ("hertz", "hertz"),
    Unit.FARAD: ("farad", "farads"),
    Unit.WATT: ("watt", "watts"),
    Unit.KILOWATT: ("kilowatt", "kilowatts"),
    Unit.SECOND: ("second", "seconds"),
}
_SHOWN = {Unit.VOLT: "V", Unit.OHM: "Ω", Unit.AMPERE: "A", Unit.CELSIUS: "°C", Unit.FAHRENHEIT: "°F",
          Unit.HERTZ: "Hz", Unit.FARAD: "F", Unit.WATT: "W", Unit.KILOWATT: "kW", Unit.SECOND: "s"}  # fmt: skip
_SCALED = {
    Unit.OHM: ((Decimal(10) ** 6, "megohms", "MΩ"), (Decimal(1000), "kilohms", "kΩ")),
    Unit.FARAD: ((Decimal("0.000001"), "microfarads", "µF"),),
    Unit.AMPERE: ((Decimal("0.001"), "milliamps", "mA"), (Decimal("0.000001"), "microamps", "µA")),
    Unit.VOLT: ((Decimal("0.001"), "millivolts", "mV"),),
}


def spoken(reading: Reading) -> str:
    """Return the reading in words with its unit ("two hundred thirty eight volts", "over limit, open")."""
    if reading.value is None:
        return "over limit, open" if reading.unit in (None, Unit.OHM) else "over limit"
    value, name, _ = _scaled(reading.value, reading.unit)
    return f"{_number(value)} {name}".strip()


def shown(reading: Reading) -> str:
    """Return the reading for a screen ("238 V", "1.2 kΩ", "OL")."""
    if reading.value is None:
        return "OL"
    value, _, symbol = _scaled(reading.value, reading.unit)
    return f"{_plain(value)} {symbol}".strip().replace("-", "−")


def without_call_to_say(prompt: str) -> str:
    """Return a prompt without its closing "then say done", which is for the ear and not for the record."""
    kept = re.sub(r"[\s,;.]*\b(?:and |then )*say\b[^?]*$", "", prompt, flags=re.IGNORECASE)
    if not kept or kept == prompt:
        return prompt
    return kept if kept[-1] in ".?!" else f"{kept}."


def digit_by_digit(value: Decimal) -> str:
    """Return the value one digit at a time ("one five zero", "minus one point five")."""
    sign = "minus " if value.is_signed() and value else ""
    names = {".": "point"}
    return sign + " ".join(names.get(c) or UNDER_TWENTY[int(c)] for c in _plain(abs(value)))


def read_back(reading: Reading) -> str:
    """Return the reading in words, digit by digit where a teen and a ten are easily confused (115, 150)."""
    if reading.value is None:
        return spoken(reading)
    value, name, _ = _scaled(reading.value, reading.unit)
    return f"{digit_by_digit(value)} {name}".strip() if _confusable(value) else spoken(reading)


def _confusable(value: Decimal) -> bool:
    """Return whether the whole part ends in 13 to 19 or in 30, 40 … 90."""
    whole = int(abs(value))
    tail = whole % 100
    return 13 <= tail <= 19 or (tail >= 30 and tail % 10 == 0)


def _scaled(value: Decimal, unit: Unit | None) -> tuple[Decimal, str, str]:
    """Return the value in the size people say it in, its spoken unit and its symbol.

    Kilohms from a thousand ohms, megohms from a million; millis and micros only where nothing else is left.
    """
    if unit is None:
        return value, "", ""
    size = abs(value)
    for factor, name, symbol in _SCALED.get(unit, ()):
        large = factor > 1 and size >= factor
        small = factor < 1 and 0 < size < (Decimal("0.1") if factor == Decimal("0.001") else Decimal("0.0001"))
        if large or (small and size >= factor):
            return _trimmed(value / factor), name, symbol
    singular, plural = _SPOKEN[unit]
    return value, singular if value == 1 else plural, _SHOWN[unit]


def _trimmed(value: Decimal) -> Decimal:
    whole = value.to_integral_value()
    return whole if value == whole else value.normalize()


def _plain(value: Decimal) -> str:
    return f"{value:f}"


def _number(value: Decimal) -> str:
    text = _plain(abs(value))
    whole, _, places = text.partition(".")
    words = _whole(int(whole))
    if places:
        words += " point " + " ".join(UNDER_TWENTY[int(c)] for c in places)
    return f"minus {words}" if value.is_signed() and value else words


def _whole(number: int) -> str:
    if number < 20:
        return UNDER_TWENTY[number]
    if number < 100:
        ten, one = divmod(number, 10)
        return TENS[ten - 2] + (f" {UNDER_TWENTY[one]}" if one else "")
    for size, name in ((10**9, "billion"), (10**6, "million"), (1000, "thousand"), (100, "hundred")):
        if number >= size:
            head, rest = divmod(number, size)
            return f"{_whole(head)} {name}" + (f" {_whole(rest)}" if rest else "")
    raise AssertionError(number)
