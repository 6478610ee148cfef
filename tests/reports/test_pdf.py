"""The PDF: one or two sheets for a job as jobs are, whatever was said; the same words as the web page."""

import io
import re
from collections.abc import Callable
from datetime import UTC
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.reports import jobs
from voicetech.reports.facts.job import STATEMENT, JobFacts, facts_of
from voicetech.reports.job_report.page import render_job_report
from voicetech.reports.job_report.pdf import job_pdf
from voicetech.reports.paper import Paper


def read(facts: JobFacts, paper: Paper = Paper.LETTER) -> PdfReader:
    return PdfReader(io.BytesIO(job_pdf(facts, UTC, paper)))


def words_of(facts: JobFacts) -> str:
    """Return the text of the PDF on one line, without its footers and without marks of where a word may break."""
    text = " ".join(page.extract_text() for page in read(facts).pages)
    return flat(re.sub(r"Job \S+ page \d+ of \d+", " ", flat(text)))


def flat(text: str) -> str:
    return " ".join(re.sub("[\u200b\u2068\u2069]", "", text).split())


class _Words(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.skip = ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("style", "title"):
            self.skip = tag

    def handle_endtag(self, tag: str) -> None:
        if tag == self.skip:
            self.skip = ""

    def handle_data(self, data: str) -> None:
        if not self.skip:
            self.words += data.split()


@pytest.mark.parametrize(
    ("name", "sheets"), [("bake-element-repaired", 2), ("danger-and-the-way-back", 2), ("lost-leg-handed-over", 2)]
)
@pytest.mark.parametrize("paper", list(Paper))
def test_a_typical_job_takes_one_or_two_sheets(name: str, sheets: int, paper: Paper, tmp_path: Path) -> None:
    assert 1 <= len(read(jobs.of_session(name, tmp_path), paper).pages) <= sheets


@pytest.mark.parametrize(
    ("job", "sheets"),
    [
        (jobs.whole, 2),
        (lambda: facts_of(None, ()), 1),
        (jobs.abandoned, 1),
        (jobs.stopped_by_danger, 1),
        (jobs.handed_over, 1),
        (lambda: jobs.many_readings(45), 2),
        (lambda: jobs.straining(jobs.FOREIGN), 2),
    ],
    ids=["whole", "empty", "abandoned", "danger", "handed over", "many readings", "foreign words"],
)
@pytest.mark.parametrize("paper", list(Paper))
def test_other_jobs_take_no_more(job: Callable[[], JobFacts], sheets: int, paper: Paper) -> None:
    assert len(read(job(), paper).pages) <= sheets


@pytest.mark.parametrize(("paper", "width", "height"), [(Paper.LETTER, 612, 792), (Paper.A4, 595, 842)])
def test_the_paper_is_the_one_asked_for(paper: Paper, width: int, height: int) -> None:
    box = read(jobs.whole(), paper).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (width, height)


@pytest.mark.parametrize(
    "told",
    [
        STATEMENT,
        "The bake element is open; the plate says 240 volts",
        "Fire, 09:49: “smoke”. The job was stopped at once.",
        "19.9 to 24.4 Ω",
        "at most 0.2 Ω",
        "23.4 Ω at 09:47 (withdrawn: correction)",
        "No test was made of: Oven sensor.",
        "This is a safety step. It cannot be skipped. (2 times)",
        "Technician, name",
        "outrank everything on this page",
    ],
)
def test_it_tells(told: str) -> None:
    assert told in words_of(jobs.whole())


def test_both_layouts_say_the_same_words(tmp_path: Path) -> None:
    for facts in (jobs.whole(), jobs.handed_over(), jobs.of_session("bake-element-repaired", tmp_path)):
        page = set(_Words(render_job_report(facts, UTC)).words)
        paper = words_of(facts).replace(" ", "")
        missing = {word for word in page if word not in paper}
        assert not missing


def test_each_sheet_says_which_job_it_is_and_which_sheet() -> None:
    for number, page in enumerate(read(jobs.whole()).pages, start=1):
        assert f"page {number} of 2" in flat(page.extract_text())
        assert "20261125-0941-k7" in page.extract_text()


def test_signs_of_the_trade_are_there() -> None:
    text = words_of(jobs.straining("Ω ° ≤ – µ ½"))
    assert "Ω ° ≤ – µ ½" in text


@pytest.mark.parametrize(
    "words", [jobs.LONG_WORD, "#", "$x$ #set page() *a* _b_ <c> @d \\ ` [ ] {0}", "\x00\ud800\x1b[31m"]
)
def test_no_words_run_break_or_leave_the_page(words: str) -> None:
    reader = read(jobs.straining(words))
    width = float(reader.pages[0].mediabox.width)
    for page in reader.pages:
        begins: list[float] = []

        def seen(text: str, cm: list[float], tm: list[float], *_: object, begins: list[float] = begins) -> None:
            if text.strip():
                begins.append(cm[0] * tm[4] + cm[4])

        page.extract_text(visitor_text=seen)
        assert max(begins) < width - 40
    told = flat(" ".join(page.extract_text() for page in reader.pages)).replace(" ", "")
    if words.isprintable():
        assert words.replace(" ", "")[:60] in told


def test_words_that_run_right_to_left_turn_nothing_beside_them() -> None:
    facts = jobs.straining("\N{RIGHT-TO-LEFT OVERRIDE}מסוכן")
    assert "The job was stopped at once." in words_of(facts)
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in render_job_report(facts, UTC)


def test_the_same_job_makes_the_same_file() -> None:
    assert job_pdf(jobs.whole(), UTC) == job_pdf(jobs.whole(), UTC)
