"""What a mistyped name may have been: a suggestion in a finding, never more."""

from collections.abc import Collection, Iterable
from typing import Final

from rapidfuzz import fuzz, process
from rapidfuzz.distance import OSA

_ALIKE: Final = 70.0
"""Least similarity (0 to 100) of a suggestion. Judgement, no source."""
_MOST_LISTED: Final = 8


def nearest(name: str, known: Iterable[str], least: float = _ALIKE) -> str | None:
    """Return the known name that is most like this one, or None where none is like it by `least` in 100."""
    found = process.extractOne(name.lower(), list(known), scorer=fuzz.ratio, score_cutoff=least)
    return None if found is None or not name else found[0]


def slipped(name: str, known: Iterable[str]) -> str | None:
    """Return the known name that one slip of a key, or a wrong case, makes into this one; None where there is none.

    For names that are like each other by design, as those of files.
    """
    return next((each for each in known if OSA.distance(each.lower(), name.lower()) <= 1), None)


def instead(name: str, known: Collection[str], where: str = "") -> str:
    """Return what to do about an unknown name: take the nearest, or one of those listed, or look at `where`."""
    guess = nearest(name, known)
    if guess is not None:
        return f"did you mean {guess}?"
    listed = ", ".join(known) if len(known) <= _MOST_LISTED else ""
    if not where:
        return f"write one of {listed or ', '.join(known)}" if known else "remove it"
    return f"name {where} ({listed})" if listed else f"name {where}"
