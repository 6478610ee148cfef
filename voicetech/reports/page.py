"""A page of blocks as a web page: one self-contained file for screen and paper.

The template escapes everything, and what cannot be printed is replaced.
"""

from markupsafe import Markup

from voicetech.reports.bands import drawn
from voicetech.reports.blocks import Page, ReadingRow, Style
from voicetech.reports.paper import Paper
from voicetech.reports.templating import TEMPLATES


def page_html(page: Page, paper: Paper) -> str:
    """Return the page as HTML that needs nothing else; `paper` is what it is printed on."""
    return TEMPLATES.get_template("blocks.html").render(
        page=page, paper=paper.value, band=_band, Style=Style, kind=_kind
    )


def _kind(record: object) -> str:
    return type(record).__name__


def _band(row: ReadingRow) -> Markup:
    return Markup("") if row.band is None else drawn(row.band, row.band_says)
