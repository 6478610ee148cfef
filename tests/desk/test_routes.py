"""The page's server: who is let in, what is served, and messages of every kind that are none."""

import json
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from urllib.parse import urljoin

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient, WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from tests.desk.tab import no_ear
from tests.dialogue.talker import shipped
from voicetech.desk.at_work import Place
from voicetech.desk.desks import Desks
from voicetech.desk.messages import BadMessageError, message_from
from voicetech.desk.routes import Listed, Office, page_routes
from voicetech.events import Channel, InputReceived
from voicetech.job import JobError, open_job
from voicetech.journal.store import open_journal
from voicetech.manual import titles
from voicetech.web.local import Address, local_app
from voicetech.web.manual import in_html
from voicetech.web.review import Reviewed

ADDRESS = Address(8000, "secret-token")
HOST = "127.0.0.1:8000"
ORIGIN = {"origin": f"http://{HOST}", "host": HOST}
LIVE = "/secret-token/job/one/live"


def client_of(home: Path) -> tuple[TestClient, Desks]:
    record = home / "jobs.db"

    def begin(_procedure: str) -> str:
        with open_journal(record) as journal:
            return open_job(shipped(), journal, "one", Channel.PAGE, lambda: 1_000_000.0)[0].id

    def report(job: str) -> str:
        if job != "one":
            raise JobError(f"There is no job {job} on record.")
        return "<html><style>p { color: black }</style><p>The report.</p></html>"

    office = Office(
        procedures=[("range", "Range <b>")],
        chosen="",
        listed=lambda _words: Listed((), more=False),
        begin=begin,
        reviewed=lambda job: Reviewed(job, record, lambda nonce: f"<p>{nonce}</p>"),
        report=report,
        report_pdf=lambda _job: b"%PDF-1.7",
        now_s=lambda: 1_000_000.0,
    )
    desks = Desks(Place(record, home / "sounds", lambda _journal, _opened: shipped()), no_ear)
    return TestClient(local_app(ADDRESS, page_routes(office, desks)), base_url=f"http://{HOST}"), desks


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    client, desks = client_of(tmp_path_factory.mktemp("home"))
    begun = client.post("/secret-token/jobs", json={"procedure": "range"}, headers=ORIGIN)
    assert begun.json() == {"job": "one"}
    yield client
    desks.end("over")


@pytest.fixture
def live(client: TestClient) -> Iterator[WebSocketTestSession]:
    with client.websocket_connect(LIVE, headers=ORIGIN) as socket:
        assert [socket.receive_json()["kind"] for _ in range(3)] == ["lines", "view", "listening"]
        yield socket


def view_after(socket: WebSocketTestSession) -> dict[str, object]:
    """Return the next view, whatever comes before it."""
    while True:
        told = socket.receive_json()
        if told["kind"] in ("view", "error", "ended"):
            return dict(told)


def test_pages_are_served_with_the_policy(client: TestClient) -> None:
    for path in ("", "job/one/", "static/page.css", "job/one/report/", "job/one/review/", "manual/"):
        answer = client.get(f"/secret-token/{path}")
        assert answer.status_code == 200, path
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'")
        assert "unsafe" not in policy
        assert "http:" not in policy
    assert client.get("/secret-token/job/one/report.pdf").headers["content-type"] == "application/pdf"


def test_a_report_brings_its_own_style_and_no_other_counts(client: TestClient) -> None:
    # echo -n 'p { color: black }' | openssl dgst -sha256 -binary | base64
    expected = "'sha256-AsdWfuVGhA5h5Q0fgnNYjwN4ATC7Zk/0cGUMSRx7AD4='"
    assert expected in client.get("/secret-token/job/one/report/").headers["content-security-policy"]
    assert "sha256" not in client.get("/secret-token/").headers["content-security-policy"]


def test_what_is_shown_is_escaped(client: TestClient) -> None:
    page = client.get("/secret-token/?words=%3Cscript%3E").text
    assert "<script>" not in page.replace('<script type="module"', "")
    assert "Range &lt;b&gt;" in page


def test_the_manual_is_read_in_the_browser_and_each_link_of_it_leads_somewhere(client: TestClient) -> None:
    assert 'href="manual/"' in client.get("/secret-token/").text
    found = {"/secret-token/manual/"}
    seen: set[str] = set()
    while found - seen:
        path = (found - seen).pop()
        seen.add(path)
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert "style=" not in answer.text, "the policy would not let it count"
        links = re.findall(r'href="([^"#:]+)"', answer.text)
        found |= {urljoin(path, link) for link in links if "manual" in urljoin(path, link)}
    assert {path.split("/")[-2] for path in seen} - {"manual"} == set(titles())


def test_a_page_of_the_manual_that_is_not_there_is_told(client: TestClient) -> None:
    answer = client.get("/secret-token/manual/nothing/")
    assert answer.status_code == 404
    assert "no such page" in answer.text


def test_no_html_of_a_page_is_let_through() -> None:
    assert "<b>" not in in_html("# A <b>title</b>")
    assert "<td>" in in_html("| a | b |\n|---|---|\n| c | d |")


@pytest.mark.parametrize(
    "path", ["static/../local.py", "static/%2e%2e/local.py", "static/nothing.js", "job/one/nothing"]
)
def test_nothing_else_is_served(path: str, client: TestClient) -> None:
    assert client.get(f"/secret-token/{path}").status_code == 404


