"""Reports as files: whole or not at all."""

import os
from pathlib import Path

from voicetech.journal.store import Journal
from voicetech.procedure import Procedure
from voicetech.reports.facts import facts_of
from voicetech.reports.job_report import render_job_report


class ReportError(Exception):
    """A report cannot be written; the message says why and what to do."""


def write_job_report(journal: Journal, procedure: Procedure | None, job: str, folder: Path) -> Path:
    """Return the file the job's report was written to, in this folder and named after the job.

    Raises ReportError, or JournalError where the record cannot be read.
    """
    path = report_path(folder, job)
    write_report(path, job_page(journal, procedure, job))
    return path


def report_path(folder: Path, job: str) -> Path:
    """Return the file of a job's report in this folder; whatever a job is called, it stays inside."""
    return folder / f"{''.join(sign if sign.isalnum() or sign in '-_' else '_' for sign in job)}.html"


def job_page(journal: Journal, procedure: Procedure | None, job: str) -> str:
    """Return a job's report as a page, events that cannot be read being named in it; JournalError as above."""
    readable = journal.readable_events(job)
    left_out = [f"Event {left.seq} ({left.kind}): {left.why}." for left in readable.left_out]
    return render_job_report(facts_of(procedure, readable.events, left_out))


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
