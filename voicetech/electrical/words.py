"""How a figure with its unit is written and spoken in a reason."""

from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation

from voicetech.units import Unit

_NAMES: dict[Unit, tuple[str, str]] = {
    Unit.VOLT: ("volt", "volts"),
    Unit.AMPERE: ("amp", "amps"),
    Unit.OHM: ("ohm", "ohms"),
    Unit.CELSIUS: ("degree Celsius", "degrees Celsius"),
    Unit.FAHRENHEIT: ("degree Fahrenheit", "degrees Fahrenheit"),
    Unit.HERTZ: ("hertz", "hertz"),
    Unit.FARAD: ("farad", "farads"),
    Unit.WATT: ("watt", "watts"),
    Unit.KILOWATT: ("kilowatt", "kilowatts"),
    Unit.SECOND: ("second", "seconds"),
}
_KILOHM_FROM = Decimal(10_000)
_MEGOHM_FROM = Decimal(1_000_000)


def plain(value: Decimal) -> str:
    """Return the number without exponent and without trailing zeros after the point."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def rounded(value: Decimal, step: str) -> Decimal:
    """Return the value rounded half to even to `step` ("0.1"), or as it is where it is too large to round."""
    try:
        return value.quantize(Decimal(step), rounding=ROUND_HALF_EVEN)
    except InvalidOperation:
        return value


def unit_name(unit: Unit) -> str:
    """Return the unit's plural: "ohms"."""
    return _NAMES[unit][1]


def in_words(value: Decimal, unit: Unit) -> str:
    """Return a figure with its unit: "21.8 ohms", "1 volt", "85 kilohms"."""
    if unit is Unit.OHM and abs(value) >= _MEGOHM_FROM:
        return f"{plain(value / _MEGOHM_FROM)} megohms"
    if unit is Unit.OHM and abs(value) >= _KILOHM_FROM:
        return f"{plain(value / 1000)} kilohms"
    one, many = _NAMES[unit]
    number = plain(value)
    return f"{number} {one if number == '1' else many}"


def between(low: Decimal, high: Decimal, unit: Unit) -> str:
    """Return a span with its unit once: "19.9 to 24.4 ohms"."""
    return f"{plain(low)} to {in_words(high, unit)}"
