"""The manual: pages that come with the program, each found by its name or a word of it."""

import re
from functools import cache
from importlib.resources import files
from typing import Final

_FIRST: Final = "start"
_REFERENCE: Final = "reference-"
_LAST: Final = "changes"


class NoSuchPageError(Exception):
    """No page is called so, or more than one; the message says which there are."""


@cache
def pages() -> dict[str, str]:
    """Return the text of each page by its name: where to start, how things are done, the reference, what changed."""
    there = (file for file in files("voicetech.manual").iterdir() if file.name.endswith(".md"))
    found = {file.name.removesuffix(".md"): file.read_text(encoding="utf-8") for file in there}
    in_order = sorted(found, key=lambda name: (name != _FIRST, name == _LAST, name.startswith(_REFERENCE), name))
    return {name: found[name] for name in in_order}


def titles() -> dict[str, str]:
    """Return the title of each page by its name, in the order of `pages`."""
    return {name: text.partition("\n")[0].removeprefix("# ") for name, text in pages().items()}


def page_meant(words: str) -> str:
    """Return the name of the one page that these words name: all stand in its name or, failing that, in its title.

    Raises NoSuchPageError.
    """
    wanted = words.strip().lower().removesuffix(".md")
    if wanted in pages():
        return wanted
    asked = _words(wanted)
    by_name = [name for name in pages() if asked and asked <= _words(name)]
    found = by_name or [name for name, title in titles().items() if asked and asked <= _words(title)]
    if len(found) == 1:
        return found[0]
    if found:
        raise NoSuchPageError(f"{words!r} is in several pages: {', '.join(found)}. Name one of them.")
    raise NoSuchPageError(f"There is no page {words!r}. These are there: {', '.join(pages())}.")


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[^\W_]+", text.lower()))
