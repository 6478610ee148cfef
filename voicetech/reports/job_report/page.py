"""The job report as a web page: one self-contained file for screen and paper.

Words a technician said are untrusted: the template escapes everything, and what cannot be printed is replaced.
"""

from datetime import tzinfo

from markupsafe import Markup

from voicetech.reports.bands import drawn
from voicetech.reports.blocks import ReadingRow, Style
from voicetech.reports.facts.job import JobFacts
from voicetech.reports.job_report.content import job_page
from voicetech.reports.job_report.paper import Paper
from voicetech.reports.templating import TEMPLATES


def render_job_report(facts: JobFacts, zone: tzinfo | None = None, paper: Paper = Paper.LETTER) -> str:
    """Return the report as an HTML page that needs nothing else.

    Times are by the clock of `zone`, or of this computer where it is None; `paper` is what it is printed on.
    """
    page = job_page(facts, zone)
    return TEMPLATES.get_template("job_report.html").render(
        page=page, paper=paper.value, band=_band, Style=Style, kind=_kind
    )


def _kind(record: object) -> str:
    return type(record).__name__


def _band(row: ReadingRow) -> Markup:
    return Markup("") if row.band is None else drawn(row.band, row.band_says)
