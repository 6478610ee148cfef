"""The sheets of a procedure's drawing as one web page, each on a sheet of paper of its own, or as a PDF.

Letters are the machine's own Arial or its like; where there is none, the PDF has those that the typesetter carries.
"""

import json
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from markupsafe import Markup

from voicetech.drawing.page import LONG_MM, SHORT_MM, Drawn
from voicetech.drawing.words import OUTRANKED
from voicetech.procedure import Procedure
from voicetech.reports.paper import Paper
from voicetech.reports.templating import TEMPLATES
from voicetech.reports.typeset import PAPER, compiled


def drawn_html(procedure: Procedure, sheets: Sequence[Drawn], paper: Paper) -> str:
    """Return the sheets as an HTML page that needs nothing else; `paper` is what it is printed on."""
    told = [(sheet, Markup(sheet.svg)) for sheet in sheets]  # drawn by us, and every word escaped  # noqa: S704
    return TEMPLATES.get_template("drawn.html").render(
        procedure=procedure, sheets=told, paper=paper.value, outranked=OUTRANKED, wide=LONG_MM, short=SHORT_MM
    )


def drawn_pdf(procedure: Procedure, sheets: Sequence[Drawn], paper: Paper) -> bytes:
    """Return the sheets as a PDF file, one on each page."""
    told = [{"title": sheet.title, "svg": sheet.svg, "lying": sheet.lying} for sheet in sheets]
    inputs = {"title": procedure.title, "sheets": json.dumps(told), "paper": PAPER[paper]}
    return compiled(_template(), inputs)


@cache
def _template() -> bytes:
    return files("voicetech.reports").joinpath("templates", "drawn.typ").read_bytes()
