"""`voicetech serve`: the job as a page in this computer's own browser, by keyboard or by voice."""

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.appliance import PROCEDURE_VARIABLE, procedure_known
from voicetech.cli.by_voice import Ear, Model
from voicetech.cli.in_browser import shown_until_ended
from voicetech.cli.joining import (
    UnknownProcedureError,
    new_job,
    open_record,
    plain_errors,
    procedure_followed,
    procedure_meant,
    procedure_named,
    procedure_told,
    shipped_meant,
    stop,
)

if TYPE_CHECKING:
    from voicetech.desk.routes import Listed, Office
    from voicetech.events import JobOpened
    from voicetech.journal.store import Journal
    from voicetech.procedure import Procedure
    from voicetech.reports.facts.job import JobFacts
    from voicetech.web.review import Reviewed

_ENDED = "The program was stopped. Every answer is on record. To go on: voicetech serve"


def serve(
    port: Annotated[
        int | None, typer.Option("--port", metavar="N", min=1, max=65535, help="The port to show the page at.")
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the page's address and open no browser.")
    ] = False,
    procedure: Annotated[
        list[str] | None,
        typer.Option(
            "--procedure",
            metavar="NAME",
            help="The procedure that the page has chosen already, a file of yours too; may be given again, and then "
            f"the page asks. Without it the one that {PROCEDURE_VARIABLE} names.",
        ),
    ] = None,
    ear: Ear = None,
    model: Model = None,
) -> None:
    """Work jobs on a page in this computer's browser, by typing or with the browser's microphone.

    The page asks which appliance it is before a job is begun, unless one is named here.
    The page is shown to this computer only, at the address that is printed on a line of its own; nothing leaves it.
    Jobs begun here go on at the terminal and the other way round: each answer is on record before the next question.
    End it with Ctrl-C.

    Examples: voicetech serve, voicetech serve --no-browser --port 8321
    """
    with plain_errors():
        from voicetech.journal.place import ready_home

        home = ready_home(os.environ)
        with open_record():
            # A record that cannot be opened is told here rather than on a page.
            pass
        known = procedure_known(None)
        named = procedure or ([] if known is None else [known])
        _serve(home, _offered(named), port, ear, model, open_browser=not no_browser)


def _offered(named: list[str]) -> "dict[str, Procedure]":
    """Return the procedures that are named, by the name that each is started with."""
    return {_started_as(name): procedure_meant(name) for name in named}


def _started_as(name: str) -> str:
    from voicetech.authoring.procedure_files import shipped_names

    file = Path(name)
    is_file = file.suffix in (".yaml", ".yml") or file.is_file()
    return name if is_file or name in shipped_names() else shipped_meant(name)


def _serve(
    home: Path,
    offered: "dict[str, Procedure]",
    port: int | None,
    ear: str | None,
    model: Path | None,
    open_browser: bool,
) -> None:
    from voicetech.desk.at_work import Place
    from voicetech.desk.desks import Desks
    from voicetech.desk.routes import page_routes
    from voicetech.hearing.ears import open_ear
    from voicetech.journal.place import journal_path, sounds_folder
    from voicetech.web.local import LocalPageError, LocalServer, local_app

    followed = partial(_followed, offered)
    desks = Desks(Place(journal_path(home), sounds_folder(home), followed), lambda: open_ear(ear, model))
    try:
        with LocalServer(port, partial(desks.end, _ENDED)) as server:
            app = local_app(server.address, page_routes(_office(home, offered), desks))
            shown_until_ended(server, app, "Jobs are", "End it with Ctrl-C. Every answer is on record.", open_browser)
    except LocalPageError as error:
        stop(str(error))
    typer.echo("The page has ended. Every answer is on record.")


def _followed(offered: "dict[str, Procedure]", journal: "Journal", opened: "JobOpened") -> "Procedure":
    """Return the procedure of a job; JobError where none can be had."""
    same = next((each for each in offered.values() if each.digest == opened.digest), None)
    return same or _plainly(lambda: procedure_followed(journal, opened))


def _plainly(had: "Callable[[], Procedure]") -> "Procedure":
    """Return a procedure; JobError where it cannot be had."""
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.job import JobError
    from voicetech.language.lexicon import LexiconError

    try:
        return had()
    except (UnknownProcedureError, ProcedureFindings, LexiconError, OSError) as error:
        raise JobError(str(error)) from None


def _office(home: Path, offered: "dict[str, Procedure]") -> "Office":
    from voicetech.authoring.procedure_files import shipped_titles
    from voicetech.desk.routes import Office
    from voicetech.journal.place import journal_path

    record = journal_path(home)
    own = {name: each.title for name, each in offered.items()}
    return Office(
        procedures=list({**own, **shipped_titles()}.items()),
        chosen=next(iter(own)) if len(own) == 1 else "",
        listed=partial(_listed, record, home),
        begin=partial(_begin, record),
        reviewed=partial(_reviewed, record),
        report=partial(_report, record),
        report_pdf=partial(_report_pdf, record),
        now_s=time.time,
    )


def _listed(record: Path, home: Path, words: str) -> "Listed":
    from voicetech.archive.listing import Filters, jobs_listed
    from voicetech.archive.local import local_archive
    from voicetech.desk.routes import SHOWN, Listed
    from voicetech.journal.store import open_journal
    from voicetech.summary.words import wanted

    looked_for = wanted(words) if words else ()
    if words and not looked_for:
        return Listed((), more=False)
    with open_journal(record) as journal, local_archive(journal, home) as archive:
        page = jobs_listed(archive, Filters(words=looked_for), SHOWN)
    return Listed(page.jobs, page.total > len(page.jobs))


def _begin(record: Path, name: str) -> str:
    from voicetech.diagnosis import work_ahead
    from voicetech.events import Channel
    from voicetech.journal.store import open_journal

    procedure = _plainly(lambda: procedure_named(name))
    threading.Thread(target=work_ahead, args=(procedure,), name="work ahead", daemon=True).start()
    with open_journal(record) as journal:
        return new_job(journal, procedure, Channel.PAGE)[0].id


def _reviewed(record: Path, job: str) -> "Reviewed":
    from voicetech.reports.walkthrough.record import ToShow
    from voicetech.web.review import Reviewed

    with _held(record, job) as journal:
        show = ToShow(record, job, procedure_told(journal, job, None))
    return Reviewed(job, record, partial(show.page, served=True))


def _report(record: Path, job: str) -> str:
    from voicetech.reports.writing import Form, rendered

    return rendered(_facts(record, job), Form.PAGE).decode()


def _report_pdf(record: Path, job: str) -> bytes:
    from voicetech.reports.writing import Form, rendered

    return rendered(_facts(record, job), Form.PDF)


def _facts(record: Path, job: str) -> "JobFacts":
    from voicetech.reports.facts.part_book_file import PartBookError, load_part_book, part_book_path
    from voicetech.reports.writing import ReportError, job_facts

    path = part_book_path(record.parent)
    try:
        book = load_part_book(path) if path.exists() else None
    except PartBookError as error:
        raise ReportError(str(error)) from None
    with _held(record, job) as journal:
        return job_facts(journal, procedure_told(journal, job, None), job, book)


@contextmanager
def _held(record: Path, job: str) -> "Iterator[Journal]":
    """Give the record; JobError where it has no job of this name."""
    from voicetech.job import JobError
    from voicetech.journal.store import open_to_read

    with open_to_read(record) as journal:
        if not journal.holds(job):
            raise JobError(f"There is no job {job} on record. Go back to the list of jobs.")
        yield journal
