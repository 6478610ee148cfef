"""The review in a real browser: its own script runs under the policy, plays the sounds, and its marks are on record.

Debian's chromium and chromium-driver are used. Where they are not installed this is skipped, unless
VOICETECH_NEEDS_CHROMIUM is set.
"""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import WebDriverWait

from tests.cli.program import Program
from tests.dialogue.talker import shipped
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import RATE_HZ
from voicetech.job import open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound
from voicetech.journal.store import open_journal
from voicetech.marks import Commented, Mark, Misheard, SignedOff, TakenBack

NEEDED = "VOICETECH_NEEDS_CHROMIUM"
PROGRAMS = ("chromium", "chromedriver")
_PATIENCE_S = 20.0

missing = [name for name in PROGRAMS if shutil.which(name) is None]
if missing and os.environ.get(NEEDED):
    raise RuntimeError(f"{NEEDED} is set, and these are not installed: {', '.join(missing)}")
pytestmark = pytest.mark.skipif(
    bool(missing), reason=f"no {' and no '.join(missing)}: apt install chromium chromium-driver"
)


@dataclass
class Page:
    """A review that is open in the browser."""

    browser: webdriver.Chrome
    home: Path
    program: Program
    address: str

    @property
    def numbers(self) -> list[int]:
        """Return the numbers of the events where words came in."""
        with open_journal(journal_path(self.home)) as journal:
            return [nr for nr, event in enumerate(journal.events("one"), 1) if isinstance(event, InputReceived)]

    @property
    def marks(self) -> tuple[Mark, ...]:
        with open_journal(journal_path(self.home)) as journal:
            return journal.marks("one")

    def turn(self, number: int) -> WebElement:
        return self.browser.find_element(By.CSS_SELECTOR, f"article#e{number}[data-seq='{number}']")

    def button(self, begins: str, within: WebElement | None = None) -> WebElement:
        """Return the button that is shown and whose accessible name begins with these words."""
        buttons = (within or self.browser).find_elements(By.TAG_NAME, "button")
        found = [each for each in buttons if each.is_displayed() and each.accessible_name.startswith(begins)]
        assert found, f"no button {begins!r}: {[each.accessible_name for each in buttons]}"
        return found[0]

    def field(self, name: str, within: WebElement | None = None) -> WebElement:
        """Return the text field of this accessible name."""
        fields = (within or self.browser).find_elements(By.CSS_SELECTOR, "input, textarea")
        return next(each for each in fields if each.accessible_name == name)

    def press(self, button: WebElement) -> None:
        self.browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()

    def told(self, words: str) -> None:
        """Wait until the status says this."""
        status = self.browser.find_element(By.CSS_SELECTOR, "[role=status]")
        WebDriverWait(self.browser, _PATIENCE_S).until(
            lambda _: words in status.text, f"the status never said {words!r} but {status.text!r}"
        )

    def complaints(self) -> list[str]:
        """Return what the browser had to say against the page: errors of its script, breaches of the policy."""
        entries = self.browser.get_log("browser")  # type: ignore[no-untyped-call]  # selenium leaves it untyped
        return [entry["message"] for entry in entries if "favicon" not in entry["message"]]


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[webdriver.Chrome]:
    options = Options()
    options.binary_location = shutil.which("chromium") or ""
    for argument in (
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-dev-shm-usage",
        "--no-proxy-server",
        "--autoplay-policy=no-user-gesture-required",
        "--window-size=1200,900",
        f"--user-data-dir={tmp_path_factory.mktemp('chromium')}",
    ):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    opened = webdriver.Chrome(options, Service(shutil.which("chromedriver")))
    try:
        yield opened
    finally:
        opened.quit()


