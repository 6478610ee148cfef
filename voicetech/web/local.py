"""What every local page shares: it is served to this computer only, and only to who was given its address.

Another page open in the same browser must not be able to read or change anything: it does not know the token in the
address, a name that it points at this computer is no `Host` of ours, and its `Origin` is another one.
"""

import os
import re
import secrets
import socket
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from types import FrameType, TracebackType
from typing import TYPE_CHECKING, Final, Self

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Router
from starlette.types import ASGIApp, Message, Receive, Scope, Send

if TYPE_CHECKING:
    from uvicorn import Server

from voicetech.last_words import last_words

LOOPBACK: Final = "127.0.0.1"
BODY_BYTES: Final = 64 * 1024
"""The most that a request may bring."""
LONGEST_FRAME: Final = 64 * 1024
"""The most that one message of a WebSocket may bring."""
TOKEN_BYTES: Final = 24
NONCE_BYTES: Final = 18
READING: Final = frozenset({"GET", "HEAD"})
_HTTP_PORT: Final = 80
_FAILED: Final = 500
_REFUSED_SOCKET: Final = 1008
"""Source: RFC 6455, section 7.4.1 (policy violation)."""
_STYLES: Final = re.compile(r"<style[^>]*>(.*?)</style>", re.DOTALL)
_QUEUE: Final = 16
_LAST_ANSWERS_S: Final = 2
"""How long a stop waits for answers on their way (judgement)."""


class LocalPageError(Exception):
    """A page cannot be served; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where a page is served: the port, and the token that every path begins with."""

    port: int
    token: str

    @property
    def url(self) -> str:
        """Return the address to open in a browser."""
        return f"http://{LOOPBACK}:{self.port}/{self.token}/"


@dataclass(frozen=True, slots=True)
class Refusal:
    """A request is not answered: the status, and the reason in plain words (none for a wrong token)."""

    status: int
    why: str = ""


def new_address(port: int) -> Address:
    """Return the address of a page on this port with a token of its own, which nobody can guess."""
    return Address(port, secrets.token_urlsafe(TOKEN_BYTES))


def refusal(address: Address, method: str, path: str, headers: Mapping[str, str]) -> Refusal | None:
    """Return why a request is not answered, None where it may be; `headers` have names in lower case.

    How long its body is shows while it is read.
    """
    host = headers.get("host", "")
    if host not in _hosts(address.port):
        return Refusal(421, f"This page is only at {address.url.removesuffix(address.token + '/')} on this computer.")
    if not _begins_with(path, address.token):
        return Refusal(404)
    if method in READING:
        return None
    if method != "POST":
        return Refusal(405, "Only GET and POST are answered here.")
    if headers.get("origin", "") != f"http://{host}":
        return Refusal(403, "Only the page itself may change anything. Open the address that was printed.")
    if headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        return Refusal(415, "What is sent has to be JSON (Content-Type: application/json).")
    if len(headers.get("content-length", "")) > len(str(BODY_BYTES)) or _length(headers) > BODY_BYTES:
        return _too_long()
    return None


def socket_refusal(address: Address, path: str, headers: Mapping[str, str]) -> Refusal | None:
    """Return why a WebSocket is not opened, None where it may be; a browser tells its Origin here always."""
    host = headers.get("host", "")
    if host not in _hosts(address.port):
        return Refusal(421)
    if not _begins_with(path, address.token):
        return Refusal(404)
    return None if headers.get("origin", "") == f"http://{host}" else Refusal(403)


def security_headers(nonce: str, styles: Sequence[str] = (), host: str = "") -> dict[str, str]:
    """Return the headers of every answer: nothing is run, loaded or kept but what the page itself brings.

    `nonce` is what its own scripts and styles are told by, `styles` are digests of further ones, and `host` is where
    its WebSocket may lead besides. Files of scripts and styles may be loaded from this server, which serves no others
    than its own. Sources: W3C Content Security Policy Level 3, the Fetch standard's Cross-Origin-Resource-Policy, the
    HTML standard's Cross-Origin-Opener-Policy, W3C Permissions Policy (all from memory).
    """
    own = f"'self' 'nonce-{nonce}'"
    # Not every browser takes 'self' for a WebSocket too.
    socket_at = f" ws://{host}" if host else ""
    return {
        "Content-Security-Policy": (
            f"default-src 'none'; script-src {own}; style-src {' '.join((own, *styles))}; img-src 'self' data:; "
            f"media-src 'self' data: blob:; connect-src 'self'{socket_at}; base-uri 'none'; form-action 'self'; "
            "frame-ancestors 'none'"
        ),
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "no-store",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "microphone=(self), camera=(), geolocation=()",
    }


def nonce_of(request: Request) -> str:
    """Return what this answer's own scripts and styles have to carry."""
    return str(request.state.nonce)


def allow_styles(request: Request, html: str) -> None:
    """Let this answer's own style sheets count, by their digests: for a page that is made to be kept as a file."""
    for style in _STYLES.findall(html):
        digest = b64encode(sha256(style.encode()).digest()).decode()
        request.state.styles.append(f"'sha256-{digest}'")


def local_app(address: Address, routes: Sequence[BaseRoute]) -> ASGIApp:
    """Return the application that answers these routes under the address's token and refuses everything else."""
    return _Guarded(address, Router(routes))


