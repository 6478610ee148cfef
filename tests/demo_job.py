"""The recorded job of the demo, as tests work it by other ways: its answers, and what it comes to when typed."""

import re
from collections.abc import Sequence
from pathlib import Path

from tests.dialogue.talker import shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import DemoTurn, demo_turns
from voicetech.events import (
    AnswerTaken,
    CauseShown,
    Channel,
    Event,
    InputReceived,
    JobClosed,
    PartInspected,
    ReadingTaken,
    StepDone,
)
from voicetech.job import open_job
from voicetech.journal.store import open_journal
from voicetech.language.meaning import Asking
from voicetech.procedure import Ask

CLIPS = Path(str(shipped_folder("demo_audio")))
MOST_SAID_AGAIN = 5
"""Of 92: here and there the program asks again, as it does with people."""
_RESULTS = (ReadingTaken, AnswerTaken, PartInspected, StepDone, CauseShown, JobClosed)


def turns() -> tuple[DemoTurn, ...]:
    return demo_turns(CLIPS / "script.yaml")


def clip(turn: DemoTurn) -> Path:
    return CLIPS / f"{turn.clip}.flac"


def typed(home: Path) -> tuple[Event, ...]:
    """Return the events of the job typed at a terminal; `home` is a folder that is not there yet."""
    home.mkdir()
    with open_journal(home / "jobs.db") as journal:
        job, _ = open_job(shipped(), journal, "one", Channel.CHAT, lambda: 1_000_000.0)
        for turn in turns():
            job.typed(turn.say)
        return journal.events("one")


def results(events: tuple[Event, ...]) -> list[object]:
    """Return what the job came to, without when and without whether it was heard or typed."""
    left_out = ("at_s", "seq", "probability_inside", "unverified")
    kept = [event for event in events if isinstance(event, _RESULTS) and not _in_free_words(event)]
    return [(type(e).__name__, {n: _plain(getattr(e, n)) for n in e.__slots__ if n not in left_out}) for e in kept]


def said(events: Sequence[Event]) -> list[InputReceived]:
    """Return what was taken for something said to the program."""
    return [e for e in events if isinstance(e, InputReceived) and e.outcome not in ("ignored", "late")]


def accepted(events: Sequence[Event]) -> list[InputReceived]:
    """Return the answers that were taken."""
    return [event for event in said(events) if event.outcome == "accepted"]


def _in_free_words(event: Event) -> bool:
    """Return whether it is an answer in words of one's own, which no grammar holds to what was said."""
    if not isinstance(event, AnswerTaken):
        return False
    step = shipped().step(event.section, event.step)
    return isinstance(step, Ask) and step.asking is Asking.NOTE


def _plain(value: object) -> object:
    """Return words without what no voice says: capitals, hyphens, a full stop."""
    return " ".join(re.findall(r"\w+", value.lower())) if isinstance(value, str) else value
