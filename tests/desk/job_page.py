"""The job's page in a real browser, as tests work it."""

import base64
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from selenium import webdriver
from selenium.common.exceptions import TimeoutException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import WebDriverWait

from tests.cli.program import RANGE, Program
from voicetech.events import Event
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal

PATIENCE_S = 20.0
_CALM_S = 0.5
"""A prompt is over when nothing has followed it for this long: its tone does, and what is said within its echo counts
as said into it."""

MICROPHONE = """
// The page's microphone is a stream made here; `playClip` plays a sound into it. Prompts are played at `promptSpeed`.
const room = {};
window.promptSpeed = %s;
window.saying = 0;
window.said = 0;
window.views = 0;
navigator.mediaDevices.getUserMedia = async () => {
  room.context = new AudioContext();
  room.stream = room.context.createMediaStreamDestination();
  // A microphone is never digitally silent.
  const hiss = room.context.createBufferSource();
  hiss.buffer = room.context.createBuffer(1, room.context.sampleRate, room.context.sampleRate);
  const samples = hiss.buffer.getChannelData(0);
  for (let at = 0; at < samples.length; at += 1) samples[at] = (Math.random() - 0.5) * 2e-4;
  hiss.loop = true;
  hiss.connect(room.stream);
  hiss.start();
  return room.stream.stream;
};
window.playClip = async (text) => {
  window.said = 0;
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const buffer = await room.context.decodeAudioData(bytes.buffer);
  const source = room.context.createBufferSource();
  source.buffer = buffer;
  source.connect(room.stream);
  source.start();
  await new Promise((over) => { source.onended = over; });
};
const play = HTMLMediaElement.prototype.play;
HTMLMediaElement.prototype.play = function () {
  this.playbackRate = window.promptSpeed;
  return play.call(this);
};
const send = WebSocket.prototype.send;
WebSocket.prototype.send = function (data) {
  if (typeof data === "string" && JSON.parse(data).kind === "said") window.saying -= 1;
  if (!this.followed) {
    this.followed = true;
    this.addEventListener("message", ({ data: told }) => {
      const kind = typeof told === "string" ? JSON.parse(told).kind : "";
      if (kind === "say") { window.saying += 1; window.said += 1; }
      if (kind === "view") setTimeout(() => { window.views += 1; });
    });
  }
  return send.call(this, data);
};
"""


@dataclass
class JobPage:
    """A job that is open in the browser."""

    browser: webdriver.Chrome
    home: Path
    program: Program
    address: str

    @property
    def job(self) -> str:
        return self.browser.current_url.rstrip("/").rpartition("/")[2]

    @property
    def events(self) -> tuple[Event, ...]:
        with open_journal(journal_path(self.home)) as journal:
            return journal.events(self.job)

    def at(self, name: str) -> WebElement:
        return self.browser.find_element(By.ID, name)

    def until(self, holds: Callable[[], object], what: str, patience_s: float = PATIENCE_S) -> None:
        WebDriverWait(self.browser, patience_s, poll_frequency=0.02).until(lambda _: holds(), f"{what} did not come")

    def begin(self, procedure: str = RANGE) -> None:
        """Start a job from the list of jobs."""
        self.browser.get(self.address)
        self.choice(procedure).click()
        self.button("Start").click()
        self.until(lambda: "/job/" in self.browser.current_url, "the job's page")
        self.until(lambda: self.at("connection").text == "On record", "the connection")

    def choice(self, procedure: str) -> WebElement:
        """Return the place to choose this procedure at."""
        return self.browser.find_element(By.CSS_SELECTOR, f"#appliances input[value='{procedure}']")

    def button(self, begins: str) -> WebElement:
        """Return the button that is shown and whose accessible name begins with these words."""
        buttons = self.browser.find_elements(By.TAG_NAME, "button")
        found = [each for each in buttons if each.is_displayed() and each.accessible_name.startswith(begins)]
        assert found, f"no button {begins!r}: {[each.accessible_name for each in buttons if each.is_displayed()]}"
        return found[0]

    def press(self, begins: str) -> None:
        button = self.button(begins)
        self.browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()

    @property
    def lines(self) -> list[str]:
        return str(self.at("log").get_attribute("textContent")).split("\n")

    def answer(self, text: str) -> float:
        """Type an answer and send it; return the seconds until the program's reply stood in the conversation."""
        field = self.at("field")
        field.send_keys(text)
        return float(
            self.browser.execute_async_script(
                """const [field, log, done] = arguments;
                const lines = log.childElementCount, views = window.views;
                const from = performance.now();
                // What stands open comes after the reply, and the next answer is one to it.
                const shown = (s) => window.views > views ? done(s) : setTimeout(() => shown(s), 5);
                const watch = new MutationObserver(() => {
                  if (log.childElementCount >= lines + 2) {
                    watch.disconnect();
                    // The paint after the change is what somebody sees.
                    requestAnimationFrame(() => setTimeout(() => shown((performance.now() - from) / 1000)));
                  }
                });
                watch.observe(log, { childList: true, subtree: true });
                field.form.requestSubmit();""",
                field,
                self.at("log"),
            )
        )

    def speak(self, clip: Path) -> None:
        """Play a recording into the microphone once the prompts are over."""
        with suppress(TimeoutException):
            # Said again after a silence, there is none to wait for.
            self.until(lambda: self.browser.execute_script("return window.said > 0"), "a prompt to answer", 3.0)
        calm_from = time.monotonic()
        while time.monotonic() - calm_from < _CALM_S:
            if self.browser.execute_script("return window.saying > 0"):
                calm_from = time.monotonic()
            time.sleep(0.02)
        sound = base64.b64encode(clip.read_bytes()).decode()
        self.browser.execute_async_script(
            "const done = arguments[1]; window.playClip(arguments[0]).then(() => done())", sound
        )

    def escape(self) -> None:
        self.at("field").send_keys(Keys.ESCAPE)
