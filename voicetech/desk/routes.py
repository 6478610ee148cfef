"""What the laptop's page asks of the program: the list of jobs, one job live, its review and its report."""

import asyncio
import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route, Router, WebSocketRoute
from starlette.types import Receive, Scope, Send
from starlette.websockets import WebSocket, WebSocketDisconnect

from voicetech.archive.errors import ArchiveError
from voicetech.archive.listing import JobListed
from voicetech.desk.desk import Desk
from voicetech.desk.desks import Desks
from voicetech.desk.messages import BadMessageError, ToPage, message_from
from voicetech.desk.sound import LONGEST_BLOCK
from voicetech.job import JobError
from voicetech.journal.errors import JournalError
from voicetech.language.lexicon import LexiconError
from voicetech.reports.writing import ReportError
from voicetech.web.files import PAGES, static_files
from voicetech.web.local import allow_styles
from voicetech.web.manual import manual_routes
from voicetech.web.review import Reviewed, review_routes

SHOWN: Final = 50
"""How many jobs the list shows (judgement, no source)."""
_WRONG: Final = 422
_FAILED: Final = 500
_NOT_THERE: Final = 404
_TOO_MANY: Final = 1008
_GONE: Final = 1011
_BAD_MESSAGES: Final = 20
"""A tab that sends so many messages that are none is cut off. Judgement, no source."""
_UNSENT: Final = 400
"""A tab that leaves so many messages unread is cut off, and shown everything when it comes back."""
_PLAIN_ERRORS: Final = (JournalError, ArchiveError, JobError, LexiconError, ReportError)


@dataclass(frozen=True, slots=True)
class Listed:
    """The jobs that the list shows, and whether there are more."""

    jobs: Sequence[JobListed]
    more: bool


@dataclass(frozen=True, slots=True)
class Office:
    """What the pages need of the record: jobs listed, begun, reviewed and reported.

    `procedures` are the names and titles of what may be begun; `chosen` is the one that was named already, empty where
    somebody has to choose.
    Each may raise JournalError, ArchiveError, JobError or ReportError, whose messages are shown.
    """

    procedures: Sequence[tuple[str, str]]
    chosen: str
    listed: Callable[[str], Listed]
    begin: Callable[[str], str]
    reviewed: Callable[[str], Reviewed]
    report: Callable[[str], str]
    report_pdf: Callable[[str], bytes]
    now_s: Callable[[], float]


def page_routes(office: Office, desks: Desks) -> Sequence[BaseRoute]:
    """Return the routes of the laptop's page."""
    rooms = _Rooms(office, desks)
    return (
        Route("/", rooms.start, methods=["GET"]),
        Route("/jobs", rooms.begin, methods=["POST"]),
        Route("/job/{job}", rooms.to_the_folder, methods=["GET"]),
        Route("/job/{job}/", rooms.job, methods=["GET"]),
        WebSocketRoute("/job/{job}/live", rooms.live),
        Route("/job/{job}/report/", rooms.report, methods=["GET"]),
        Route("/job/{job}/report.pdf", rooms.report_pdf, methods=["GET"]),
        Mount("/job/{job}/review", app=rooms.review),
        *manual_routes(),
        Route("/static/{name}", _static, methods=["GET"]),
    )


