"""`voicetech review`: a job gone through turn by turn, with its sounds, and marked."""

import os
import sys
import time
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.in_browser import shown_until_ended
from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import plain_errors, procedure_told, record_to_read, stop
from voicetech.cli.options import refuse
from voicetech.cli.outputs import check_outputs, file_named, folder_named, input_named
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    from voicetech.reports.walkthrough.record import ToShow


def review(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's name, or: last")],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", parser=file_named, metavar="FILE", help="Write the page to this file instead of showing it."
        ),
    ] = None,
    marks: Annotated[
        Path | None,
        typer.Option(
            "--marks", parser=input_named, metavar="FILE", help="Take the marks saved from such a page to the record."
        ),
    ] = None,
    without_sound: Annotated[bool, typer.Option("--without-sound", help="Leave the sounds out of the page.")] = False,
    without_names: Annotated[
        bool,
        typer.Option("--without-names", help="Leave out names, serial number, free words, sounds and marks (--out)."),
    ] = False,
    captions: Annotated[
        Path | None,
        typer.Option(
            "--captions",
            parser=folder_named,
            metavar="FOLDER",
            help="Write the job as one sound with captions to this folder.",
        ),
    ] = None,
    port: Annotated[
        int | None, typer.Option("--port", metavar="N", min=1, max=65535, help="The port to show the page at.")
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the page's address and open no browser.")
    ] = False,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", metavar="NAME", help="The procedure the job followed, where it is a file of yours."
        ),
    ] = None,
) -> None:
    """Go through a job turn by turn: what was said, heard, decided and answered, with the sound where it was kept.

    The page is shown to this computer only, at the address that is printed, until it is ended there or with Ctrl-C.
    Marks (misheard, a comment, signed off) go to the record beside the job and change nothing of it. With --out it is
    a page for somebody else: marks made there are saved to a file, and --marks takes them to the record.

    Examples: voicetech review last, voicetech review last --out review.html, voicetech review last --marks marks.json
    """
    if without_names:
        _for_files_only(out, captions)
    if (marks, captions, out) != (None, None, None):
        refuse({"--port": port, "--no-browser": no_browser}, "is for a page that is shown: leave out what writes files")
        if out is None:
            refuse({"--without-sound": without_sound}, "is for a page: name its file with --out FILE")
    if (captions, out) == (None, None) and marks is not None:
        refuse({"--procedure": procedure}, "is not needed to take marks: leave it out")
    check_outputs([("--out", out), ("--captions", captions)], [("--marks", marks)])
    from voicetech.journal.store import open_to_read

    with plain_errors():
        record = record_to_read()
        if record is None:
            stop(HOW_TO_START)
        with open_to_read(record) as journal:
            named = job_named(journal, job)
        show = _to_show(record, named, procedure, without_sound=without_sound, without_names=without_names)
        if marks is not None:
            _take_marks(record, named, marks)
        if captions is not None:
            _write_captions(show, captions)
        if out is not None:
            _write_page(show, out)
        if (marks, captions, out) == (None, None, None):
            _serve(show, port, open_browser=not no_browser)


def _for_files_only(out: Path | None, captions: Path | None) -> None:
    if captions is not None:
        stop("Captions hold the words that were said. Leave out --captions, or --without-names.", code=2)
    if out is None:
        stop("--without-names is for a page that is passed on. Name its file: --out FILE", code=2)


def _to_show(record: Path, job: str, procedure: str | None, *, without_sound: bool, without_names: bool) -> "ToShow":
    from voicetech.journal.store import open_to_read
    from voicetech.reports.walkthrough.record import ToShow

    with open_to_read(record) as journal:
        followed = procedure_told(journal, job, procedure)
    return ToShow(record, job, followed, without_sound=without_sound, without_names=without_names)


def _take_marks(record: Path, job: str, path: Path) -> None:
    from voicetech.journal.store import open_journal
    from voicetech.marks_json import BadMarkError, marks_file_from, new_marks
    from voicetech.web.review import marked

    try:
        saved = marks_file_from(path.read_bytes().decode("utf-8-sig"))
    except BadMarkError as error:
        stop(f"{path}:{error}" if str(error)[0].isdigit() else f"{path}: {error}")
    except UnicodeDecodeError:
        stop(f"{path} is not UTF-8 text. Save the marks from the page again.")
    except IsADirectoryError:
        stop(f"{path} is a folder. Name the file in it that was saved from the page.")
    if saved.job != job:
        stop(f"{path} holds marks of job {saved.job}, not of {job}. Name that job, or another file.")
    with open_journal(record) as journal:
        if saved.record != journal.record_id:
            stop(
                f"{path} holds marks of a job {job} in another record. Nothing was taken over. "
                "Take it to the computer the page was made on, or set VOICETECH_HOME to the folder of that record."
            )
        try:
            fresh = new_marks(saved, marked(journal, job), time.time())
        except BadMarkError as error:
            stop(f"{path}: {error}")
        count = journal.add_marks(job, fresh)
    known = len(saved.marks) - count
    typer.echo(f"{so_many(count, 'mark')} taken to job {job}{f'; {known} on record already' if known else ''}.")


def _write_captions(show: "ToShow", folder: Path) -> None:
    from voicetech.journal.place import home_folder, sounds_folder
    from voicetech.journal.store import open_to_read
    from voicetech.reports.walkthrough.captions_files import write_captions

    with open_to_read(show.record) as journal:
        sounds = sounds_folder(home_folder(os.environ))
        written = write_captions(journal, show.job, sounds, folder, show.procedure)
    for message in written.lost:
        sys.stderr.write(f"{message}\n")
    for path in written.paths:
        typer.echo(str(path))


def _write_page(show: "ToShow", out: Path) -> None:
    from voicetech.journal.errors import JournalError
    from voicetech.journal.store import open_journal
    from voicetech.reports.writing import write_report

    with suppress(JournalError):
        # A record of an older layout is given the name here that marks of this page will be known by; a page of one
        # that cannot be written is a page all the same.
        open_journal(show.record).close()
    write_report(out, show.page().encode(), "--out")
    typer.echo(str(out))


def _serve(show: "ToShow", port: int | None, *, open_browser: bool) -> None:
    from voicetech.web.local import LocalPageError, LocalServer, local_app
    from voicetech.web.review import Reviewed, review_routes

    # Told now, rather than on a page that cannot be made.
    show.page(served=True)
    reviewed = Reviewed(show.job, show.record, partial(show.page, served=True))
    try:
        with LocalServer(port) as server:
            app = local_app(server.address, review_routes(reviewed, time.time, server.stop))
            how_it_ends = "End it with the button on the page, or with Ctrl-C."
            shown_until_ended(server, app, f"Job {show.job} is", how_it_ends, open_browser)
    except LocalPageError as error:
        stop(str(error))
    typer.echo("The review has ended.")
