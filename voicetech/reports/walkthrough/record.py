"""The walkthrough page of one job, made anew of its record each time."""

from dataclasses import dataclass, field
from pathlib import Path

from voicetech.authoring.lexicon_files import lexicon_for
from voicetech.journal.place import sounds_folder
from voicetech.journal.sounds import whole_sounds
from voicetech.journal.store import open_to_read
from voicetech.procedure import Procedure
from voicetech.reports.facts.without_names import readable_without_names
from voicetech.reports.walkthrough.facts import walkthrough_of
from voicetech.reports.walkthrough.page import render_walkthrough
from voicetech.reports.writing import ReportError


@dataclass(frozen=True, slots=True)
class ToShow:
    """A job, the record it stands in, and what of it is shown.

    Without names it is also without sounds, in which they are spoken, and without marks, which are free words.
    """

    record: Path
    job: str
    procedure: Procedure | None
    without_sound: bool = False
    without_names: bool = False
    _sounds: dict[str, bytes] = field(default_factory=dict)

    def page(self, nonce: str | None = None, *, served: bool = False) -> str:
        """Return the page as the record is now; sounds are read once. Raises JournalError, ReportError."""
        with open_to_read(self.record) as journal:
            readable, marks, record_id = journal.readable_events(self.job), journal.marks(self.job), journal.record_id
        if self.without_names:
            readable, marks = readable_without_names(readable, self.procedure), ()
        try:
            facts = walkthrough_of(
                self.procedure, readable, marks, lexicon=lexicon_for(self.procedure), without_names=self.without_names
            )
        except ValueError as error:
            raise ReportError(
                f"Job {self.job} cannot be gone through turn by turn: {error}. "
                f"A report of what can be read is made by: voicetech report {self.job}"
            ) from error
        without_sound = self.without_sound or self.without_names
        if not without_sound:
            missing = [name for name in facts.sounds if name not in self._sounds]
            self._sounds.update(whole_sounds(sounds_folder(self.record.parent), missing))
        return render_walkthrough(
            facts, self._sounds, record_id=record_id, served=served, nonce=nonce, without_sound=without_sound
        )
