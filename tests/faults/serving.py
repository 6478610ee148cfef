"""The program's pages asked for while it serves them, as a browser would, and a job worked through their socket."""

import json
import os
import signal
import time
import urllib.error
import urllib.request
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from websockets.exceptions import WebSocketException
from websockets.sync.client import ClientConnection, connect
from websockets.typing import Origin

from tests.faults.running import Ran, Surroundings, end_all, ended

_LONGEST_S = 60.0


@dataclass(frozen=True, slots=True)
class Page:
    """A page at its address."""

    address: str

    @property
    def origin(self) -> str:
        """Return what a browser says of where the page is from."""
        return self.address.rpartition("/")[0].rpartition("/")[0]

    def got(self, path: str = "") -> tuple[int, str]:
        """Return the status and the text of an answer."""
        return _answer(urllib.request.Request(self.address + path))

    def begun(self, procedure: str) -> tuple[int, dict[str, Any]]:
        """Begin a job; return the status and what was answered."""
        body = json.dumps({"procedure": procedure}).encode()
        headers = {"Origin": self.origin, "Content-Type": "application/json"}
        status, text = _answer(urllib.request.Request(f"{self.address}jobs", body, headers))
        return status, json.loads(text) if text.startswith("{") else {"error": text}

    def live(self, job: str) -> ClientConnection:
        """Return the socket of a job."""
        address = f"{self.address.replace('http:', 'ws:')}job/{job}/live"
        return connect(address, origin=Origin(self.origin), open_timeout=_LONGEST_S, close_timeout=5)


def _answer(request: urllib.request.Request) -> tuple[int, str]:
    try:
        with urllib.request.urlopen(request, timeout=_LONGEST_S) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def told(socket: ClientConnection, kind: str, longest_s: float = _LONGEST_S) -> dict[str, Any]:
    """Return the next message of this kind."""
    end_s = time.monotonic() + longest_s
    while True:
        message = socket.recv(timeout=max(0.0, end_s - time.monotonic()))
        found = json.loads(message) if isinstance(message, str) else {}
        if found.get("kind") == kind:
            return dict(found)


def address_of(process: Any) -> str:
    """Return the address that the program prints, empty where it ends before."""
    while line := process.stdout.readline().decode(errors="replace"):
        if line.startswith("http://"):
            return str(line.strip())
    return ""


def served(surroundings: Surroundings, arguments: Sequence[str]) -> tuple[Ran, str]:
    """Run a command that serves a page, ask for the page, work a turn where it has jobs, and end it with Ctrl-C.

    Returns what became of the program, and in words what the page answered (empty where it never was served).
    """
    process = surroundings.begun(*arguments)
    address = address_of(process)
    if not address:
        return ended(process), ""
    page = Page(address)
    try:
        status, _ = page.got()
        found = f"page {status}"
        if arguments[0] == "serve":
            found += f", {_worked(page)}"
    except (OSError, WebSocketException, TimeoutError) as error:
        found = f"the page does not answer: {type(error).__name__}"
    finally:
        # To all that it began, as a terminal does it.
        os.killpg(process.pid, signal.SIGINT)
    ran = ended(process, longest_s=30.0)
    if ran.status is None:
        end_all(process)
    return ran, found


def _worked(page: Page) -> str:
    status, begun = page.begun("electric-range-no-heat")
    if status >= 400:
        return f"a job is refused: {begun['error']}"
    with page.live(begun["job"]) as socket:
        view = told(socket, "view")
        socket.send(json.dumps({"kind": "answer", "text": "status", "open": view["open"]}))
        with suppress(TimeoutError):
            told(socket, "view", 20.0)
            return "a turn worked"
    return "a turn without an answer"
