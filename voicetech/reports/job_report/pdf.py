"""The job report as a PDF, from the same prepared page as the web page."""

from datetime import tzinfo

from voicetech.reports.facts.job import JobFacts
from voicetech.reports.job_report.content import job_page
from voicetech.reports.paper import Paper
from voicetech.reports.typeset import page_pdf


def job_pdf(facts: JobFacts, zone: tzinfo | None = None, paper: Paper = Paper.LETTER) -> bytes:
    """Return the report as a PDF file.

    Times are by the clock of `zone`, or of this computer where it is None.
    """
    return page_pdf(job_page(facts, zone), paper)