class _Guarded:
    """Stands before the routes; each answer, refusals too, carries the security headers."""

    def __init__(self, address: Address, routes: ASGIApp) -> None:
        self._address = address
        self._routes = routes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await self._socket(scope, receive, send)
            return
        if scope["type"] != "http":
            # Nothing is set up or torn down.
            return
        nonce = secrets.token_urlsafe(NONCE_BYTES)
        styles: list[str] = []
        host = Headers(scope=scope).get("host", "")
        sending = _secured(
            send, lambda: security_headers(nonce, styles, host if host in _hosts(self._address.port) else "")
        )
        inside = self._inside(scope, {"nonce": nonce, "styles": styles})
        try:
            receiving = await self._admitted(scope, receive)
            await self._routes(inside, receiving, sending)
        except _RefusedError as refused:
            await _answer(refused.refusal)(scope, receive, sending)
        except HTTPException as error:
            await _answer(Refusal(error.status_code, error.detail))(scope, receive, sending)
        except Exception as error:  # noqa: BLE001 - on this side of the server nobody would see it
            await _answer(Refusal(_FAILED, last_words(error)))(scope, receive, sending)

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = {name.lower(): value for name, value in Headers(scope=scope).items()}
        if socket_refusal(self._address, scope["path"], headers) is not None:
            await receive()
            await send({"type": "websocket.close", "code": _REFUSED_SOCKET})
            return
        await self._routes(self._inside(scope, {}), receive, send)

    def _inside(self, scope: Scope, state: Mapping[str, object]) -> Scope:
        return {**scope, "root_path": f"/{self._address.token}", "state": {**scope.get("state", {}), **state}}

    async def _admitted(self, scope: Scope, receive: Receive) -> Receive:
        headers = {name.lower(): value for name, value in Headers(scope=scope).items()}
        refused = refusal(self._address, scope["method"], scope["path"], headers)
        if refused is not None:
            raise _RefusedError(refused)
        return receive if scope["method"] in READING else await _read_whole(receive)


class _RefusedError(Exception):
    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.why)
        self.refusal = refusal


def _answer(refused: Refusal) -> Response:
    return JSONResponse({"error": refused.why}, refused.status) if refused.why else Response(status_code=refused.status)


def _secured(send: Send, headers: Callable[[], Mapping[str, str]]) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            MutableHeaders(scope=message).update(headers())
        await send(message)

    return sending


async def _read_whole(receive: Receive) -> Receive:
    """Return the request's body as one message; _RefusedError where it is too long, whatever length was announced."""
    body = b""
    more = True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            break
        body += message.get("body", b"")
        more = message.get("more_body", False)
        if len(body) > BODY_BYTES:
            raise _RefusedError(_too_long())
    whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receiving() -> Message:
        return whole.pop() if whole else await receive()

    return receiving


def _too_long() -> Refusal:
    return Refusal(413, f"That is too long: {BODY_BYTES // 1024} kB is the most. Shorten it.")


def _hosts(port: int) -> tuple[str, ...]:
    names = (LOOPBACK, "localhost")
    return tuple(f"{name}:{port}" for name in names) + (names if port == _HTTP_PORT else ())


def _begins_with(path: str, token: str) -> bool:
    given = path.removeprefix("/").partition("/")[0]
    return path.startswith("/") and secrets.compare_digest(given.encode(errors="surrogatepass"), token.encode())


def _length(headers: Mapping[str, str]) -> int:
    told = headers.get("content-length", "0")
    return int(told) if told.isascii() and told.isdigit() else 0


def bound_socket(port: int | None) -> socket.socket:
    """Return a socket that this computer alone can reach, listening on this port, or on any free one.

    A browser that is opened at once waits there. Raises LocalPageError where the port cannot be had.
    """
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # The port of a page that was just closed can be had again at once; elsewhere this would share it.
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((LOOPBACK, port or 0))
        sock.listen(_QUEUE)
    except (OSError, OverflowError) as error:
        sock.close()
        raise LocalPageError(
            f"Port {port} cannot be had ({getattr(error, 'strerror', None) or error}): another program may have it. "
            "Close that one, name another port, or leave --port out to take a free one."
        ) from None
    return sock


def _refuse_without_server() -> None:
    """Raise LocalPageError where no page could be served: told before anybody is given an address."""
    try:
        import uvicorn  # noqa: F401
        import websockets  # noqa: F401
    except ImportError as error:
        raise LocalPageError(
            f"No page can be shown, because a package cannot be loaded ({error}). Install voicetech again; until then "
            "work by keyboard: voicetech chat"
        ) from None


class LocalServer:
    """Serves one application to this computer until it is stopped; `address` is where."""

    def __init__(self, port: int | None, on_stop: Callable[[], None] = lambda: None) -> None:
        """Take the port; `on_stop` is called when the end is asked for, before anybody is cut off.

        Raises LocalPageError where the port cannot be had, or what serves pages cannot be loaded.
        """
        _refuse_without_server()
        self._socket = bound_socket(port)
        self._on_stop = on_stop
        self._server: Server | None = None
        self.address = new_address(self._socket.getsockname()[1])

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._socket.close()

    def serve(self, app: ASGIApp) -> None:
        """Serve the application until `stop` or Ctrl-C."""
        from uvicorn import Config, Server

        told = self._on_stop

        class Telling(Server):
            def handle_exit(self, sig: int, frame: FrameType | None) -> None:
                told()
                super().handle_exit(sig, frame)

        config = Config(
            app,
            log_level="critical",
            access_log=False,
            lifespan="off",
            ws="websockets-sansio",
            ws_max_size=LONGEST_FRAME,
            server_header=False,
            date_header=False,
            timeout_graceful_shutdown=_LAST_ANSWERS_S,
        )
        self._server = Telling(config)
        with suppress(KeyboardInterrupt):
            self._server.run(sockets=[self._socket])

    def stop(self) -> None:
        """End serving, once what is being answered is answered."""
        if self._server is not None:
            self._on_stop()
            self._server.should_exit = True
