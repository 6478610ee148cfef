"""Whether the sound of what is said may be kept: asked once, before the job's first question, and off without a yes."""

from typing import Final

from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import reenter
from voicetech.dialogue.given import KeepSound, Weighed, Words
from voicetech.events import Ignored, SaidAgain, SoundAgreed, SoundAsked
from voicetech.language.meaning import AnswerSaid, Command, CommandSaid
from voicetech.turn import Turn

SOUND_QUESTION: Final = (
    "May the sound of what is said be kept on this computer, so that the job can be reviewed? Yes or no."
)
"""Others who are near may be on it too, so it is asked aloud."""


def begin_sound(draft: Draft, wish: KeepSound) -> None:
    """Ask whether sound may be kept, or record what was agreed beforehand; what was answered once stands."""
    if draft.session.sound_kept is not None or wish is KeepSound.OFF:
        return
    if wish is not KeepSound.ASK:
        draft.add(SoundAgreed(kept=wish is KeepSound.AGREED, beforehand=True, at_s=draft.at_s))
    elif draft.session.turn is Turn.ASKING:
        draft.add(SoundAsked())


def about_sound(draft: Draft, given: Words) -> None:
    """Take the answer; what is neither yes nor no, twice, is a no."""
    match given.meaning if given.weighed is Weighed.ACCEPTED else None:
        case _ if given.weighed is Weighed.IGNORED:
            draft.add(Ignored("not meant for the program"))
        case AnswerSaid(yes=yes):
            _agreed(draft, yes)
        case CommandSaid(command=Command.REPEAT):
            draft.add(SoundAsked())
        case _ if draft.session.times_said_again:
            _agreed(draft, False)
        case _:
            draft.add(SaidAgain("Keep the sound? Yes, or no?", silent=False))


def _agreed(draft: Draft, kept: bool) -> None:
    draft.add(SoundAgreed(kept, beforehand=False, at_s=draft.at_s))
    reenter(draft)
