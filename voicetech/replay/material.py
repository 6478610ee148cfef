"""All that is needed to go through a job again, wherever that is done: nothing in it points to a file."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from voicetech.events import InputReceived, JobOpened
from voicetech.journal.sealing import SealedRow
from voicetech.journal.sounds import whole_sounds
from voicetech.journal.store import Journal, readable
from voicetech.marks import Mark
from voicetech.procedure import WrittenFile


@dataclass(frozen=True, slots=True)
class Material:
    """One job: its events as they are stored, the files of its procedure where they are kept, and its sounds.

    `source` is the record it comes from, for people. `sounds` are the FLAC files by the name of their sound; those
    that cannot be read or were changed are left out. `marks` are those of its review.
    """

    job: str
    source: str
    stored: tuple[SealedRow, ...]
    files: tuple[WrittenFile, ...]
    sounds: Mapping[str, bytes]
    marks: tuple[Mark, ...] = ()


def material_of(journal: Journal, job: str, source: str, sounds: Path | None = None) -> Material:
    """Return a job's material, with its sounds where their folder is given. Raises JournalError."""
    stored = journal.stored(job)
    events = readable(job, stored).events
    opening = next((event for event in events if isinstance(event, JobOpened)), None)
    files = () if opening is None else journal.written(opening.digest)
    heard = [event.sound_sha256 for event in events if isinstance(event, InputReceived) and event.sound_sha256]
    kept = {} if sounds is None else whole_sounds(sounds, dict.fromkeys(heard))
    return Material(job, source, stored, files, kept, journal.marks(job))
