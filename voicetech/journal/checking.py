"""What state a record and its sounds are in; nothing is changed."""

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicetech.events import InputReceived
from voicetech.journal.errors import JournalError, explained
from voicetech.journal.gaps import gaps_told
from voicetech.journal.migrations import version_of
from voicetech.journal.sounds import load_sound
from voicetech.journal.store import Journal, connected_to_read, open_to_read

_FILE: Final = "the file itself"


@dataclass(frozen=True, slots=True)
class CheckedSounds:
    """The sounds that events name: how many are whole, what is wrong with others, and files that no event names.

    A file that no event names is left of a job that was deleted, or of an answer that was being recorded just now.
    """

    whole: int
    wrong: tuple[str, ...]
    nobodys: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """A record: what it holds, and everything that is wrong with it, in words.

    `events` counts those that are whole, `unreadable` those that are missing or were changed, `deleted` deleted jobs.
    """

    path: Path
    size_bytes: int
    layout: int
    record_id: str
    jobs: int
    events: int
    unreadable: int
    marks: int
    deleted: int
    wrong: tuple[str, ...]
    sounds: CheckedSounds

    @property
    def readable(self) -> bool:
        """Return whether the file itself is sound, whatever has become of events in it."""
        return not any(what.startswith(_FILE) for what in self.wrong)

    @property
    def whole(self) -> bool:
        """Return whether nothing is wrong with the record or a sound."""
        return not self.wrong and not self.sounds.wrong


def check(path: Path, sounds: Path) -> Checked:
    """Return the state of the record in this file and of its sounds. Raises JournalError where it cannot be opened."""
    with open_to_read(path) as journal:
        jobs = [line.job for line in journal.jobs()]
        wrong = [*_file_findings(path)]
        events = unreadable = 0
        named: set[str] = set()
        for job in jobs:
            readable = journal.readable_events(job)
            events += len(readable.events)
            unreadable += len(readable.left_out)
            wrong += [f"job {job}: {told}" for told in gaps_told(readable.left_out)]
            named |= {e.sound_sha256 for e in readable.events if isinstance(e, InputReceived) and e.sound_sha256}
        marks = sum(len(_marks(journal, job, wrong)) for job in jobs)
        deleted = len(journal.forgotten())
        heard = _sounds(sounds, named)
        if not jobs and not deleted and heard.nobodys:
            wrong.append(
                "the record is empty and there are sounds: it was lost, or another file stands in its place. "
                "Put a backup copy of it here"
            )
        return Checked(
            path=path,
            size_bytes=path.stat().st_size,
            layout=_layout(path),
            record_id=journal.record_id,
            jobs=len(jobs),
            events=events,
            unreadable=unreadable,
            marks=marks,
            deleted=deleted,
            wrong=tuple(wrong),
            sounds=heard,
        )


def _marks(journal: Journal, job: str, wrong: list[str]) -> tuple[object, ...]:
    try:
        return journal.marks(job)
    except JournalError as error:
        wrong.append(str(error))
        return ()


def _file_findings(path: Path) -> Iterator[str]:
    connection = connected_to_read(path)
    try:
        for (told,) in connection.execute("PRAGMA integrity_check"):
            if told != "ok":
                yield f"{_FILE}: {told}"
    except sqlite3.Error as error:
        yield f"{_FILE}: {error}"
    finally:
        connection.close()


def _layout(path: Path) -> int:
    connection = connected_to_read(path)
    try:
        return version_of(connection)
    except sqlite3.Error as error:
        raise explained(error, path) from error
    finally:
        connection.close()


def _sounds(folder: Path, named: Iterable[str]) -> CheckedSounds:
    whole = 0
    wrong: list[str] = []
    known = set(named)
    for sha256 in sorted(known):
        try:
            load_sound(folder, sha256)
            whole += 1
        except (JournalError, ValueError) as error:
            wrong.append(str(error))
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    return CheckedSounds(whole, tuple(wrong), tuple(path for path in files if path.stem not in known))
