"""`voicetech recordings`: the utterances of jobs, with what was said, as a folder that `hear --check` measures."""

import os
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.jobs import HOW_TO_START, job_named
from voicetech.cli.joining import plain_errors, procedure_followed, procedure_meant, record_to_read, stop
from voicetech.cli.outputs import check_outputs, folder_named
from voicetech.language.plural import so_many

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from voicetech.hearing.labelled_folder import Labelled
    from voicetech.journal.store import Journal
    from voicetech.labelling import LabelledAnswer, Labels


def recordings(
    jobs: Annotated[list[str], typer.Argument(metavar="JOB…", help="The names of the jobs, or: last")],
    out: Annotated[
        Path,
        typer.Option("--out", parser=folder_named, metavar="FOLDER", help="The new folder to write them to."),
    ],
    speaker: Annotated[
        str | None, typer.Option("--speaker", metavar="NAME", help="Who spoke, to be told apart in the measurement.")
    ] = None,
    procedure: Annotated[
        str | None,
        typer.Option(
            "--procedure", metavar="NAME", help="The procedure the jobs followed, where it is a file of yours."
        ),
    ] = None,
) -> None:
    """Write the recorded answers of jobs to a folder, with what was said in each, to see how well you are heard.

    What was said is known where an answer was read back and let stand, confirmed or corrected, and where a reviewer
    marked it as misheard; the rest is left out and counted. Listen to the sounds and mend what is wrong under expected
    in manifest.jsonl: an error that nobody noticed in the job stands there as right.

    Example: voicetech recordings last --out my-voice, then voicetech hear --check my-voice
    """
    from voicetech.hearing.labelled_folder import write_labelled_folder
    from voicetech.journal.place import home_folder, sounds_folder
    from voicetech.journal.store import open_to_read

    check_outputs([("--out", out)])
    with plain_errors():
        record = record_to_read()
        if record is None:
            stop(HOW_TO_START)
        with open_to_read(record) as journal:
            named = [job_named(journal, job) for job in dict.fromkeys(jobs)]
            labels = [(job, _labels(journal, job, procedure)) for job in dict.fromkeys(named)]
        if not any(found.sounds for _, found in labels):
            stop(_no_sound([job for job, _ in labels]))
        if not any(found.answers for _, found in labels):
            stop(f"No recording of {_these(labels)} tells what was said.\n{_left_out(labels)}".rstrip())
        sounds = _Sounds(sounds_folder(home_folder(os.environ)), speaker, [], [])
        written = write_labelled_folder(out, sounds.of(labels))
        for message in sounds.lost:
            sys.stderr.write(f"{message}\n")
        if not written:
            stop(
                f"No recording was written: {_sounds_not_whole(len(sounds.lost))}. "
                f"Put the sounds back from a copy to {sounds.folder}, then try again."
            )
    _tell(out, labels, sounds)


@dataclass(frozen=True, slots=True)
class _Sounds:
    """Reads the kept sounds; `read` are the answers whose sound is whole, `lost` are messages about the others."""

    folder: Path
    speaker: str | None
    read: "list[LabelledAnswer]"
    lost: list[str]

    def of(self, labels: "list[tuple[str, Labels]]") -> "Iterator[tuple[Labelled, NDArray[np.int16]]]":
        from voicetech.journal.errors import JournalError
        from voicetech.journal.sounds import load_sound

        for job, found in labels:
            for number, answer in enumerate(found.answers, 1):
                try:
                    samples = load_sound(self.folder, answer.sound_sha256)
                except JournalError as error:
                    self.lost.append(str(error))
                    continue
                self.read.append(answer)
                yield self._labelled(f"{job}-{number:03}.flac", answer), samples

    def _labelled(self, name: str, answer: "LabelledAnswer") -> "Labelled":
        from voicetech.hearing.labelled_folder import Labelled

        return Labelled(
            Path(name),
            answer.question,
            answer.expected,
            answer.limits,
            self.speaker,
            answer.how.value,
            note=_differing(answer),
        )


def _differing(answer: "LabelledAnswer") -> str | None:
    if not answer.differing:
        return None
    said = (
        f"{mark.reviewer} says {mark.said!r}" if mark.said else f"{mark.reviewer} says it was no answer"
        for mark in answer.differing
    )
    told = "".join(sign if sign.isprintable() else " " for sign in "; ".join(said))
    return f"reviewers differ: {told}; the last of these stands under expected"


def _labels(journal: "Journal", job: str, procedure: str | None) -> "Labels":
    from voicetech.authoring.lexicon_files import lexicon_for
    from voicetech.events import JobOpened
    from voicetech.labelling import labels_of

    events = journal.events(job)
    first = events[0]
    if not isinstance(first, JobOpened):
        stop(f"The record of job {job} does not begin with its opening, so its answers cannot be told. Name another.")
    followed = procedure_followed(journal, first) if procedure is None else procedure_meant(procedure)
    return labels_of(followed, events, lexicon_for(followed), journal.marks(job))


def _no_sound(jobs: list[str]) -> str:
    which = f"Job {jobs[0]} has" if len(jobs) == 1 else f"The jobs {', '.join(jobs)} have"
    return (
        f"{which} no recorded sound: it was typed, or worked with --no-sound. "
        "Work a job with voicetech talk and without --no-sound, then try again."
    )


def _these(labels: "list[tuple[str, Labels]]") -> str:
    return ", ".join(job for job, _ in labels)


def _tell(out: Path, labels: "list[tuple[str, Labels]]", sounds: _Sounds) -> None:
    written = len(sounds.read)
    ways = Counter(answer.how.value for answer in sounds.read)
    told = ", ".join(f"{count} {how}" for how, count in ways.items())
    typer.echo(f"{so_many(written, 'recording')} of {_these(labels)} in {out}: {told}.")
    if sounds.lost:
        typer.echo(f"Not written: {_sounds_not_whole(len(sounds.lost))}.")
    differ = sum(bool(answer.differing) for answer in sounds.read)
    if differ:
        typer.echo(f"Of {differ} of them reviewers differ about what was said: see note in {out / 'manifest.jsonl'}.")
    left_out = _left_out(labels)
    if left_out:
        typer.echo(left_out)
    typer.echo(f"Listen to them, mend what is wrong in {out / 'manifest.jsonl'}, then: voicetech hear --check {out}")


def _sounds_not_whole(count: int) -> str:
    return f"{so_many(count, 'sound is', 'sounds are')} missing or damaged"


def _left_out(labels: "list[tuple[str, Labels]]") -> str:
    counts: Counter[str] = Counter()
    for _, found in labels:
        for why, count in found.left_out:
            counts[why.value] += count
    lines = [f"Left out: {counts.total()}"] if counts else []
    return "\n".join([*lines, *(f"  {count} {why}" for why, count in counts.items())])
