"""One job gone through again. What is loaded for that is kept for the next one."""

from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from voicetech.authoring.lexicon_files import lexicon_for
from voicetech.authoring.procedure_files import as_begun, load_procedure, load_shipped, shipped_names
from voicetech.events import JobOpened, decoded, encoded, kind_of
from voicetech.journal.gaps import gaps_told
from voicetech.journal.store import ReadableEvents, readable
from voicetech.procedure import Procedure
from voicetech.replay.ear import Ear
from voicetech.replay.material import Material
from voicetech.replay.rehearing import reheard
from voicetech.replay.replayed import Missing, Replayed
from voicetech.replaying import Difference, RecordedTurn, differences, turns_of


def replay(material: Material, ear: Ear | None = None, procedure: str | None = None) -> Replayed:
    """Return what today's program makes of a job, and with `ear` what it hears in the kept sounds.

    `procedure` is a shipped procedure's name or a file to judge by instead of the text that the job followed.
    """
    kept = readable(material.job, material.stored)
    events, numbers = kept.events, kept.numbers
    damaged = (*gaps_told(kept.left_out), *_not_as_they_went_in(kept))
    if not events or not isinstance(events[0], JobOpened):
        return _not_gone_through(material, damaged, Missing.OPENING)
    followed = _procedure(material, events[0], procedure)
    if followed is None:
        return _not_gone_through(material, damaged, Missing.PROCEDURE)
    try:
        turns = turns_of(events, numbers)
    except ValueError as error:
        return _not_gone_through(material, (*damaged, f"its events do not follow one another: {error}"), None)
    again, without = (
        (None, 0)
        if ear is None
        else reheard(followed, lexicon_for(followed), turns, material.sounds, ear, material.marks)
    )
    return Replayed(
        job=material.job,
        source=material.source,
        events=len(material.stored),
        turns=len(turns),
        damaged=damaged,
        differences=_differences(followed, turns),
        reheard=again,
        without_sound=without,
        other_text=followed.digest != events[0].digest,
    )


def _differences(procedure: Procedure, turns: Sequence[RecordedTurn]) -> tuple[Difference, ...]:
    return tuple(found for found in differences(procedure, lexicon_for(procedure), turns) if found is not None)


def _not_gone_through(material: Material, damaged: tuple[str, ...], missing: Missing | None) -> Replayed:
    return Replayed(material.job, material.source, len(material.stored), 0, damaged, (), missing=missing)


def _not_as_they_went_in(kept: ReadableEvents) -> Iterator[str]:
    for number, event in zip(kept.numbers, kept.events, strict=True):
        if decoded(*encoded(event)) != event:
            yield f"event {number} ({kind_of(event)}) does not come out of the record as it went in"


def _procedure(material: Material, opening: JobOpened, named: str | None) -> Procedure | None:
    if named is not None:
        return _named(named)
    today = _named(opening.procedure) if opening.procedure in shipped_names() else None
    return as_begun(opening.digest, today, lambda: material.files)


@cache
def _named(name: str) -> Procedure:
    return load_shipped(name) if name in shipped_names() else load_procedure(Path(name))
