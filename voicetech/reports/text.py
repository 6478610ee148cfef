"""Short ways to text that many parts of a report need: quoted words, times, what was withdrawn."""

from collections.abc import Iterable
from typing import Final

from voicetech.reports.blocks import Block, Listing, Paragraph, Run, Style, Text
from voicetech.reports.wording import inside_quotes

LEFT_OUT: Final = "[left out]"
"""What stands in place of a name or free words in a report without them."""


def text(words: str) -> Text:
    """Return words in plain style."""
    return (Run(words),)


def quiet(words: str) -> Paragraph:
    """Return a paragraph of fine print."""
    return Paragraph(text(words), quiet=True)


def said(words: str) -> Run:
    """Return somebody's own words as a quotation; what was left out is no quotation."""
    return Run(words, Style.PLAIN) if words == LEFT_OUT else Run(inside_quotes(words), Style.SAID)


def timed(words: str, time: str) -> Text:
    """Return words with the small time behind them."""
    return (Run(words), Run(f" {time}", Style.SMALL))


def line(runs: Iterable[Run], time: str = "", *, withdrawn: str | None = None, unverified: bool = False) -> Text:
    """Return runs with what has to be said behind them; struck through where they were withdrawn."""
    out = list(runs)
    if withdrawn is not None:
        out = [Run(run.text, Style.STRUCK) for run in out]
    if unverified:
        out += [Run(" "), Run("unverified", Style.TAG)]
    if time:
        out.append(Run(f" {time}", Style.SMALL))
    if withdrawn is not None:
        # What is read aloud or copied has no frame to tell the remark from the words.
        out += [Run(" \N{EN DASH} "), Run(f"withdrawn: {withdrawn}", Style.TAG)]
    return tuple(out)


def listed(items: Iterable[Text], empty: str) -> Block:
    """Return the items as a list, or in fine print that there are none."""
    rows = tuple(items)
    return Listing(rows) if rows else quiet(empty)


def run_on(items: Iterable[Text]) -> Text:
    """Return items one behind the other in one paragraph."""
    runs: list[Run] = []
    for item in items:
        runs += [*((Run("; "),) if runs else ()), *item]
    return tuple(runs)