@pytest.fixture
def page(browser: webdriver.Chrome, tmp_path: Path) -> Iterator[Page]:
    with open_journal(journal_path(tmp_path)) as journal:
        job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 1_000_000.0)
        tone = (np.sin(np.arange(RATE_HZ // 2) / 8) * 8000).astype(np.int16)
        for place, text in enumerate(("no", "it won't bake", "all at once"), 1):
            kept = save_sound(sounds_folder(tmp_path), tone[place:])
            job.heard(Heard((Alternative(text, 0.8), Alternative(f"{text} now", 0.2)), "ear"), Channel.VOICE, kept)
    with Program(tmp_path, "review", "last", "--no-browser") as program:
        program.wait_for("http://127.0.0.1:")
        opened = Page(browser, tmp_path, program, program.shown[-1])
        opened.complaints()  # those of the page before
        browser.get(opened.address)
        yield opened
        browser.get("about:blank")


def test_every_turn_is_there_and_nothing_breaks_the_policy(page: Page) -> None:
    for number in page.numbers:
        assert "Play" in page.turn(number).text
    assert page.complaints() == []


def test_a_mark_is_saved_and_still_there_when_the_page_is_loaded_again(page: Page) -> None:
    number = page.numbers[1]
    turn = page.turn(number)
    page.field("Reviewer").clear()
    page.field("Reviewer").send_keys("Ann")
    page.press(page.button("Misheard", turn))
    page.field("What was said", turn).send_keys("it won't <b>broil</b>")
    page.press(page.button("Save", turn))
    page.told("Saved.")
    (made,) = page.marks
    assert isinstance(made, Misheard)
    assert (made.seq, made.said, made.reviewer) == (number, "it won't <b>broil</b>", "Ann")
    page.browser.get(page.address)
    assert "it won't <b>broil</b>" in page.turn(number).text
    assert page.complaints() == []


def test_a_comment_is_made_and_taken_back(page: Page) -> None:
    turn = page.turn(page.numbers[0])
    page.field("Reviewer").clear()
    page.field("Reviewer").send_keys("Ann")
    page.press(page.button("Comment", turn))
    page.field("Comment", turn).send_keys("asked well")
    page.press(page.button("Save", turn))
    page.told("Saved.")
    WebDriverWait(page.browser, _PATIENCE_S).until(lambda _: len(page.marks) == 1)
    page.press(page.button("Take back", turn))
    WebDriverWait(page.browser, _PATIENCE_S).until(lambda _: len(page.marks) == 2)
    assert [type(mark) for mark in page.marks] == [Commented, TakenBack]


def test_a_job_is_signed_off_with_a_name_only(page: Page) -> None:
    page.field("Reviewer").clear()
    page.press(page.button("Sign off"))
    page.told("name")
    assert not page.marks
    page.field("Reviewer").send_keys("Ann")
    page.press(page.button("Sign off"))
    page.told("Saved.")
    (made,) = page.marks
    assert isinstance(made, SignedOff)
    with open_journal(journal_path(page.home)) as journal:
        assert made.events == len(journal.events("one"))


def test_a_sound_is_played(page: Page) -> None:
    page.browser.execute_script(
        """const play = HTMLMediaElement.prototype.play;
        HTMLMediaElement.prototype.play = function () {
            this.addEventListener("ended", () => { window.heard_s = this.duration; });
            return play.call(this);
        };"""
    )
    page.press(page.button("Play", page.turn(page.numbers[2])))
    length_s = WebDriverWait(page.browser, _PATIENCE_S).until(
        lambda browser: browser.execute_script("return window.heard_s"), "the sound was never heard to its end"
    )
    assert length_s == pytest.approx(0.5, abs=0.01)
    assert page.complaints() == []


def test_a_mark_the_program_refuses_is_told(page: Page) -> None:
    page.field("Reviewer").clear()
    page.field("Reviewer").send_keys("Ann")
    with open_journal(journal_path(page.home)) as journal:
        # The job goes on in another program.
        events = journal.events("one")
        journal.append("one", len(events), [events[-1]])
    page.press(page.button("Sign off"))
    page.told("look through what is new")
    assert page.marks == ()


def test_the_page_ends_the_program(page: Page) -> None:
    page.press(page.button("End the review"))
    assert page.program.end() == (0, "")
