"""What a reviewer says of a job: kept beside its events, never among them, so that no mark changes what happened.

Events are named by their number in the job, from 1. Times (`at_s`) are seconds since the epoch, UTC.
"""

from dataclasses import dataclass, replace
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
    """Return the marks that were not taken back, each with its number; of one reviewer's on the same words the last.

    Where reviewers differ about what was said, each of them stands: see `heard_by_reviewers`.
    """
    gone = {mark.mark for mark in marks if isinstance(mark, TakenBack)}
    kept = [(nr, mark) for nr, mark in enumerate(marks, start=1) if nr not in gone and not isinstance(mark, TakenBack)]
    last = {(mark.seq, mark.reviewer): nr for nr, mark in kept if isinstance(mark, Misheard)}
    return tuple(
        (nr, mark) for nr, mark in kept if not isinstance(mark, Misheard) or last[mark.seq, mark.reviewer] == nr
    )


def heard_by_reviewers(marks: tuple[Mark, ...]) -> dict[int, tuple[Misheard, ...]]:
    """Return what reviewers say was said in each event, by its number: one mark for each answer they give.

    More than one where they differ; the last of them is the one that was made last.
    """
    heard: dict[int, dict[str, Misheard]] = {}
    for _, mark in standing(marks):
        if isinstance(mark, Misheard):
            answers = heard.setdefault(mark.seq, {})
            answers.pop(_folded(mark.said), None)
            answers[_folded(mark.said)] = mark
    return {seq: tuple(answers.values()) for seq, answers in heard.items()}


def doubled(mark: Mark, marks: tuple[Mark, ...]) -> int | None:
    """Return the number of the standing mark by which this reviewer says the same already, None where none does."""
    return next((nr for nr, other in standing(marks) if replace(other, at_s=mark.at_s) == mark), None)


def _folded(said: str) -> str:
    return " ".join(said.casefold().split())
