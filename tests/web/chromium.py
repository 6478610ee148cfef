"""The browser of the tests: Debian's chromium, without a window.

Where it is not installed its tests are skipped, unless VOICETECH_NEEDS_CHROMIUM is set.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

NEEDED = "VOICETECH_NEEDS_CHROMIUM"
PROGRAMS = ("chromium", "chromedriver")

_missing = [name for name in PROGRAMS if shutil.which(name) is None]
if _missing and os.environ.get(NEEDED):
    raise RuntimeError(f"{NEEDED} is set, and these are not installed: {', '.join(_missing)}")
without_chromium = pytest.mark.skipif(
    bool(_missing), reason=f"no {' and no '.join(_missing)}: apt install chromium chromium-driver"
)


@contextmanager
def chromium(profile: Path) -> Iterator[webdriver.Chrome]:
    """Give an open browser with this folder as its profile."""
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
        f"--user-data-dir={profile}",
    ):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    opened = webdriver.Chrome(options, Service(shutil.which("chromedriver")))
    try:
        yield opened
    finally:
        opened.quit()


def complaints(browser: webdriver.Chrome) -> list[str]:
    """Return what the browser had to say against its pages: errors of scripts, breaches of the policy."""
    entries = browser.get_log("browser")  # type: ignore[no-untyped-call]  # selenium leaves it untyped
    return [entry["message"] for entry in entries if "favicon" not in entry["message"]]
