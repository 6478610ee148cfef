"""A local page is for this computer and for who knows its address; every answer says what may be done with it."""

import socket
from collections.abc import Iterator

import pytest
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route
from starlette.testclient import TestClient

from voicetech.web.local import (
    BODY_BYTES,
    Address,
    LocalPageError,
    LocalServer,
    Refusal,
    bound_socket,
    local_app,
    new_address,
    nonce_of,
    refusal,
    security_headers,
)

ADDRESS = Address(8000, "secret-token")
ORIGIN = "http://127.0.0.1:8000"
POST = {"host": "127.0.0.1:8000", "origin": ORIGIN, "content-type": "application/json", "content-length": "2"}


def status(method: str, path: str, **headers: str | None) -> int | None:
    told = {name.replace("_", "-"): value for name, value in headers.items()}
    given = {**POST, **told} if method == "POST" else {"host": POST["host"], **told}
    refused = refusal(ADDRESS, method, path, {name: value for name, value in given.items() if value is not None})
    return None if refused is None else refused.status


def test_what_the_page_itself_asks_is_answered() -> None:
    assert status("GET", "/secret-token/") is None
    assert status("HEAD", "/secret-token/") is None
    assert status("GET", "/secret-token/marks") is None
    assert status("POST", "/secret-token/marks") is None
    assert status("POST", "/secret-token/marks", content_type="application/json; charset=utf-8") is None
    assert status("POST", "/secret-token/x", host="localhost:8000", origin="http://localhost:8000") is None
    assert refusal(Address(80, "t"), "GET", "/t/", {"host": "127.0.0.1"}) is None


@pytest.mark.parametrize(
    "path", ["/", "", "/secret-toke/", "/secret-tokens/", "secret-token/", "//secret-token/", "/x/secret-token/", "/é/"]
)
def test_without_the_token_there_is_nothing(path: str) -> None:
    assert refusal(ADDRESS, "GET", path, {"host": POST["host"]}) == Refusal(404)
    assert refusal(ADDRESS, "POST", path, POST) == Refusal(404)


@pytest.mark.parametrize(
    "host",
    [None, "", "127.0.0.1", "127.0.0.1:8001", "evil.example:8000", "evil.example", "127.0.0.1:8000.evil.example"],
)
def test_another_host_name_is_refused_before_the_token_is_looked_at(host: str | None) -> None:
    assert status("GET", "/secret-token/", host=host) == 421
    assert status("GET", "/", host=host) == 421
    assert status("POST", "/secret-token/", host=host) == 421


@pytest.mark.parametrize(
    "origin",
    [None, "", "null", "http://evil.example", "http://localhost:8000", "https://127.0.0.1:8000", "http://127.0.0.1"],
)
def test_another_origin_changes_nothing(origin: str | None) -> None:
    assert status("POST", "/secret-token/marks", origin=origin) == 403


@pytest.mark.parametrize(
    "kind", [None, "", "text/plain", "application/x-www-form-urlencoded", "application/jsonp", "multipart/form-data"]
)
def test_what_a_form_can_send_changes_nothing(kind: str | None) -> None:
    assert status("POST", "/secret-token/marks", content_type=kind) == 415


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(method: str) -> None:
    assert status(method, "/secret-token/marks") == 405


@pytest.mark.parametrize(("length", "answer"), [(str(BODY_BYTES), None), (str(BODY_BYTES + 1), 413), ("9" * 5000, 413)])
def test_a_body_has_a_longest_length(length: str, answer: int | None) -> None:
    assert status("POST", "/secret-token/marks", content_length=length) == answer


def test_every_token_is_another_one() -> None:
    tokens = {new_address(8000).token for _ in range(50)}
    assert len(tokens) == 50
    assert min(map(len, tokens)) >= 32


async def echo(request: Request) -> Response:
    return JSONResponse({"nonce": nonce_of(request), "body": (await request.body()).decode()})


@pytest.fixture
def client() -> TestClient:
    routes = [Route("/", echo, methods=["GET", "POST"]), Route("/plain", lambda _: PlainTextResponse("x"))]
    return TestClient(local_app(ADDRESS, routes), base_url=ORIGIN)


def test_the_policy_names_the_nonce_of_this_answer_only(client: TestClient) -> None:
    first, second = client.get("/secret-token/"), client.get("/secret-token/")
    for answer in (first, second):
        assert f"script-src 'self' 'nonce-{answer.json()['nonce']}'" in answer.headers["content-security-policy"]
    assert first.json()["nonce"] != second.json()["nonce"]


@pytest.mark.parametrize(
    ("path", "answer"), [("/secret-token/", 200), ("/secret-token/nothing", 404), ("/", 404), ("/secret-token", 200)]
)
def test_every_answer_carries_the_security_headers(client: TestClient, path: str, answer: int) -> None:
    got = client.get(path)
    assert got.status_code == answer
    assert set(security_headers("x")) <= {name.title() for name in got.headers} | set(got.headers)
    for name, value in security_headers("x").items():
        assert got.headers[name] == value or name == "Content-Security-Policy"
    assert "'unsafe-" not in got.headers["content-security-policy"]


def test_a_wrong_token_is_answered_with_nothing(client: TestClient) -> None:
    got = client.get("/other-token/")
    assert (got.status_code, got.content) == (404, b"")


def test_a_refusal_says_why(client: TestClient) -> None:
    got = client.post("/secret-token/", json={}, headers={"origin": "http://evil.example"})
    assert got.status_code == 403
    assert "Only the page itself" in got.json()["error"]


def test_what_is_sent_arrives_and_no_more_than_that(client: TestClient) -> None:
    headers = {"origin": ORIGIN, "content-type": "application/json"}
    assert client.post("/secret-token/", content=b"abc", headers=headers).json()["body"] == "abc"

    def parts() -> Iterator[bytes]:
        # Sent in parts, no length is announced.
        for _ in range(BODY_BYTES // 1024 + 1):
            yield b"x" * 1024

    assert client.post("/secret-token/", content=parts(), headers=headers).status_code == 413


def test_a_socket_is_for_this_computer_only() -> None:
    with bound_socket(None) as sock:
        host, port = sock.getsockname()
        assert host == "127.0.0.1"
        assert port > 0


def test_a_port_that_is_taken_is_told() -> None:
    with bound_socket(None) as sock, pytest.raises(LocalPageError, match="leave --port out"):
        bound_socket(sock.getsockname()[1])


def test_a_port_is_free_again_once_its_server_is_gone() -> None:
    with LocalServer(None) as server:
        port = server.address.port
        with socket.create_connection(("127.0.0.1", port), timeout=5):
            pass
    bound_socket(port).close()


def test_a_mistake_of_our_own_is_told_in_plain_words_and_with_the_headers() -> None:
    def fails(_request: Request) -> Response:
        raise KeyError("Mrs Grey, 12 Elm Road")

    client = TestClient(local_app(ADDRESS, [Route("/", fails)]), base_url=ORIGIN)
    answer = client.get(f"/{ADDRESS.token}/")
    assert answer.status_code == 500
    assert "a mistake of its own (KeyError" in answer.json()["error"]
    assert "Grey" not in answer.text
    assert "content-security-policy" in answer.headers
