"""`python fetching.py VOICETECH`: starts the laptop's page, fetches it and all it loads, and answers on it.

It runs on the machine itself, in the environment that the README's command made, with what comes along there.
"""

import json
import re
import signal
import subprocess
import sys
from typing import Final
from urllib.parse import urljoin
from urllib.request import Request, urlopen

from websockets.sync.client import connect
from websockets.typing import Origin

_NAMED: Final = re.compile(r"""(?:src|href)="([^"#]+)"|from\s+"(\./[^"]+)"|import\s+"(\./[^"]+)\"""")
_PATIENCE_S: Final = 60.0
_SECOND_QUESTION: Final = "What is cold"


class ElsewhereError(Exception):
    """The page loads something that is not the program's own."""


def main(program: str) -> None:
    """Print what was fetched and answered; end with an error where anything is missing or comes from elsewhere."""
    serving = subprocess.Popen([program, "serve", "--no-browser"], stdout=subprocess.PIPE, text=True)
    try:
        assert serving.stdout is not None
        address = next(line.strip() for line in serving.stdout if line.startswith("http://127.0.0.1:"))
        origin = "/".join(address.split("/", 3)[:3])
        named = json.dumps({"procedure": "electric-range-no-heat"}).encode()
        _, begun = _fetched(Request(f"{address}jobs", named, {"Origin": origin, "Content-Type": "application/json"}))
        job = f"{address}job/{json.loads(begun)['job']}"
        loaded = _loaded(address, f"{job}/")
        said = _answered(job.replace("http", "ws", 1) + "/live", origin)
        _, report = _fetched(Request(f"{job}/report.pdf"))
    finally:
        serving.send_signal(signal.SIGINT)
        ended = serving.wait(_PATIENCE_S)
    assert report.startswith("%PDF")
    sys.stdout.write(f"fetched {len(loaded)} files, {sum(loaded.values())} bytes; asked on the page: {said}\n")
    sys.exit(ended)


def _loaded(address: str, *pages: str) -> dict[str, int]:
    """Return the length of everything that these pages load, by its address."""
    wanted, had = [address, *pages], dict[str, int]()
    while wanted:
        url = wanted.pop()
        if url in had:
            continue
        if not url.startswith(address):
            raise ElsewhereError(url)
        kind, text = _fetched(Request(url))
        had[url] = len(text)
        if "html" in kind or "javascript" in kind:
            found = [next(filter(None, names)) for names in _NAMED.findall(text)]
            wanted += [urljoin(url, name) for name in found if not name.startswith(("data:", "mailto:"))]
    return had


def _answered(live: str, origin: str) -> str:
    """Return the words of the question that follows the first answer, once the page has been sent it."""
    with connect(live, origin=Origin(origin), open_timeout=_PATIENCE_S) as socket:
        answered = False
        while True:
            told = socket.recv(_PATIENCE_S)
            if not isinstance(told, str):
                continue
            if answered and _SECOND_QUESTION in told:
                return _SECOND_QUESTION
            message = json.loads(told)
            if message["kind"] == "view" and not answered:
                socket.send(json.dumps({"kind": "answer", "text": "no", "open": message["open"]}))
                answered = True


def _fetched(request: Request) -> tuple[str, str]:
    with urlopen(request, timeout=_PATIENCE_S) as answer:
        return answer.headers["content-type"], answer.read().decode("utf-8", "replace")


if __name__ == "__main__":
    main(sys.argv[1])
