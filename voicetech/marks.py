"""What a reviewer says of a job: kept beside its events, never among them, so that no mark changes what happened.

Events are named by their number in the job, from 1. Times (`at_s`) are seconds since the epoch, UTC.
"""

from dataclasses import dataclass
from typing import Final

from pydantic import TypeAdapter, ValidationError


@dataclass(frozen=True, slots=True)
class Misheard:
    """The words of event `seq` were heard wrong: `said` is what was said, empty where it was nobody's answer."""

    seq: int
    said: str
    reviewer: str
    at_s: float


@dataclass(frozen=True, slots=True)
class Commented:
    """A comment on event `seq`, or on the whole job where it is None."""

    seq: int | None
    text: str
    reviewer: str
    at_s: float


@dataclass(frozen=True, slots=True)
class SignedOff:
    """The job was looked through as far as its first `events` events."""

    events: int
    reviewer: str
    at_s: float


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The mark of this number (from 1, in the order of the job's marks) no longer counts; it stays on record."""

    mark: int
    reviewer: str
    at_s: float


Mark = Misheard | Commented | SignedOff | TakenBack

MARK_KINDS: Final[dict[str, type[Mark]]] = {
    "misheard/1": Misheard,
    "commented/1": Commented,
    "signed-off/1": SignedOff,
    "taken-back/1": TakenBack,
}
_KIND_OF: Final[dict[type[Mark], str]] = {record: kind for kind, record in MARK_KINDS.items()}
_ADAPTERS: Final[dict[str, TypeAdapter[Mark]]] = {kind: TypeAdapter(record) for kind, record in MARK_KINDS.items()}


class UnreadableMarkError(Exception):
    """A stored mark is of an unknown kind or does not fit its kind."""


def encoded_mark(mark: Mark) -> tuple[str, str]:
    """Return the kind and the JSON text a mark is stored as."""
    kind = _KIND_OF[type(mark)]
    return kind, _ADAPTERS[kind].dump_json(mark).decode()


def decoded_mark(kind: str, text: str) -> Mark:
    """Return the mark stored under this kind and JSON text; UnreadableMarkError where it is neither."""
    adapter = _ADAPTERS.get(kind)
    if adapter is None:
        raise UnreadableMarkError(f"unknown kind of mark {kind!r}: a newer program wrote it")
    try:
        return adapter.validate_json(text)
    except ValidationError as error:
        raise UnreadableMarkError(f"the mark {kind} cannot be read: {error.errors()[0]['msg']}") from error


def standing(marks: tuple[Mark, ...]) -> tuple[tuple[int, Mark], ...]:
    """Return the marks that were not taken back, each with its number; later ones on the same words stand alone."""
    gone = {mark.mark for mark in marks if isinstance(mark, TakenBack)}
    kept = [(nr, mark) for nr, mark in enumerate(marks, start=1) if nr not in gone and not isinstance(mark, TakenBack)]
    last = {mark.seq: nr for nr, mark in kept if isinstance(mark, Misheard)}
    return tuple((nr, mark) for nr, mark in kept if not isinstance(mark, Misheard) or last[mark.seq] == nr)
