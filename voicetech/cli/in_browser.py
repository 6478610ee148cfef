"""A page shown to this computer until it is ended, in a browser where one can be opened."""

import sys
import threading
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from starlette.types import ASGIApp

    from voicetech.web.local import LocalServer


def shown_until_ended(server: "LocalServer", app: "ASGIApp", what: str, how_it_ends: str, open_browser: bool) -> None:
    """Tell what is shown, where, and how it ends, and show it until then."""
    for line in (f"{what} shown to this computer only, at:", server.address.url, how_it_ends):
        typer.echo(line)
    sys.stdout.flush()
    if open_browser:
        # Some browsers run in the terminal and return only when they are left.
        threading.Thread(target=_open, args=(server.address.url,), name="browser", daemon=True).start()
    server.serve(app)


def _open(address: str) -> None:
    import webbrowser

    if not webbrowser.open(address):
        sys.stderr.write("No browser could be opened. Open the address above in one on this computer.\n")
