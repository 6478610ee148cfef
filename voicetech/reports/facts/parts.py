"""The parts that mending takes: by function and rating from the record, by number from the shop's part book."""

from collections.abc import Sequence
from dataclasses import dataclass

from voicetech.dialogue.answering import LATER
from voicetech.procedure import Procedure
from voicetech.reports.facts.causes import CauseFact
from voicetech.reports.facts.naming import Names
from voicetech.reports.facts.part_book import BookLine, PartBook, function_of
from voicetech.reports.facts.plate import rating, written


@dataclass(frozen=True, slots=True)
class PartFact:
    """One part: what it is for, its rating where the plate was told, and its line in the part book.

    `proved` is false where the fault it mends is only suspected. `listed` is None where the book has no line for it
    or there is no book.
    """

    function: str
    rating: str
    proved: bool
    listed: BookLine | None


def part_functions(procedure: Procedure) -> frozenset[str]:
    """Return all parts that a report of this procedure may name, as it names them."""
    named = (_function(part) for cause in procedure.causes.values() for part in cause.parts)
    return frozenset(function for function in named if function)


def _function(part: str) -> str:
    """Return what a part of a procedure is called in a report; empty where none is needed."""
    function = part.removeprefix("and ").strip()
    return "" if function == "none" else function


def parts_of(causes: Sequence[CauseFact], names: Names, book: PartBook | None) -> tuple[PartFact, ...]:
    """Return the parts of every fault that stands, once each, those of proved faults first."""
    model = names.known.get("model", "")
    models = () if model in ("", LATER) else tuple(filter(None, (written(model), model)))
    standing = [cause for cause in causes if not cause.ruled_out and cause.withdrawn is None]
    facts: dict[str, PartFact] = {}
    for cause in sorted(standing, key=lambda cause: not cause.proved):
        for part in cause.parts:
            function = _function(part)
            if not function:
                continue
            listed = None if book is None else book.line_for(models, function)
            plate = rating(function, names.procedure, names.known)
            facts.setdefault(function_of(function), PartFact(function, plate, cause.proved, listed))
    return tuple(facts.values())
