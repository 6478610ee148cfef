"""What is told of what is left of a deleted job: in which files, and what to do about each."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

import typer

from voicetech.language.plural import so_many


class Kind(Enum):
    """What a file is in which something is left."""

    OWN = "the record, the list of jobs or a sound"
    COPY = "a copy that voicetech kept when the record was mended"
    OLDER = "of a record that was moved aside"
    OTHER = "a copy that somebody else made"


@dataclass(frozen=True, slots=True)
class Leftovers:
    """The files in which something is left of a job."""

    job: str
    files: tuple[Path, ...]


def kind_of(home: Path, file: Path) -> Kind:
    """Return what this file is to the record in this folder."""
    from voicetech.journal.copies import kept_copies, lost_folders, whole_file
    from voicetech.journal.place import ARCHIVE_FILE, journal_path, sounds_folder

    if any(folder in file.parents for folder in lost_folders(home)):
        return Kind.OLDER
    if file in kept_copies(home):
        return Kind.COPY
    own = whole_file(file) in (journal_path(home), home / ARCHIVE_FILE) or file.parent == sounds_folder(home)
    return Kind.OWN if own else Kind.OTHER


def copies_among(home: Path, files: Iterable[Path]) -> tuple[Path, ...]:
    """Return the whole copies that voicetech kept in this folder and that some of these files belong to."""
    from voicetech.journal.copies import with_logs

    return with_logs(file for file in files if kind_of(home, file) is Kind.COPY)


def more_than_record(home: Path, copies: Sequence[Path], but: Sequence[str]) -> tuple[str, ...]:
    """Return the jobs, but these, of which copies hold more events, or know that there were more, than the record."""
    from voicetech.archive.comparing import known_of
    from voicetech.journal.copies import whole_file
    from voicetech.journal.mending import events_in
    from voicetech.journal.place import ARCHIVE_FILE, journal_path
    from voicetech.journal.store import open_journal

    with open_journal(journal_path(home)) as journal:
        here = {job: events for job, (events, _, _) in journal.sizes().items()}
        gone, record_id = {*journal.forgotten(), *but}, journal.record_id
    more: set[str] = set()
    for copy in dict.fromkeys(whole_file(file) for file in copies):
        there: dict[str, int | None] = {}
        if copy.name.startswith(ARCHIVE_FILE):
            known = known_of(copy, record_id)
            there.update({} if known is None else known.jobs)
        else:
            there.update(events_in(copy))
        more |= {job for job, events in there.items() if job not in gone and (events or 1) > here.get(job, 0)}
    return tuple(sorted(more))


def tell(home: Path, found: Sequence[Leftovers]) -> bool:
    """Return whether nothing is left of any of these jobs, having told it."""
    for each in found:
        if not each.files:
            looked = "the record, the list of jobs, the sounds and the copies of them here"
            typer.echo(f"Looked through {looked}: nothing is left of job {each.job}.")
        for file in each.files:
            sys.stderr.write(f"Of job {each.job} something is left in {file}; {_what(home, file)}.\n")
    left = [each for each in found if each.files]
    for line in _what_to_do(home, left):
        sys.stderr.write(f"{line}\n")
    return not left


def _what(home: Path, file: Path) -> str:
    match kind_of(home, file):
        case Kind.OWN:
            return "close other programs and run this again"
        case Kind.COPY:
            return "a copy kept aside when the record was mended"
        case Kind.OLDER:
            return "it belongs to a record that was moved aside"
        case Kind.OTHER:
            return "a copy that voicetech did not make: delete it once you need it no more"


def _what_to_do(home: Path, left: Sequence[Leftovers]) -> Iterator[str]:
    from voicetech.journal.copies import lost_folders
    from voicetech.journal.place import journal_path

    jobs = [each.job for each in left if copies_among(home, each.files)]
    if jobs:
        copies = copies_among(home, [file for each in left for file in each.files])
        yield f"Delete {'that copy' if len(copies) == 1 else 'those copies'} whole with: {_command(jobs)} --copies"
        yield from lost_with(home, copies, jobs)
    for folder in lost_folders(home):
        jobs = [each.job for each in left if any(folder in file.parents for file in each.files)]
        if jobs and journal_path(folder).is_file():
            yield f"Set VOICETECH_HOME to {folder} and run there too: {_command(jobs)}"
        elif jobs:
            yield f"There is no record in {folder}: delete these files there once you need them no more."


def lost_with(home: Path, copies: Sequence[Path], jobs: Sequence[str]) -> Iterator[str]:
    """Yield in words what is lost of other jobs when these copies are deleted."""
    more = more_than_record(home, copies, jobs)
    if more:
        yield f"Of {so_many(len(more), 'other job')} more stands there than in the record: {', '.join(more)}."
    else:
        yield "All that voicetech can read there of other jobs is in the record too."


def _command(jobs: Sequence[str]) -> str:
    return f"voicetech forget {' '.join(jobs)}"
