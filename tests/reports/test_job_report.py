"""The page: everything on it, nothing that runs on it, whole on disk."""

import re
from collections.abc import Iterator
from datetime import UTC, timedelta, timezone
from decimal import Decimal
from enum import Enum
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.journal.examples import opened
from tests.reports.examples import PROCEDURE, START_S, answer, opening, reading, whole_job
from voicetech.events import KINDS, Event, HandedOver, NoteTaken, kind_of, payload
from voicetech.journal.store import open_journal
from voicetech.reports.facts.job import STATEMENT, facts_of
from voicetech.reports.job_report.page import render_job_report
from voicetech.reports.wording import inside_quotes
from voicetech.reports.writing import ReportError, report_path, write_job_report, write_report

_VOID = {"meta", "br", "link", "img", "input", "hr"}


class _Page(HTMLParser):
    """Reads a page: its text, its tags, and whether every tag was closed in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.text = ""
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.struck = ""
        self.tagged: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text += data
        if "s" in self.open:
            self.struck += data
        if self.open and self.open[-1] == "span" and self.tags[-1] == ("span", {"class": "tag"}):
            self.tagged.append(data)


def _page(*events: Event) -> _Page:
    return _Page(render_job_report(facts_of(PROCEDURE, (*opening(), *events)), UTC))


@pytest.fixture(scope="module")
def whole() -> _Page:
    return _Page(render_job_report(facts_of(PROCEDURE, whole_job()), UTC))


def _flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    "told",
    [
        STATEMENT,
        "Repaired",
        "complaint: oven bakes cold",
        "The bake element is open; the plate says 240 volts",
        "Elements wear through at a hot spot",
        "Ruled out A supply joint gives way under load (Supply, L1-L2: 238.6 V).",
        "OL (over range) dead, one wire off, attempt 2 19.9 to 24.4 Ω",
        "Thermal fuse (Measure 1-2): not fitted",
        "No test was made of: Oven sensor.",
        "Plug out, in sight and reach",
        "09:43 121.4 V 0.0 V 0.0 V 0.0 V 0.0 V 0.0 V 0.0 V 121.2 V 09:46 09:49 danger",
        "Fire , 09:49: smoke . The job was stopped at once. The stop was ended at 09:52.",
        "What happened: a rag on the other burner unverified",
        "Work done Fit the new bake element and tighten both terminals 10:12",
        "No foil on the oven floor 10:51",
        "anti tip bracket was missing, fitted one unverified",
        "This is a safety step. It cannot be skipped. (2 times)",
        "By voice and chat.",
        "revision 3, digest " + "d" * 64,
        "Report by voicetech",
        "outrank everything on this page",
    ],
)
def test_the_page_tells(whole: _Page, told: str) -> None:
    flat = re.sub(r"\s+([,.])", r"\1", _flat(whole.text))
    assert re.sub(r"\s+([,.])", r"\1", told) in flat


def test_the_page_is_whole_and_needs_nothing_else(whole: _Page) -> None:
    assert whole.open == []
    names = {tag for tag, _ in whole.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "form"}
    for _, attributes in whole.tags:
        assert not any(name in ("href", "src") or name.startswith("on") for name in attributes)
    assert dict(whole.tags[0][1]) == {"lang": "en"}


def test_a_withdrawn_value_is_shown_struck_through_and_says_withdrawn(whole: _Page) -> None:
    assert "23.4" in whole.struck
    assert "withdrawn: correction" in _flat(whole.text)
    assert "238.6" not in whole.struck


def test_bands_have_text(whole: _Page) -> None:
    pictures = [attributes for tag, attributes in whole.tags if tag == "svg"]
    assert len(pictures) == 4, "what was withdrawn is in fine print"
    assert all(attributes["role"] == "img" for attributes in pictures)
    assert _flat(whole.text).count("OL (over range), over range, limits 19.9 to 24.4 Ω") == 2


def test_a_failed_verdict_is_framed_and_a_passed_one_is_not(whole: _Page) -> None:
    assert whole.tagged.count("over range") == 2
    assert "within the limits" not in whole.tagged


@pytest.mark.parametrize(
    "told",
    [
        "Job still open",
        "Nothing measured yet.",
        "No fault is proved yet.",
        "Nothing looked at yet.",
        "The appliance was not made safe on record.",
        "No repair on record.",
        "No notes.",
        "complaint not recorded",
    ],
)
def test_an_open_job_says_what_is_not_there(told: str) -> None:
    assert told in _flat(_page().text)


def test_an_empty_record_is_still_a_page() -> None:
    page = _Page(render_job_report(facts_of(None, ()), UTC))
    assert page.open == []
    assert "Job without a name" in _flat(page.text)


def test_a_hand_over_stands_out() -> None:
    text = _flat(_page(HandedOver(1, "neutral", START_S)).text)
    assert "The supply's neutral is open. Hand over to: a licensed electrician." in text


_MARKUP = '<script>alert(1)</script><img src=x onerror="alert(2)">{{ 7*7 }}\'"&'


def _with_markup_everywhere(event: Event) -> Iterator[Event]:
    """Yield copies of an event, each with markup in one of its free texts."""
    for name, value in payload(event).items():
        if isinstance(value, str) and not isinstance(value, Enum):
            yield KINDS[kind_of(event)](**{**payload(event), name: _MARKUP})


def test_no_text_of_any_event_becomes_markup() -> None:
    events = whole_job()
    tried = 0
    for index, event in enumerate(events):
        for spoilt in _with_markup_everywhere(event):
            job = (*events[:index], spoilt, *events[index + 1 :])
            page = _Page(render_job_report(facts_of(PROCEDURE, job), UTC))
            assert not {"script", "img"} & {tag for tag, _ in page.tags}, event
            assert page.open == []
            tried += 1
    assert tried > 60


def test_words_are_shown_as_they_were_said_and_control_characters_are_not() -> None:
    page = _page(NoteTaken(f"{_MARKUP}\x00\x1b[31m\x85", True, START_S), answer(1, "serial", "A\x07B", START_S))
    assert inside_quotes(_MARKUP) in page.text
    assert "\x1b" not in page.text
    assert "A\ufffdB" in page.text
    isolated = [tag for tag, _ in page.tags].count("bdi")
    assert isolated >= 2, "text that runs right to left cannot turn the words around it"


def test_times_are_by_the_clock_asked_for() -> None:
    facts = facts_of(PROCEDURE, whole_job())
    assert "opened 2026-11-25 09:41 UTC" in _flat(_Page(render_job_report(facts, UTC)).text)
    west = render_job_report(facts, timezone(timedelta(hours=-5), "EST"))
    assert "opened 2026-11-25 04:41 EST" in _flat(_Page(west).text)


def test_a_time_of_another_day_says_the_day() -> None:
    text = _flat(_page(NoteTaken("came back", False, START_S + 86_400)).text)
    assert "came back 2026-11-26 09:41" in text


def test_a_long_job_stays_whole() -> None:
    readings = [
        reading(n, "bake", "end-to-end", "1-2", str(Decimal(n)), "above", "1", "2", START_S + n) for n in range(1, 200)
    ]
    page = _page(*readings)
    assert page.open == []
    assert [tag for tag, _ in page.tags].count("svg") == 199


def test_a_report_is_written_whole_beside_nothing(tmp_path: Path) -> None:
    path = tmp_path / "reports" / "a.html"
    path.parent.mkdir()
    write_report(path, "<p>Ω</p>".encode())
    write_report(path, b"<p>again</p>")
    assert path.read_text(encoding="utf-8") == "<p>again</p>"
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize(
    ("place", "told"),
    [
        ("", "is a folder"),
        ("no/such/r.html", "There is no folder"),
        ("file/r.html", "is a file, and a folder is needed"),
    ],
)
def test_a_place_that_cannot_be_written_is_told(tmp_path: Path, place: str, told: str) -> None:
    (tmp_path / "file").write_text("a file")
    with pytest.raises(ReportError, match=told):
        write_report(tmp_path / place, b"<p></p>")


def test_a_job_is_written_from_the_record(tmp_path: Path) -> None:
    with open_journal(tmp_path / "jobs.db") as journal:
        journal.append("20261125-0941-k7", 0, whole_job())
        path = write_job_report(journal, PROCEDURE, "20261125-0941-k7", tmp_path / "reports")
    assert path == tmp_path / "reports" / "20261125-0941-k7.html"
    assert "bake element" in path.read_text(encoding="utf-8")


def test_a_jobs_name_cannot_lead_out_of_the_folder(tmp_path: Path) -> None:
    with open_journal(tmp_path / "jobs.db") as journal:
        journal.append("../../a", 0, [opened("../../a")])
        path = write_job_report(journal, None, "../../a", tmp_path / "reports")
    assert path.parent == tmp_path / "reports"
    assert report_path(tmp_path, "a/b") == tmp_path / "a_b.html"


def test_the_meter_is_named_once_or_there_is_a_line_to_write_it_on() -> None:
    ohms = reading(1, "bake", "end-to-end", "1-2", "21.8", "within", "19.9", "24.4", START_S)
    named = _flat(_page(ohms, answer(2, "meter", "the yellow one", START_S)).text)
    assert "Meter used: the yellow one." in named
    assert "make, model, number" not in named
    for later in ((), (answer(2, "meter", "not known yet", START_S),)):
        text = _flat(_page(ohms, *later).text)
        assert "Meter used: not recorded." in text
        assert "Meter used: make, model, number" in text
