"""The job report: one self-contained page for screen and paper, and its file.

Words a technician said are untrusted: the template escapes everything, and what cannot be printed is replaced.
"""

import os
import re
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicetech import __version__
from voicetech.reports.bands import drawn
from voicetech.reports.facts import STATEMENT, JobFacts
from voicetech.reports.naming import Stage
from voicetech.reports.results import ReadingFact

_NOT_PRINTABLE: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufff9-\ufffb]")


class ReportError(Exception):
    """A report cannot be written; the message says why and what to do."""


def render_job_report(facts: JobFacts, zone: tzinfo | None = None) -> str:
    """Return the report as an HTML page that needs nothing else.

    Times are by the clock of `zone`, or of this computer where it is None.
    """
    environment = Environment(
        loader=PackageLoader("voicetech.reports"),
        autoescape=True,
        undefined=StrictUndefined,
        # Everything shown passes here, so no control character of a recognised or typed word reaches the page.
        finalize=_printable,
    )
    day = "" if facts.opened_at_s is None else _moment(facts.opened_at_s, zone)[:10]

    def clock(at_s: float) -> str:
        """Return the time of day, with the day where it is not the job's first."""
        moment = _moment(at_s, zone)
        return moment[11:16] if moment[:10] == day else moment[:16]

    environment.filters["clock"] = clock
    environment.filters["moment"] = lambda at_s: _moment(at_s, zone)
    environment.filters["band"] = _band
    return environment.get_template("job_report.html").render(
        facts=facts, stages=Stage, statement=STATEMENT, version=__version__
    )


def _printable(shown: object) -> object:
    if isinstance(shown, str) and not isinstance(shown, Markup):
        return _NOT_PRINTABLE.sub("\N{REPLACEMENT CHARACTER}", shown)
    return shown


def _moment(at_s: float, zone: tzinfo | None) -> str:
    moment = datetime.fromtimestamp(at_s, zone).astimezone(zone)
    return f"{moment:%Y-%m-%d %H:%M} {moment.tzname() or ''}".rstrip()


def _band(reading: ReadingFact) -> Markup:
    if reading.band is None:
        return Markup("")
    return drawn(reading.band, f"{reading.value}, {reading.verdict}, limits {reading.limits}")


def write_report(path: Path, html: str) -> None:
    """Write the page to this file, whole or not at all; its folder is made if only that is missing.

    Raises ReportError.
    """
    if path.is_dir():
        raise ReportError(f"{path} is a folder. Name a file in it, such as {path / 'report.html'}.")
    half = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(exist_ok=True)
        half.write_text(html, encoding="utf-8")
        half.replace(path)
    except FileNotFoundError:
        raise ReportError(
            f"There is no folder {path.parent.parent} for the report. Make it, or choose another place with --out."
        ) from None
    except OSError as error:
        raise ReportError(
            f"The report cannot be written to {path} ({error.strerror or error}). Choose another place with --out FILE."
        ) from None
    finally:
        _forget(half)


def _forget(half: Path) -> None:
    try:
        half.unlink(missing_ok=True)
    except OSError:
        # The folder itself is unusable, which the error on its way already says.
        return
