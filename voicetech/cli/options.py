"""What commands share about their options: days, names that may not be empty, and those that would do nothing."""

import re
from collections.abc import Mapping
from datetime import date

import typer

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_FIRST_YEAR, _LAST_YEAR = 1971, 9998
"""Years whose every day begins and ends at a time that every computer can tell."""


def refuse(options: Mapping[str, object], why: str) -> None:
    """End the command where one of these options was given, rather than let it do nothing.

    `why` follows the option's name. What is None, False or empty was not given.
    """
    given = next((name for name, value in options.items() if value), None)
    if given is not None:
        raise typer.BadParameter(f"{given} {why}")


def day(text: str) -> date:
    """Return the day written as year-month-day; typer.BadParameter where it is none."""
    try:
        found = date.fromisoformat(text.strip()) if _DAY.fullmatch(text.strip()) else None
    except ValueError:
        raise typer.BadParameter(f"There is no day {text!r} in the calendar. Correct it, as in 2026-11-01.") from None
    if found is None:
        raise typer.BadParameter(f"{text!r} is not a day. Write year, month and day with dashes, as in 2026-11-01.")
    if not _FIRST_YEAR <= found.year <= _LAST_YEAR:
        raise typer.BadParameter(f"The year of {text} cannot be right. Write a day as in 2026-11-01.")
    return found
