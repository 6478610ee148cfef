"""`voicetech manual`: the pages of the manual, at the terminal and without a network."""

import re
import sys
from pathlib import Path
from typing import Annotated, Final

import typer

_MANUAL: Final = Path(__file__).parents[1] / "manual"
_FIRST: Final = "start"
_REFERENCE: Final = "reference-"
_LAST: Final = "changes"


def manual(
    page: Annotated[str | None, typer.Argument(metavar="PAGE", help="A page by its name, or by a word of it.")] = None,
    plain: Annotated[bool, typer.Option("--plain", help="The page as it is written, in Markdown.")] = False,
) -> None:
    """Read the manual: without a page its list, else that page.

    Examples: voicetech manual, voicetech manual voice, voicetech manual reference-commands
    """
    pages = titles()
    if page is None:
        wide = max(map(len, pages))
        for name, title in pages.items():
            sys.stdout.write(f"{name:{wide}}  {title}\n")
        return
    text = (_MANUAL / f"{_meant(pages, page)}.md").read_text(encoding="utf-8")
    if plain or not sys.stdout.isatty():
        sys.stdout.write(text)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console(highlight=False).print(Markdown(text))


def titles() -> dict[str, str]:
    """Return the title of each page by its name: where to start, how things are done, then the reference."""
    found = {path.stem: path.read_text(encoding="utf-8").partition("\n")[0] for path in _MANUAL.glob("*.md")}
    in_order = sorted(found, key=lambda name: (name != _FIRST, name == _LAST, name.startswith(_REFERENCE), name))
    return {name: found[name].removeprefix("# ") for name in in_order}


def _meant(pages: dict[str, str], words: str) -> str:
    """Return the one page that these words name: all of them stand in its name or, failing that, in its title."""
    wanted = words.strip().lower().removesuffix(".md")
    if wanted in pages:
        return wanted
    asked = _words(wanted)
    by_name = [name for name in pages if asked and asked <= _words(name)]
    found = by_name or [name for name, title in pages.items() if asked and asked <= _words(title)]
    if len(found) == 1:
        return found[0]
    if found:
        raise typer.BadParameter(f"{words!r} is in several pages: {', '.join(found)}. Name one of them.")
    raise typer.BadParameter(f"There is no page {words!r}. These are there: {', '.join(pages)}.")


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[^\W_]+", text.lower()))