class _Rooms:
    """The pages of one server."""

    def __init__(self, office: Office, desks: Desks) -> None:
        self._office = office
        self._desks = desks

    async def start(self, request: Request) -> Response:
        words = request.query_params.get("words", "").strip()
        listed, error = Listed((), more=False), ""
        try:
            listed = await run_in_threadpool(self._office.listed, words)
        except _PLAIN_ERRORS as problem:
            error = str(problem)
        page = PAGES.get_template("start.html").render(
            procedures=self._office.procedures,
            chosen=self._office.chosen,
            jobs=[_row(job) for job in listed.jobs],
            more=listed.more,
            search=words,
            error=error,
        )
        return HTMLResponse(page)

    async def begin(self, request: Request) -> Response:
        try:
            asked = json.loads(await request.body())
            procedure = str(asked["procedure"])
        except (ValueError, TypeError, KeyError, RecursionError):
            return _error("What was sent names no procedure. Reload the page and start again.", _WRONG)
        if procedure not in dict(self._office.procedures):
            return _error("There is no such procedure. Reload the page and choose one.", _WRONG)
        try:
            job = await run_in_threadpool(self._office.begin, procedure)
        except _PLAIN_ERRORS as problem:
            return _error(str(problem), _FAILED)
        self._desks.begun(job)
        return JSONResponse({"job": job})

    async def to_the_folder(self, request: Request) -> Response:
        # What the page loads is named from its own folder.
        return RedirectResponse(f"{request.url.path.rpartition('/')[2]}/")

    async def job(self, request: Request) -> Response:
        return HTMLResponse(PAGES.get_template("job.html").render(job=request.path_params["job"]))

    async def report(self, request: Request) -> Response:
        try:
            page = await run_in_threadpool(self._office.report, request.path_params["job"])
        except _PLAIN_ERRORS as problem:
            return _message(str(problem))
        allow_styles(request, page)
        return HTMLResponse(page)

    async def report_pdf(self, request: Request) -> Response:
        job = request.path_params["job"]
        try:
            pdf = await run_in_threadpool(self._office.report_pdf, job)
        except _PLAIN_ERRORS as problem:
            return _message(str(problem))
        return Response(pdf, media_type="application/pdf")

    async def review(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            reviewed = await run_in_threadpool(self._office.reviewed, scope["path_params"]["job"])
        except _PLAIN_ERRORS as problem:
            await _message(str(problem))(scope, receive, send)
            return
        await Router(review_routes(reviewed, self._office.now_s, lambda: None))(scope, receive, send)

    async def live(self, socket: WebSocket) -> None:
        await socket.accept()
        desk = await run_in_threadpool(self._desks.of, socket.path_params["job"])
        tab = _Tab(asyncio.get_running_loop())
        sending = asyncio.create_task(tab.deliver(socket))
        desk.show(tab)
        try:
            await _received(socket, desk, tab)
        except WebSocketDisconnect:
            pass
        finally:
            desk.leave(tab)
            sending.cancel()
            with suppress(asyncio.CancelledError):
                await sending


@dataclass(eq=False)
class _Tab:
    """One tab's connection: messages wait in line for it, so that nobody waits for a slow browser."""

    loop: asyncio.AbstractEventLoop
    waiting: asyncio.Queue[ToPage | None] = field(default_factory=lambda: asyncio.Queue(_UNSENT))

    def send(self, message: ToPage) -> None:
        """Send the tab a message, from any thread."""
        with suppress(RuntimeError):
            # The loop is closed where the program is ending.
            self.loop.call_soon_threadsafe(self._line_up, message)

    async def deliver(self, socket: WebSocket) -> None:
        """Send what waits, one message after the other, until the connection ends."""
        with suppress(WebSocketDisconnect, RuntimeError):
            while True:
                message = await self.waiting.get()
                if message is None:
                    await socket.close(_TOO_MANY, "too much was left unread")
                    return
                await socket.send_text(message.text())
                if message.sound is not None:
                    await socket.send_bytes(message.sound)

    def _line_up(self, message: ToPage) -> None:
        if self.waiting.qsize() < _UNSENT - 1:
            self.waiting.put_nowait(message)
        elif self.waiting.qsize() < _UNSENT:
            self.waiting.put_nowait(None)


async def _received(socket: WebSocket, desk: Desk, tab: _Tab) -> None:
    """Give the desk what the tab sends, until the connection ends or too much of it is no message."""
    bad = 0
    while bad < _BAD_MESSAGES:
        received = await socket.receive()
        if received["type"] == "websocket.disconnect":
            return
        try:
            block = received.get("bytes")
            if block is not None:
                _check_block(block)
                desk.sound(tab, block)
            else:
                desk.take(tab, message_from(received.get("text") or ""))
        except BadMessageError as error:
            bad += 1
            tab.send(ToPage({"kind": "error", "text": str(error), "answer": ""}))
    await socket.close(_TOO_MANY, "too many messages were none")


def _check_block(block: bytes) -> None:
    if len(block) > LONGEST_BLOCK:
        raise BadMessageError(f"A block of sound may have {LONGEST_BLOCK} bytes. Send shorter ones.")


async def _static(request: Request) -> Response:
    found = static_files().get(request.path_params["name"])
    if found is None:
        return Response(status_code=_NOT_THERE)
    content, kind = found
    return Response(content, media_type=kind)


def _row(job: JobListed) -> dict[str, Any]:
    begun = job.opened_at_s if job.last_at_s is None else job.last_at_s
    return {
        "job": job.job,
        "worked": "" if begun is None else datetime.fromtimestamp(begun).astimezone().strftime("%Y-%m-%d %H:%M"),
        "open": job.outcome is None,
        "outcome": job.outcome or "",
        "appliance": job.appliance or "",
        "model": job.model or "",
        "complaint": job.complaint_says or job.complaint or "",
        "found": ", ".join(fault.says or fault.cause for fault in job.faults),
        "said": "" if job.found is None else job.found.text,
    }


def _error(why: str, status: int) -> Response:
    return JSONResponse({"error": why}, status)


def _message(why: str) -> Response:
    return HTMLResponse(PAGES.get_template("message.html").render(why=why), _FAILED)
