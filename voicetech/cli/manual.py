"""`voicetech manual`: the pages of the manual, at the terminal and without a network."""

import sys
from typing import Annotated

import typer


def manual(
    page: Annotated[str | None, typer.Argument(metavar="PAGE", help="A page by its name, or by a word of it.")] = None,
    plain: Annotated[bool, typer.Option("--plain", help="The page as it is written, in Markdown.")] = False,
) -> None:
    """Read the manual: without a page its list, else that page.

    In the browser it is behind every page of voicetech serve.

    Examples: voicetech manual, voicetech manual voice, voicetech manual reference-commands
    """
    from voicetech.manual import NoSuchPageError, page_meant, pages, titles

    if page is None:
        wide = max(map(len, titles()))
        for name, title in titles().items():
            sys.stdout.write(f"{name:{wide}}  {title}\n")
        return
    try:
        text = pages()[page_meant(page)]
    except NoSuchPageError as error:
        raise typer.BadParameter(str(error)) from None
    if plain or not sys.stdout.isatty():
        sys.stdout.write(text)
        return
    from rich.console import Console
    from rich.markdown import Markdown

    Console(highlight=False).print(Markdown(text))
