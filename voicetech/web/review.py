"""The review of one job as a local page: the page itself, the marks on record, one more mark, the end.

The record is opened for each request, so nothing is held while somebody reads.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Final

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from voicetech.journal.errors import JournalError
from voicetech.journal.store import Journal, open_journal
from voicetech.marks import doubled
from voicetech.marks_json import BadMarkError, Marked, fitting, inputs_of, mark_from_json, marks_as_json
from voicetech.reports.writing import ReportError
from voicetech.web.local import nonce_of

_WRONG: Final = 422
_FAILED: Final = 500


@dataclass(frozen=True, slots=True)
class Reviewed:
    """The job under review: its name, the record it stands in, and what makes its page for a nonce."""

    job: str
    record: Path
    page: Callable[[str], str]


def review_routes(reviewed: Reviewed, now_s: Callable[[], float], stop: Callable[[], None]) -> Sequence[BaseRoute]:
    """Return the routes of one job's review; marks get their time from `now_s`, `stop` ends the server."""

    def page(request: Request) -> Response:
        try:
            return HTMLResponse(reviewed.page(nonce_of(request)))
        except (JournalError, ReportError) as error:
            return HTMLResponse(_message(str(error)), _FAILED)

    def marks(_: Request) -> Response:
        try:
            with open_journal(reviewed.record) as journal:
                return _marks(journal, reviewed.job)
        except JournalError as error:
            return _error(str(error), _FAILED)

    async def one_more(request: Request) -> Response:
        try:
            raw = json.loads(await request.body())
        except (ValueError, RecursionError):
            return _error("What was sent is not JSON. Reload the page and save again.", _WRONG)
        try:
            # Here and not in a thread, so that two marks at once are held against each other.
            with open_journal(reviewed.record) as journal:
                there = marked(journal, reviewed.job)
                mark = fitting(mark_from_json(raw, now_s()), there)
                # A button that was pressed twice says it once.
                if doubled(mark, there.marks) is None:
                    journal.add_marks(reviewed.job, [mark])
                return _marks(journal, reviewed.job)
        except BadMarkError as error:
            return _error(str(error), _WRONG)
        except JournalError as error:
            return _error(str(error), _FAILED)

    def ended(_: Request) -> Response:
        stop()
        return JSONResponse({"stopped": True})

    return (
        Route("/", page, methods=["GET"]),
        Route("/marks", marks, methods=["GET"]),
        Route("/marks", one_more, methods=["POST"]),
        Route("/stop", ended, methods=["POST"]),
    )


def marked(journal: Journal, job: str) -> Marked:
    """Return what marks of this job are held against. Raises JournalError."""
    readable = journal.readable_events(job)
    events = max((*readable.numbers, *(left.seq for left in readable.left_out)), default=0)
    numbered = tuple(zip(readable.numbers, readable.events, strict=True))
    return Marked(job, events, inputs_of(numbered), journal.marks(job))


def _marks(journal: Journal, job: str) -> Response:
    return JSONResponse({"marks": marks_as_json(journal.marks(job))})


def _error(why: str, status: int) -> Response:
    return JSONResponse({"error": why}, status)


def _message(why: str) -> str:
    return f'<!doctype html><html lang="en"><title>voicetech</title><p>{escape(why)}</p></html>'
