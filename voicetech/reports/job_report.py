"""The job report: one self-contained page for screen and paper.

Words a technician said are untrusted: the template escapes everything, and what cannot be printed is replaced.
"""

import re
from datetime import datetime, tzinfo
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicetech import __version__
from voicetech.reports.bands import drawn
from voicetech.reports.facts import STATEMENT, JobFacts
from voicetech.reports.naming import Stage
from voicetech.reports.results import ReadingFact

_NOT_PRINTABLE: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufff9-\ufffb]")


def _printable(shown: object) -> object:
    if isinstance(shown, str) and not isinstance(shown, Markup):
        return _NOT_PRINTABLE.sub("\N{REPLACEMENT CHARACTER}", shown)
    return shown


# Everything shown passes `_printable`, so no control character of a recognised or typed word reaches the page.
_ENVIRONMENT: Final = Environment(
    loader=PackageLoader("voicetech.reports"), autoescape=True, undefined=StrictUndefined, finalize=_printable
)


def render_job_report(facts: JobFacts, zone: tzinfo | None = None) -> str:
    """Return the report as an HTML page that needs nothing else.

    Times are by the clock of `zone`, or of this computer where it is None.
    """
    day = "" if facts.opened_at_s is None else _moment(facts.opened_at_s, zone)[:10]

    def clock(at_s: float) -> str:
        """Return the time of day, with the day where it is not the job's first."""
        moment = _moment(at_s, zone)
        return moment[11:16] if moment[:10] == day else moment[:16]

    def moment(at_s: float) -> str:
        """Return the day and the time of day."""
        return _moment(at_s, zone)

    return _ENVIRONMENT.get_template("job_report.html").render(
        facts=facts,
        stages=Stage,
        statement=STATEMENT,
        version=__version__,
        clock=clock,
        moment=moment,
        band=_band,
    )


def _moment(at_s: float, zone: tzinfo | None) -> str:
    moment = datetime.fromtimestamp(at_s, zone).astimezone(zone)
    return f"{moment:%Y-%m-%d %H:%M} {moment.tzname() or ''}".rstrip()


def _band(reading: ReadingFact) -> Markup:
    if reading.band is None:
        return Markup("")
    return drawn(reading.band, f"{reading.value}, {reading.verdict}, limits {reading.limits}")
