"""Danger: what stops the job at once, what is asked first, and the only way out of a stop."""

from typing import Final

from voicetech.dialogue.answering import take_answer, take_inspection
from voicetech.dialogue.draft import Draft
from voicetech.dialogue.flow import close, end_proof, reenter, what_is_missing
from voicetech.dialogue.outcomes import hand_over
from voicetech.events import (
    DangerDenied,
    DangerDoubted,
    DangerRecounted,
    DangerStopped,
    NoteTaken,
    SaidAgain,
    StopCleared,
)
from voicetech.heard import Heard
from voicetech.language.meaning import AnswerSaid, DangerSaid, Meaning, WordsSaid
from voicetech.procedure import Ask, Inspect
from voicetech.turn import Move, Turn, may

CLEAR_WORDS: Final = ("everything is safe start again", "it is safe now start again")
"""The phrases that end a stop; none of them can be said by accident."""


def danger_said(draft: Draft, said: DangerSaid, whole: str) -> None:
    """Stop at once, or ask whether it is happening now where that is not certain; `whole` is all that was said."""
    turn = draft.session.turn
    if said.present or turn is Turn.SAFETY_QUESTION:
        stop(draft, said)
    elif may(turn, Move.DOUBT_SAFETY):
        draft.add(DangerDoubted(said.kind, whole, draft.at_s, answers=said.answers))
    else:
        draft.add(SaidAgain("If it is happening now, say stop.", silent=False))


def stop(draft: Draft, said: DangerSaid) -> None:
    """Stop everything; nothing counts as dead after it."""
    end_proof(draft, "danger")
    draft.add(DangerStopped(said.kind, said.words, draft.at_s))


def while_doubted(draft: Draft, meaning: Meaning | None) -> None:
    """Go on only after a plain no."""
    match meaning:
        case AnswerSaid(yes=True):
            kind = draft.session.doubt
            if kind is not None:
                stop(draft, DangerSaid(kind, words="it is happening now"))
        case AnswerSaid(yes=False, confirm=False):
            before, words = draft.session.before_doubt, draft.session.doubt_words
            answers = draft.session.doubt_answers
            draft.add(DangerDenied(draft.at_s))
            if before in (Turn.PAUSED, Turn.ON_CALL, Turn.HANDED_OVER):
                _note(draft, words)
            elif draft.session.doubt_finding and isinstance(draft.step, Inspect) and not _gate_shut(draft):
                take_inspection(draft, draft.step, True, words)
            elif answers and isinstance(draft.step, Ask) and before is Turn.ASKING and not _gate_shut(draft):
                _note(draft, words)
                take_answer(draft, draft.step, answers)
            else:
                _note(draft, words)
                reenter(draft)
        case _:
            draft.add(SaidAgain("Is it happening now? Yes or no.", silent=False))


def _note(draft: Draft, words: str) -> None:
    if words:
        draft.add(NoteTaken(words, draft.session.by_voice, draft.at_s))


def _gate_shut(draft: Draft) -> bool:
    return what_is_missing(draft, draft.step) is not None


def while_stopped(draft: Draft, meaning: Meaning | None) -> None:
    """Stay stopped until one of the clearing phrases is said whole."""
    if isinstance(meaning, WordsSaid) and meaning.text.lower() in CLEAR_WORDS:
        draft.add(StopCleared(draft.at_s))
    else:
        draft.add(SaidAgain(f"Stopped. When all is safe, say: {CLEAR_WORDS[0]}.", silent=False))


def recounted(draft: Draft, heard: Heard) -> None:
    """Record what happened in the technician's words and make safe from the beginning."""
    words = heard.free_text or heard.text
    draft.add(DangerRecounted(words, draft.at_s))
    end_proof(draft, "a danger stop")
    session = draft.session
    if session.outcome is not None:
        close(draft)
    elif session.handed_over is not None:
        hand_over(draft, session.handed_over)
    else:
        reenter(draft)
