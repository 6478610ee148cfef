"""The review of a job as requests: the page, the marks, one more mark, what is refused, the end."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.reports.examples import whole_job
from voicetech.events import AlternativeHeard, Channel, InputReceived
from voicetech.journal.errors import JournalError
from voicetech.journal.store import open_journal
from voicetech.marks import Commented, Misheard, SignedOff, TakenBack
from voicetech.web.local import Address, local_app
from voicetech.web.review import Reviewed, review_routes

ADDRESS = Address(8000, "secret-token")
ORIGIN = "http://127.0.0.1:8000"
NOW_S = 1_795_686_060.0
HEARD = len(whole_job()) + 1
"""The number of the event where words came in."""


@dataclass
class Review:
    """A job under review, and the client of its page."""

    record: Path
    client: TestClient
    stopped: list[bool]

    def mark(self, **told: object) -> tuple[int, Any]:
        raw = {"reviewer": "Ann", **told}
        got = self.client.post("/secret-token/marks", json=raw, headers={"origin": ORIGIN})
        return got.status_code, got.json()

    def marks(self) -> list[Any]:
        return list(self.client.get("/secret-token/marks").json()["marks"])


@pytest.fixture
def review(tmp_path: Path) -> Review:
    record = tmp_path / "jobs.db"
    heard = InputReceived(
        Channel.VOICE, "ear", (AlternativeHeard("two fifteen", 1.0),), 1.0, "accepted", "two fifteen", None, NOW_S
    )
    with open_journal(record) as journal:
        journal.append("one", 0, [*whole_job(), heard])
    stopped: list[bool] = []
    shown = iter(range(1000))
    reviewed = Reviewed("one", record, lambda nonce: f"<p>{next(shown)} {nonce}</p>")
    routes = review_routes(reviewed, lambda: NOW_S, lambda: stopped.append(True))
    return Review(record, TestClient(local_app(ADDRESS, routes), base_url=ORIGIN), stopped)


def test_the_page_is_made_anew_each_time(review: Review) -> None:
    first, second = (review.client.get("/secret-token/") for _ in range(2))
    assert first.headers["content-type"] == "text/html; charset=utf-8"
    assert first.text.startswith("<p>0 ")
    assert second.text.startswith("<p>1 ")
    nonce = first.text.split()[1].removesuffix("</p>")
    assert f"'nonce-{nonce}'" in first.headers["content-security-policy"]


def test_marks_go_to_the_record_and_come_back(review: Review) -> None:
    assert review.marks() == []
    assert review.mark(kind="misheard", seq=HEARD, said=" two  forty ")[0] == 200
    assert review.mark(kind="commented", seq=2, text="good")[0] == 200
    assert review.mark(kind="commented", seq=None, text="well worked", reviewer="Ben")[0] == 200
    assert review.mark(kind="signed-off", events=HEARD)[0] == 200
    status, told = review.mark(kind="taken-back", mark=2)
    assert status == 200
    assert told["marks"] == review.marks()
    assert [(each["nr"], each["kind"], each["standing"]) for each in told["marks"]] == [
        (1, "misheard", True),
        (2, "commented", False),
        (3, "commented", True),
        (4, "signed-off", True),
        (5, "taken-back", False),
    ]
    assert told["marks"][0] == {
        "nr": 1,
        "kind": "misheard",
        "seq": HEARD,
        "said": "two forty",
        "reviewer": "Ann",
        "at": "2026-11-26T09:41:00+00:00",
        "standing": True,
    }
    with open_journal(review.record) as journal:
        assert journal.marks("one") == (
            Misheard(HEARD, "two forty", "Ann", NOW_S),
            Commented(2, "good", "Ann", NOW_S),
            Commented(None, "well worked", "Ben", NOW_S),
            SignedOff(HEARD, "Ann", NOW_S),
            TakenBack(2, "Ann", NOW_S),
        )


@pytest.mark.parametrize(
    "told",
    [
        {"kind": "misheard", "seq": 1, "said": "x"},
        {"kind": "misheard", "seq": 9999, "said": "x"},
        {"kind": "misheard", "seq": HEARD},
        {"kind": "commented", "seq": 0, "text": "x"},
        {"kind": "commented", "seq": 2, "text": "x", "reviewer": ""},
        {"kind": "commented", "seq": 2, "text": "x", "reviewer": "x" * 81},
        {"kind": "commented", "seq": 2, "text": "x" * 2001},
        {"kind": "signed-off", "events": HEARD - 1},
        {"kind": "taken-back", "mark": 1},
        {"kind": "praised"},
        {},
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_written(review: Review, told: dict[str, object]) -> None:
    status, answer = review.mark(**told)
    assert status == 422
    assert answer["error"].endswith((".", "?"))
    assert review.marks() == []


@pytest.mark.parametrize("body", [b"", b"{", b"\xff\xfe", b"[" * 60_000, b'"x"', b"null", b"[1]"])
def test_what_is_no_mark_at_all_is_told(review: Review, body: bytes) -> None:
    headers = {"origin": ORIGIN, "content-type": "application/json"}
    got = review.client.post("/secret-token/marks", content=body, headers=headers)
    assert got.status_code == 422
    assert "again" in got.json()["error"]


def test_what_is_pressed_twice_is_marked_once(review: Review) -> None:
    comment = {"kind": "commented", "seq": None, "text": "well measured", "reviewer": "Ann"}
    for _ in range(2):
        review.client.post("/secret-token/marks", json=comment, headers={"origin": ORIGIN})
    assert [mark["text"] for mark in review.client.get("/secret-token/marks").json()["marks"]] == ["well measured"]


def test_another_page_can_neither_read_nor_write(review: Review) -> None:
    raw = {"kind": "commented", "seq": 2, "text": "x", "reviewer": "Eve"}
    evil = {"origin": "http://evil.example"}
    assert review.client.post("/secret-token/marks", json=raw, headers=evil).status_code == 403
    assert review.client.post("/secret-token/marks", json=raw).status_code == 403
    assert review.client.post("/guess/marks", json=raw, headers={"origin": ORIGIN}).status_code == 404
    assert review.client.get("/secret-token/marks", headers={"host": "evil.example:8000"}).status_code == 421
    assert review.client.post("/secret-token/stop", json={}, headers=evil).status_code == 403
    assert review.client.get("/secret-token/stop").status_code == 405
    assert review.marks() == []
    assert review.stopped == []


def test_a_record_that_fails_is_told(review: Review) -> None:
    connection = sqlite3.connect(review.record)
    connection.execute("INSERT INTO mark (nr, job, kind, body) VALUES (1, 'one', 'praised/1', '{}')")
    connection.commit()
    connection.close()
    got = review.client.get("/secret-token/marks")
    assert got.status_code == 500
    assert "Install the newest voicetech" in got.json()["error"]
    assert review.mark(kind="commented", seq=2, text="x")[0] == 500


def test_a_page_that_cannot_be_made_says_why(review: Review) -> None:
    def broken(_: str) -> str:
        raise JournalError("The disk <failed>. Check it.")

    routes = review_routes(Reviewed("one", review.record, broken), lambda: NOW_S, lambda: None)
    got = TestClient(local_app(ADDRESS, routes), base_url=ORIGIN).get("/secret-token/")
    assert got.status_code == 500
    assert "The disk &lt;failed&gt;. Check it." in got.text


def test_the_page_ends_the_server(review: Review) -> None:
    got = review.client.post("/secret-token/stop", json={}, headers={"origin": ORIGIN})
    assert got.status_code == 200
    assert review.stopped == [True]
