"""What may be on record where some conditions hold and others do not: one such record, or none.

Nothing is tried that no condition looks at, and a choice is made only where a condition still has to be broken; so
nothing has to be cut short. What is found (`found`, `remedy`) follows from the cause, as the engine has it; a second
cause (`found_too`) is looked for only behind one that names what may have made it fail.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from voicetech.procedure import Condition, Procedure

OTHER: Final = ""
"""Any answer that no condition names, and none at all."""

_Room = Mapping[str, frozenset[str]]
"""The answers that are left for each field."""


def case_of(
    procedure: Procedure, holding: Iterable[Condition], broken: Sequence[Sequence[Condition]]
) -> Mapping[str, str] | None:
    """Return answers by field with which all of `holding` holds, and of each of `broken` something does not.

    None where there are no such answers.
    """
    wanted = tuple(holding)
    every = (*wanted, *(condition for conditions in broken for condition in conditions))
    room: _Room | None = _everything(procedure, every)
    for condition in wanted:
        room = None if room is None else _narrowed(procedure, room, condition)
    if room is not None:
        room = _breaking(procedure, room, broken)
    return None if room is None else _told(procedure, room)


def _everything(procedure: Procedure, conditions: Iterable[Condition]) -> _Room:
    """Return the answers that the conditions tell apart, and one for all others."""
    room: dict[str, frozenset[str]] = {}
    for condition in conditions:
        field, answers = _of_cause(procedure, condition)
        named = frozenset(procedure.causes) if field == "cause" else frozenset(answers)
        room[field] = room.get(field, frozenset({OTHER})) | named
    return room if "found_too" not in room else {"cause": frozenset({OTHER, *procedure.causes}), **room}


def _of_cause(procedure: Procedure, condition: Condition) -> tuple[str, frozenset[str]]:
    """Return the field and the answers a condition looks at; what follows from the cause as causes."""
    answers = frozenset(condition.values)
    match condition.field:
        case "remedy":
            return "cause", frozenset(name for name, cause in procedure.causes.items() if cause.remedy in answers)
        case "found":
            causes = frozenset(procedure.causes) if "yes" in answers else frozenset()
            return "cause", causes | ({OTHER} if "no" in answers else frozenset())
        case field:
            return field, answers


def _narrowed(procedure: Procedure, room: _Room, condition: Condition, breaking: bool = False) -> _Room | None:
    """Return what is left where the condition holds, or does not; None where nothing is."""
    field, answers = _of_cause(procedure, condition)
    left = room[field] - answers if condition.absent != breaking else room[field] & answers
    narrowed = {**room, field: left}
    if narrowed.get("found_too") == frozenset({"yes"}):
        narrowed["cause"] &= frozenset(name for name, cause in procedure.causes.items() if cause.upstream)
    return narrowed if all(narrowed.values()) else None


def _breaking(procedure: Procedure, room: _Room, broken: Sequence[Sequence[Condition]]) -> _Room | None:
    """Return what is left where something of each of these does not hold; None where nothing is."""
    for number, conditions in enumerate(broken):
        if any(_narrowed(procedure, room, condition) is None for condition in conditions):
            continue
        for condition in conditions:
            left = _narrowed(procedure, room, condition, breaking=True)
            found = None if left is None else _breaking(procedure, left, broken[number + 1 :])
            if found is not None:
                return found
        return None
    return room


def _told(procedure: Procedure, room: _Room) -> Mapping[str, str]:
    """Return one answer for each field, the plainest, with the remedy where there is a cause."""
    known = {field: OTHER if OTHER in left else min(left) for field, left in room.items()}
    cause = procedure.causes.get(known.get("cause", OTHER))
    return known if cause is None else {**known, "remedy": cause.remedy}
