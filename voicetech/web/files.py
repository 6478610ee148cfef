"""The files of the laptop's page: its templates, and the scripts and styles that it loads."""

from functools import cache
from importlib.resources import files
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined

PAGES: Final = Environment(
    loader=PackageLoader("voicetech.web", "pages"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
"""Everything shown is escaped: words that somebody typed or said are among it."""
_KINDS: Final = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8"}


@cache
def static_files() -> dict[str, tuple[bytes, str]]:
    """Return each file that a page may load, with its media type, by its name."""
    return {
        file.name: (file.read_bytes(), _KINDS[file.name.rpartition(".")[2]])
        for file in files("voicetech.web").joinpath("static").iterdir()
        if file.name.rpartition(".")[2] in _KINDS
    }
