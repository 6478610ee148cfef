"""Whatever comes through the page's own door, huge, binary, out of order or no HTTP at all: the job goes on."""

import json
import os
import signal
import socket
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from websockets.exceptions import WebSocketException

from tests.desk.test_routes import JUNK
from tests.faults.bounds import bounded
from tests.faults.running import Surroundings, end_all, ended, wrong_with
from tests.faults.serving import Page, address_of, told
from voicetech.events import InputReceived
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_to_read


class Served:
    """The real program, serving, with a job begun on its page."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.process: subprocess.Popen[bytes] = Surroundings(home).begun("serve", "--no-browser")
        self.page = Page(address_of(self.process))
        self.port = int(self.page.address.split(":")[2].partition("/")[0])
        self.job = str(self.page.begun("electric-range-no-heat")[1]["job"])

    def takes_an_answer(self) -> None:
        """Open the job in a new tab and answer; the reply has to come and the answer to be on record."""
        before = self.said().count("status")
        with self.page.live(self.job) as live:
            view = told(live, "view")
            live.send(json.dumps({"kind": "answer", "text": "status", "open": view["open"]}))
            told(live, "lines", 20.0)
            told(live, "view", 20.0)
        assert self.said().count("status") == before + 1

    def said(self) -> list[str]:
        with open_to_read(journal_path(self.home)) as journal:
            return [event.text for event in journal.events(self.job) if isinstance(event, InputReceived)]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    served = Served(tmp_path_factory.mktemp("served"))
    try:
        yield served
        served.takes_an_answer()
    finally:
        os.killpg(served.process.pid, signal.SIGINT)
        ran = ended(served.process, longest_s=30.0)
        end_all(served.process)
    assert wrong_with(ran) == ()
    assert ran.err == "", "nothing is told beside the page"


KINDS = ("answer", "stop", "take-up", "listen", "press", "quiet", "aloud", "said", "view", "")
FIELDS = ("text", "open", "on", "nr", "rate_hz", "keep", "headset", "press", "failed", "kind")
HUGE: dict[str, str | bytes] = {
    "a long sound": b"\xff" * 30_000,
    "a longer sound": b"\0" * 60_000,
    "brackets": "[" * 15_000,
    "a long answer": '{"kind":"answer","text":"' + "x" * 60_000 + '"}',
    "too long a text": "x" * 70_000,
    "too long a sound": b"\0" * 70_000,
    "a number": "1" * 10_000,
}
"""Messages that are named where they are drawn, because nobody could read them."""
GOOD = st.sampled_from(
    [{"kind": "take-up"}, {"kind": "press"}, {"kind": "quiet"}, {"kind": "aloud", "on": False},
     {"kind": "said", "nr": 3},
     {"kind": "answer", "text": "\ud800 two forty", "open": ""}, {"kind": "answer", "text": "\0", "open": "e1"},
     {"kind": "answer", "text": "9" * 3_999, "open": "e2"}, {"kind": "answer", "text": " ", "open": "e2"},
     {"kind": "aloud", "on": True}]
).map(json.dumps)  # fmt: skip
MESSAGE = st.one_of(
    GOOD,
    st.text(max_size=200),
    JUNK.map(json.dumps),
    st.builds(
        lambda kind, more: json.dumps({**more, "kind": kind}),
        st.sampled_from(KINDS),
        st.dictionaries(st.sampled_from(FIELDS), JUNK, max_size=4),
    ),
    st.binary(max_size=300),
    st.sampled_from(sorted(HUGE)),
)


@bounded(30)
@given(st.lists(MESSAGE, max_size=8), st.booleans())
@example([json.dumps({"kind": "answer", "text": "\ud800 two forty", "open": ""})], True)
def test_whatever_a_tab_sends_the_next_one_can_work(served: Served, messages: list[str | bytes], read_on: bool) -> None:
    with suppress(WebSocketException, TimeoutError), served.page.live(served.job) as live:
        for message in messages:
            live.send(HUGE.get(message, message) if isinstance(message, str) else message)
            if read_on:
                live.recv(timeout=0.2)
    served.takes_an_answer()


def test_an_answer_with_half_a_letter_is_taken(served: Served) -> None:
    """A browser sends what was typed, also where half of a letter of two halves is left."""
    with served.page.live(served.job) as live:
        view = told(live, "view")
        live.send(json.dumps({"kind": "answer", "text": "note: half \ud83d a letter", "open": view["open"]}))
        told(live, "view", 20.0)
    assert served.said()[-1] == "note: half \ufffd a letter"


REQUEST = st.one_of(
    st.binary(max_size=400),
    st.builds(
        lambda method, path, headers, body: (
            f"{method} /{path} HTTP/1.1\r\n" + "".join(f"{name}: {value}\r\n" for name, value in headers) + "\r\n"
        ).encode("latin-1", "replace")
        + body,
        st.sampled_from(["GET", "POST", "HEAD", "PUT", "OPTIONS", "BREW", "G E T", ""]),
        st.one_of(st.sampled_from(["TOKEN/", "TOKEN/jobs", "TOKEN/job/%00/", "TOKEN/job/../..", "TOKEN/static/%ff",
                                   "TOKEN/?words=%ff%00", "TOKEN/job/one/report/", "TOKEN/job/one/live", "x" * 9_000]),
                  st.text(max_size=40)),
        st.lists(
            st.tuples(
                st.sampled_from(["Host", "Origin", "Content-Length", "Content-Type", "Transfer-Encoding", "Upgrade",
                                 "Connection", "Sec-WebSocket-Key", "Sec-WebSocket-Version", "Expect", "Range"]),
                st.one_of(st.sampled_from(["HOST", "http://HOST", "application/json", "chunked", "websocket", "Upgrade",
                                           "-1", "999999999999", "13", "100-continue", "bytes=0-", "x" * 5_000]),
                          st.text(max_size=20)),
            ),
            max_size=6,
        ),
        st.binary(max_size=200),
    ),
)  # fmt: skip


@bounded(40)
@given(st.lists(REQUEST, min_size=1, max_size=4))
def test_whatever_is_said_to_the_port_the_page_is_served(served: Served, requests: list[bytes]) -> None:
    token = served.page.address.rstrip("/").rpartition("/")[2].encode()
    for request in requests:
        told_there = request.replace(b"TOKEN", token).replace(b"HOST", f"127.0.0.1:{served.port}".encode())
        with suppress(OSError), socket.create_connection(("127.0.0.1", served.port), timeout=5) as connection:
            connection.settimeout(0.2)
            connection.sendall(told_there)
            answered = connection.recv(4096)
            assert b"Traceback" not in answered
    assert served.page.got()[0] == 200


def test_a_job_of_any_name_is_told_in_plain_words(served: Served) -> None:
    for name in ("nobody", "%00", "..%2f..", "%ff", "x" * 3_000, "one%0d%0aSet-Cookie:%20a"):
        for path in ("", "report/", "report.pdf", "review/"):
            status, text = served.page.got(f"job/{name}/{path}")
            assert status in (200, 404, 500), (name, path)
            assert "Traceback" not in text
            assert status != 500 or "There is no job" in text, text
