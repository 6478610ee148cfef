"""Reports as files: whole or not at all."""

import os
from datetime import tzinfo
from enum import StrEnum
from pathlib import Path
from typing import Final, assert_never

from voicetech.journal.gaps import gaps_told
from voicetech.journal.store import Journal
from voicetech.procedure import Procedure
from voicetech.reports.facts.job import JobFacts, facts_of
from voicetech.reports.facts.part_book import PartBook
from voicetech.reports.facts.without_names import without_names
from voicetech.reports.job_report.page import render_job_report
from voicetech.reports.paper import Paper


class ReportError(Exception):
    """A report cannot be written; the message says why and what to do."""


class Form(StrEnum):
    """What a job can be written as."""

    PAGE = "html"
    PDF = "pdf"
    TABLE = "csv"
    RECORD = "json"


def write_job_report(journal: Journal, procedure: Procedure | None, job: str, folder: Path) -> Path:
    """Return the file the job's report was written to, in this folder and named after the job.

    Raises ReportError, or JournalError where the record cannot be read.
    """
    path = report_path(folder, job)
    content = rendered(job_facts(journal, procedure, job), Form.PAGE)
    make_reports_folder(folder)
    write_report(path, content)
    return path


def make_reports_folder(folder: Path) -> None:
    """Make the program's own folder for reports where it is missing. Raises ReportError."""
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise ReportError(
            f"The folder {folder} cannot be made ({error.strerror or error}). Name a file elsewhere with --out FILE."
        ) from None


def report_path(folder: Path, job: str) -> Path:
    """Return the file of a job's report in this folder; whatever a job is called, it stays inside."""
    return folder / f"{''.join(sign if sign.isalnum() or sign in '-_' else '_' for sign in job)}.html"


def job_facts(
    journal: Journal,
    procedure: Procedure | None,
    job: str,
    book: PartBook | None = None,
    *,
    names_left_out: bool = False,
) -> JobFacts:
    """Return what the record tells of a job, events that cannot be read being named; JournalError as above."""
    readable = journal.readable_events(job)
    left_out = [f"{told[:1].upper()}{told[1:]}." for told in gaps_told(readable.left_out)]
    events = without_names(readable.events, procedure) if names_left_out else readable.events
    return facts_of(procedure, events, left_out, book, job=job, without_names=names_left_out)


def rendered(facts: JobFacts, form: Form, paper: Paper = Paper.LETTER, zone: tzinfo | None = None) -> bytes:
    """Return the content of a file that tells the job in this form.

    Times are by the clock of `zone`, or of this computer where it is None.
    """
    match form:
        case Form.PAGE:
            return render_job_report(facts, zone, paper).encode()
        case Form.PDF:
            from voicetech.reports.job_report.pdf import job_pdf

            return job_pdf(facts, zone, paper)
        case Form.TABLE:
            from voicetech.reports.job_report.readings_csv import readings_csv

            # The mark in front lets spreadsheet programs read the ohm sign.
            return readings_csv(facts, zone).encode("utf-8-sig")
        case Form.RECORD:
            from voicetech.reports.job_report.job_json import job_json

            return job_json(facts, zone).encode()
        case _:
            assert_never(form)


def write_report(path: Path, content: bytes, option: str = "--out") -> None:
    """Write a report to this file, whole or not at all; its folder must be there. A link is followed.

    `option` is what names the file on the command line. Raises ReportError.
    """
    elsewhere = f"Choose another place with {option} FILE."
    if path.is_dir():
        raise ReportError(f"{path} is a folder. Name a file in it.")
    if path.exists() and not path.is_file():
        # To put a file in the place of a device would take it away from every program.
        raise ReportError(f"{path} is a device or a pipe, and a file is needed. {elsewhere}")
    if _is_kept(path):
        raise ReportError(f"{path} is a record of jobs or a sound, and it is not written over. {elsewhere}")
    check_place(path, option)
    half = None
    try:
        whole = path.resolve()
        half = whole.with_name(f".{whole.name}.{os.getpid()}.part")
        half.write_bytes(content)
        half.replace(whole)
    except (OSError, RuntimeError) as error:
        # RuntimeError: links that lead round in a circle.
        why = getattr(error, "strerror", None) or error
        raise ReportError(f"{path} cannot be written ({why}). {elsewhere}") from None
    finally:
        if half is not None:
            _forget(half)


def check_place(path: Path, option: str) -> None:
    """Raise ReportError where no file or folder of this path can be, because its own folder is not there."""
    folder = path.parent
    if folder.is_dir():
        return
    if folder.exists():
        raise ReportError(f"{folder} is a file, and a folder is needed there. Choose another place with {option} FILE.")
    raise ReportError(f"There is no folder {folder}. Make it, or choose another place with {option} FILE.")


_KEPT: Final = (b"SQLite format 3\0", b"fLaC")
"""What files begin with that hold something recorded. Source: sqlite.org/fileformat2.html, RFC 9639 (from memory)."""


def _is_kept(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(16).startswith(_KEPT)
    except OSError:
        return False


def _forget(half: Path) -> None:
    try:
        half.unlink(missing_ok=True)
    except OSError:
        # The folder itself is unusable, which the error on its way already says.
        return
