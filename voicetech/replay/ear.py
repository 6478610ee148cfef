"""Which recogniser hears the recordings again; it is named, so that every process can open its own."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from voicetech.hearing.ears import open_ear
from voicetech.hearing.recogniser import Recogniser


@dataclass(frozen=True, slots=True)
class Ear:
    """A recogniser by its name and the folder of its model; None for the default of each."""

    name: str | None = None
    model: Path | None = None


@cache
def opened(ear: Ear) -> Recogniser:
    """Return the recogniser, opened once in each process. Raises HearingError as `open_ear` does."""
    return open_ear(ear.name, ear.model)
