"""The review in a real browser: its own script runs under the policy, plays the sounds, and its marks are on record.

See `chromium` for the browser.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import WebDriverWait

from tests.cli.program import Program, run
from tests.dialogue.talker import shipped
from tests.web.chromium import chromium, complaints, without_chromium
from voicetech.events import Channel, InputReceived
from voicetech.heard import Alternative, Heard
from voicetech.hearing.frames import RATE_HZ
from voicetech.job import open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound
from voicetech.journal.store import open_journal
from voicetech.marks import Commented, Mark, Misheard, SignedOff, TakenBack

pytestmark = without_chromium
_PATIENCE_S = 20.0


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
        return complaints(self.browser)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[webdriver.Chrome]:
    with chromium(tmp_path_factory.mktemp("chromium")) as opened:
        yield opened


def worked(home: Path) -> None:
    """Work a job of three spoken answers."""
    with open_journal(journal_path(home)) as journal:
        job, _ = open_job(shipped(), journal, "one", Channel.VOICE, lambda: 1_000_000.0)
        tone = (np.sin(np.arange(RATE_HZ // 2) / 8) * 8000).astype(np.int16)
        for place, text in enumerate(("no", "it won't bake", "all at once"), 1):
            kept = save_sound(sounds_folder(home), tone[place:])
            job.heard(Heard((Alternative(text, 0.8), Alternative(f"{text} now", 0.2)), "ear"), Channel.VOICE, kept)


@pytest.fixture
def page(browser: webdriver.Chrome, tmp_path: Path) -> Iterator[Page]:
    worked(tmp_path)
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


@pytest.fixture
def written(browser: webdriver.Chrome, tmp_path: Path) -> Iterator[Page]:
    """The same job as a file, opened as one that came on a stick."""
    worked(tmp_path)
    with Program(tmp_path, "review", "last", "--out", str(tmp_path / "review.html")) as program:
        program.wait_for("review.html")
        browser.execute_cdp_cmd("Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(tmp_path)})
        browser.get_log("browser")  # type: ignore[no-untyped-call]  # as above
        address = (tmp_path / "review.html").as_uri()
        browser.get(address)
        browser.execute_script("localStorage.clear()")
        browser.get(address)
        yield Page(browser, tmp_path, program, address)
        browser.execute_script("localStorage.clear()")
        browser.get("about:blank")


def with_keys(browser: webdriver.Chrome, *keys: str) -> None:
    """Press keys, whatever has the focus."""
    for key in keys:
        ActionChains(browser).send_keys(key).perform()


def tab_to(page: Page, name: str) -> WebElement:
    """Press the tab key until what has this accessible name has the focus."""
    for _ in range(60):
        with_keys(page.browser, Keys.TAB)
        focused = page.browser.switch_to.active_element
        if focused.accessible_name.startswith(name):
            return focused
    raise AssertionError(f"the tab key never leads to {name!r}")


def test_from_a_file_the_whole_job_is_played_with_captions(written: Page) -> None:
    written.browser.execute_script(
        """window.captions = [];
        new MutationObserver(() => { window.captions.push(document.getElementById("caption").textContent); })
            .observe(document.getElementById("caption"), {childList: true});"""
    )
    written.press(written.button("Play all"))
    written.told("That was the last sound.")
    captions = written.browser.execute_script("return window.captions")
    heard = [caption for caption in captions if caption.startswith("technician")]
    assert heard == ["technician: no", "technician: it won't bake", "technician: all at once"]
    program = [caption for caption in captions if caption.startswith("program")]
    assert program[0].startswith("program: No. What is cold")
    assert written.complaints() == []


def test_marks_made_in_a_file_are_saved_and_taken_to_the_record(written: Page) -> None:
    number = written.numbers[1]
    turn = written.turn(number)
    written.field("Reviewer").send_keys("Ann")
    written.press(written.button("Misheard", turn))
    written.press(written.button("it won't bake now", turn))
    written.press(written.button("Save", turn))
    written.told("Kept in this page.")
    written.press(written.button("Comment", turn))
    written.field("Comment", turn).send_keys("asked well")
    written.press(written.button("Save", turn))
    WebDriverWait(written.browser, _PATIENCE_S).until(lambda _: "asked well" in turn.text)
    written.press([each for each in turn.find_elements(By.TAG_NAME, "button") if each.text == "Drop"][-1])
    written.told("Dropped.")
    written.browser.get(written.address)
    turn = written.turn(number)
    assert "What was said: it won't bake now" in turn.text, "marks not yet saved outlive a reload"
    assert "asked well" not in turn.text
    written.press(written.button("Save the marks"))
    saved = written.home / "one.marks.json"
    WebDriverWait(written.browser, _PATIENCE_S).until(lambda _: saved.exists())
    done = run(written.home, "review", "one", "--marks", str(saved))
    assert (done.returncode, done.stdout) == (0, "1 mark taken to job one.\n")
    (misheard,) = written.marks
    assert isinstance(misheard, Misheard)
    assert (misheard.seq, misheard.said, misheard.reviewer) == (number, "it won't bake now", "Ann")
    assert written.complaints() == []


def test_the_keyboard_alone_plays_goes_on_and_marks(written: Page) -> None:
    number = written.numbers[0]
    tab_to(written, "Reviewer")
    with_keys(written.browser, "Ann")
    tab_to(written, "Next")
    with_keys(written.browser, Keys.ENTER)
    written.told("No turn has: correction.")
    tab_to(written, "Play what was said")
    with_keys(written.browser, Keys.ENTER)
    WebDriverWait(written.browser, _PATIENCE_S).until(
        lambda _: "current" in (written.turn(number).get_attribute("class") or "")
    )
    tab_to(written, "Misheard")
    with_keys(written.browser, Keys.ENTER, "nope", Keys.ENTER)
    written.told("Kept in this page.")
    assert "What was said: nope" in written.turn(number).text
    focused = written.browser.switch_to.active_element
    assert focused.accessible_name.startswith("Misheard"), "the focus is back where it was"
    outline = written.browser.execute_script("return getComputedStyle(arguments[0]).outlineStyle", focused)
    assert outline == "solid"


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_no_width_makes_it_scroll_sideways(written: Page, width: int) -> None:
    metrics = {"width": width, "height": 700, "deviceScaleFactor": 1, "mobile": width < 500}
    written.browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    try:
        written.browser.get(written.address)
        size = "return [document.documentElement.scrollWidth, document.documentElement.clientWidth, innerWidth]"
        needed, there, whole = written.browser.execute_script(size)
        assert (needed, whole) == (there, width)
        bar = "return document.querySelector('.bar').getBoundingClientRect().height"
        assert written.browser.execute_script(bar) < 100, "what stays in sight leaves room for the job"
    finally:
        written.browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
