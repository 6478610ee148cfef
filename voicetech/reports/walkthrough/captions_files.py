"""A job as one sound with captions beside it, as two files."""

from dataclasses import dataclass
from pathlib import Path

import soundfile

from voicetech.authoring.lexicon_files import lexicon_for
from voicetech.events import InputReceived
from voicetech.journal.joined_sound import length_s, write_joined
from voicetech.journal.store import Journal, ReadableEvents
from voicetech.procedure import Procedure
from voicetech.replaying import turns_of
from voicetech.reports.walkthrough.acted_on import acted_on
from voicetech.reports.walkthrough.captions import Span, captions
from voicetech.reports.writing import ReportError, report_path, write_report


@dataclass(frozen=True, slots=True)
class WrittenCaptions:
    """The sound and its captions, and why some utterances are not in them."""

    paths: tuple[Path, Path]
    lost: tuple[str, ...]


def write_captions(
    journal: Journal, job: str, sounds: Path, folder: Path, procedure: Procedure | None = None
) -> WrittenCaptions:
    """Write a job's utterances as one sound and their captions to this folder, which is made if only it is missing.

    `procedure` tells which of the things heard was acted on.

    Raises ReportError where they cannot be written or no sound can be used, JournalError where the record fails.
    """
    readable, marks = journal.readable_events(job), journal.marks(job)
    numbered = tuple(zip(readable.numbers, readable.events, strict=True))
    said = [
        (number, event.sound_sha256)
        for number, event in numbered
        if isinstance(event, InputReceived) and event.sound_sha256 is not None
    ]
    if not said:
        raise ReportError(
            f"Job {job} has no recorded sound to caption: it was typed, or no sound was kept. "
            f"Its words are in the page: voicetech review {job}"
        )
    flac = report_path(folder, job).with_suffix(".flac")
    try:
        folder.mkdir(exist_ok=True)
        joined = write_joined(flac, sounds, said)
    except FileNotFoundError:
        raise ReportError(
            f"{folder} cannot be made: {folder.parent} is not there. Make that folder first, or name another."
        ) from None
    except FileExistsError:
        raise ReportError(f"{folder} is a file. Name a folder with --captions.") from None
    except (OSError, soundfile.LibsndfileError) as error:
        raise ReportError(
            f"{flac} cannot be written ({error}). Free some space, or name another folder with --captions."
        ) from error
    if not joined.placed:
        raise ReportError(f"No sound of job {job} can be used.\n" + "\n".join(joined.lost))
    heard = {placed.number: Span(placed.start_s, placed.end_s) for placed in joined.placed}
    vtt = flac.with_suffix(".vtt")
    text = captions(numbered, heard, marks, length_s(joined.placed), _taken(procedure, readable))
    write_report(vtt, text.encode(), "--captions")
    return WrittenCaptions((flac, vtt), joined.lost)


def _taken(procedure: Procedure | None, readable: ReadableEvents) -> dict[int, str]:
    if procedure is None:
        return {}
    try:
        turns = turns_of(readable.events, readable.numbers)
    except ValueError:
        # Its beginning cannot be read, and what was asked is not known; the sounds and words are there all the same.
        return {}
    lexicon = lexicon_for(procedure)
    return {turn.number: acted_on(procedure, lexicon, turn).taken for turn in turns}