def test_a_job_that_is_not_there_is_told_in_plain_words(client: TestClient) -> None:
    answer = client.get("/secret-token/job/other/report/")
    assert answer.status_code == 500
    assert "There is no job other on record." in answer.text
    with client.websocket_connect("/secret-token/job/other/live", headers=ORIGIN) as socket:
        told = socket.receive_json()
    assert told["kind"] == "ended"
    assert "no job other" in told["text"]


@pytest.mark.parametrize("body", ["", "[]", "{}", '{"procedure": "nothing"}', '{"procedure": 5}', "[" * 5000])
def test_a_job_is_not_begun_with_what_is_no_procedure(body: str, client: TestClient) -> None:
    headers = {**ORIGIN, "content-type": "application/json"}
    answer = client.post("/secret-token/jobs", content=body, headers=headers)
    assert answer.status_code == 422
    assert answer.json()["error"]


@pytest.mark.parametrize(
    ("path", "headers"),
    [
        ("/job/one/live", ORIGIN),
        ("/wrong-token/job/one/live", ORIGIN),
        (LIVE, {"host": HOST}),
        (LIVE, {"origin": "null", "host": HOST}),
        (LIVE, {"origin": "http://evil.example", "host": HOST}),
        (LIVE, {"origin": f"https://{HOST}", "host": HOST}),
        (LIVE, {"origin": "http://localhost:8000", "host": HOST}),
        (LIVE, {**ORIGIN, "host": "evil.example"}),
        (LIVE, {"origin": "http://evil.example:8000", "host": "evil.example:8000"}),
    ],
)
def test_a_socket_is_for_the_page_itself_only(path: str, headers: dict[str, str], client: TestClient) -> None:
    with pytest.raises(WebSocketDisconnect), client.websocket_connect(path, headers=headers):
        pass


def test_an_answer_is_taken_and_shown(live: WebSocketTestSession, client: TestClient) -> None:
    live.send_json({"kind": "answer", "text": "status", "open": "e3"})
    assert view_after(live)["kind"] == "view"


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=30),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=8,
)
KINDS = st.sampled_from(["answer", "stop!", "take-up", "listen", "press", "quiet", "aloud", "said", "", "view"])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    sent=st.lists(
        st.one_of(
            st.text(max_size=200),
            JUNK.map(json.dumps),
            st.builds(lambda kind, more: json.dumps({**more, "kind": kind}), KINDS, st.dictionaries(
                st.sampled_from(["text", "open", "on", "nr", "rate_hz", "keep", "failed", "press"]), JUNK, max_size=4
            )),
            st.binary(max_size=2000),
        ),
        max_size=12,
    )
)  # fmt: skip
def test_whatever_a_tab_sends_the_job_goes_on(sent: list[str | bytes], client: TestClient) -> None:
    with client.websocket_connect(LIVE, headers=ORIGIN) as socket:
        for message in sent:
            with suppress(WebSocketDisconnect):
                socket.send_bytes(message) if isinstance(message, bytes) else socket.send_text(message)
    with client.websocket_connect(LIVE, headers=ORIGIN) as socket:
        assert [socket.receive_json()["kind"] for _ in range(3)] == ["lines", "view", "listening"]


def test_a_tab_that_sends_no_messages_at_all_is_cut_off_in_the_end(client: TestClient) -> None:
    with client.websocket_connect(LIVE, headers=ORIGIN) as socket:
        for _ in range(30):
            socket.send_text("nothing")
        told = socket.receive()
        while told["type"] != "websocket.close":
            told = socket.receive()
    assert (told["code"], told["reason"]) == (1008, "too many messages were none")


@given(st.one_of(st.text(), JUNK.map(json.dumps)))
def test_what_is_no_message_is_told_in_words(text: str) -> None:
    with pytest.raises(BadMessageError) as error:
        message_from(text)
    assert "\n" not in str(error.value)
    assert "Reload" in str(error.value)


@pytest.mark.parametrize(
    "text",
    [
        '{"kind":"answer","text":"","open":""}',
        '{"kind":"answer","text":"no","open":"","also":1}',
        '{"kind":"answer","text":5}',
        '{"kind":"listen","rate_hz":100}',
        '{"kind":"listen","rate_hz":"48000"}',
        '{"kind":"said","nr":-1}',
        '{"kind":"answer","text":"' + "x" * 5_000 + '"}',
        '{"kind":"answer","text":"' + "x" * 20_000 + '"}',
    ],
)
def test_a_message_that_does_not_fit_is_none(text: str) -> None:
    with pytest.raises(BadMessageError):
        message_from(text)


def test_nothing_is_on_record_of_messages_that_were_none(tmp_path: Path) -> None:
    client, desks = client_of(tmp_path)
    client.post("/secret-token/jobs", json={"procedure": "range"}, headers=ORIGIN)
    with client.websocket_connect(LIVE, headers=ORIGIN) as socket:
        assert [socket.receive_json()["kind"] for _ in range(3)] == ["lines", "view", "listening"]
        for text in ("", "{}", '{"kind":"answer"}', '{"kind":"Stop"}'):
            socket.send_text(text)
            assert socket.receive_json()["kind"] == "error"
    desks.end("over")
    with open_journal(tmp_path / "jobs.db") as journal:
        assert not [event for event in journal.events("one") if isinstance(event, InputReceived)]
