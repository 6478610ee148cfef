"""A job's summary from what is stored of it, in a record or in a shop's archive."""

from collections.abc import Sequence

from sqlalchemy import Connection

from voicetech.archive.wording import Wording
from voicetech.events import JobOpened
from voicetech.journal.store import ReadableEvents
from voicetech.marks import Mark, UnreadableMarkError, decoded_mark
from voicetech.summary.fold import Readable, summary_of
from voicetech.summary.records import JobSummary


def summarised(
    connection: Connection, wording: Wording, job: str, stored: ReadableEvents, marks: Sequence[tuple[str, str]]
) -> JobSummary | None:
    """Return the summary of a job; None where nothing is stored of it. `marks` are kinds and bodies."""
    if not stored.events and not stored.left_out:
        return None
    kept, unreadable = _read(marks)
    missing = sum(not left.kind for left in stored.left_out)
    readable = Readable(
        stored.events,
        stored.numbers,
        stored=len(stored.events) + len(stored.left_out) - missing,
        marks=kept,
        unreadable=len(stored.left_out) + unreadable,
    )
    opened = next((event for event in stored.events if isinstance(event, JobOpened)), None)
    return summary_of(job, readable, wording.of(connection, opened))


def _read(marks: Sequence[tuple[str, str]]) -> tuple[tuple[Mark, ...], int]:
    try:
        return tuple(decoded_mark(kind, body) for kind, body in marks), 0
    except UnreadableMarkError:
        # One that takes another back names it by its place, so that the others mean nothing without it.
        return (), len(marks)
