"""The job report as a web page: one self-contained file for screen and paper.

Words a technician said are untrusted: the template escapes everything, and what cannot be printed is replaced.
"""

from datetime import tzinfo

from voicetech.reports.facts.job import JobFacts
from voicetech.reports.job_report.content import job_page
from voicetech.reports.page import page_html
from voicetech.reports.paper import Paper


def render_job_report(facts: JobFacts, zone: tzinfo | None = None, paper: Paper = Paper.LETTER) -> str:
    """Return the report as an HTML page that needs nothing else.

    Times are by the clock of `zone`, or of this computer where it is None; `paper` is what it is printed on.
    """
    return page_html(job_page(facts, zone), paper)
