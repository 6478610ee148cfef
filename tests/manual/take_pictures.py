"""Take the pictures of the README anew: `python -m tests.manual.take_pictures` (needs chromium and pdftoppm).

They show the demo's invented job in the real program and a real browser, on a day that never changes, so that taking
them again changes only what the program shows otherwise. Look at them afterwards: no test does.
"""

import io
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from PIL import Image
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from tests.demo_job import turns
from tests.desk.job_page import MICROPHONE
from tests.manual.code_says import CHECKOUT
from tests.web.chromium import chromium

PICTURES: Final = CHECKOUT / "tests" / "manual" / "pictures"
MOST_BYTES: Final = 150_000
AT: Final = "bake/bake-ohms"
"""The step of the demo's job that is shown on the page."""
SAID: Final = "over limit"
"""What was said in the turn that is shown of its review."""
_BAR_PX: Final = 70
DAY_S: Final = 1_780_300_800.0
"""1 June 2026, 8:00 UTC."""
_STEP_S: Final = 6
"""How far the demo's clock goes each time it is looked at, so that no job depends on how fast a computer is."""
_COLOURS: Final = 128
_PATIENCE_S: Final = 30.0
_PROGRAM: Final = f"""
import itertools, secrets, sys, time
real, token, step_s = time.time, secrets.token_bytes, float(sys.argv.pop(1))
begun, looked_at = real(), itertools.count()
time.time = lambda: {DAY_S} + (next(looked_at) * step_s if step_s else real() - begun)
secrets.token_bytes = lambda count=32: bytes(2) if count == 2 else token(count)
sys.argv[0] = "voicetech"
from voicetech.__main__ import main
main()
"""
_BROWSER: Final = f"""
const now = Date.now, begun = now();
Date.now = () => {DAY_S * 1000} + now() - begun;
"""


def main() -> None:
    """Take every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, chromium(Path(folder) / "profile") as browser:
        home = Path(folder) / "home"
        browser.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": "UTC"})
        browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": _BROWSER + MICROPHONE % 1})
        told = _run(home, _STEP_S, "demo", "--silent", "--plain")
        job = Path(told.split()[-1]).stem
        pdf = Path(folder) / "report.pdf"
        _run(home, 0, "report", job, "--pdf", str(pdf))
        _keep("report", _first_sheet(pdf))
        with _served(home) as address:
            _keep("review", _review(browser, f"{address}job/{job}/review/"))
            _keep("page", _page(browser, address))


def _run(home: Path, step_s: int, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", _PROGRAM, str(step_s), *arguments],
        env=_around(home),
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


def _around(home: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("VOICETECH_")}
    return {**kept, "VOICETECH_HOME": str(home), "TZ": "UTC", "PYTHONPATH": str(CHECKOUT), "PYTHONUNBUFFERED": "1"}


@contextmanager
def _served(home: Path) -> Iterator[str]:
    """Give the address of the page, served until the end."""
    command = [sys.executable, "-c", _PROGRAM, "0", "serve", "--no-browser", "--procedure", "range"]
    with subprocess.Popen(command, env=_around(home), stdout=subprocess.PIPE, text=True) as program:
        try:
            assert program.stdout is not None
            yield next(line.strip() for line in program.stdout if line.startswith("http://"))
        finally:
            program.terminate()


def _page(browser: webdriver.Chrome, address: str) -> bytes:
    """Return the page in the middle of the demo's job, typed on it."""
    _size(browser, 1280, 1010)
    browser.get(address)
    browser.find_element(By.CSS_SELECTOR, "#appliances input[value='electric-range-no-heat']").click()
    browser.find_element(By.CSS_SELECTOR, "main form button[type=submit]").click()
    _until(browser, "return document.getElementById('connection')?.textContent === 'On record'")
    for turn in turns():
        if turn.at == AT:
            break
        views = browser.execute_script("return window.views")
        browser.find_element(By.ID, "field").send_keys(turn.say)
        browser.execute_script("document.getElementById('answer-form').requestSubmit()")
        _until(browser, f"return window.views > {views} && document.getElementById('field').value === ''")
    browser.execute_script("document.activeElement.blur(); scrollTo(0, 0)")
    return _shot(browser)


def _review(browser: webdriver.Chrome, address: str) -> bytes:
    """Return the review of the job, at that turn."""
    _size(browser, 1000, 890)
    browser.get(address)
    browser.execute_script(
        """const turns = [...document.querySelectorAll("article")];
        const found = turns.find((each) => each.textContent.includes(arguments[0]));
        scrollTo(0, found.getBoundingClientRect().top + scrollY - arguments[1]);""",
        SAID,
        _BAR_PX,
    )
    return _shot(browser)


def _shot(browser: webdriver.Chrome) -> bytes:
    browser.execute_async_script("requestAnimationFrame(() => setTimeout(arguments[0], 300))")
    return browser.get_screenshot_as_png()


def _size(browser: webdriver.Chrome, width: int, height: int) -> None:
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )


def _until(browser: webdriver.Chrome, script: str) -> None:
    WebDriverWait(browser, _PATIENCE_S, poll_frequency=0.02).until(lambda _: browser.execute_script(script), script)


def _first_sheet(pdf: Path) -> bytes:
    command = ["pdftoppm", "-png", "-r", "110", "-f", "1", "-l", "1", "-singlefile", str(pdf)]
    return subprocess.run(command, capture_output=True, check=True).stdout


def _keep(name: str, taken: bytes) -> None:
    """Write a picture in few colours, as small as it goes."""
    path = PICTURES / f"{name}.png"
    picture = Image.open(io.BytesIO(taken)).convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    picture.save(path, optimize=True)
    size = path.stat().st_size
    if size > MOST_BYTES:
        sys.exit(f"{path} has {size} bytes, more than {MOST_BYTES}: show less of it.")
    sys.stdout.write(f"{path}: {picture.width} x {picture.height}, {size // 1000} kB\n")


if __name__ == "__main__":
    main()
