"""Jobs on record to go through again: typed ones, and one that is spoken with recordings."""

from collections.abc import Sequence
from pathlib import Path

from tests.dialogue.talker import shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.cli.demo import demo_turns
from voicetech.events import Channel
from voicetech.hearing.ears import open_ear
from voicetech.hearing.sound_file import whole_utterance
from voicetech.job import Job, open_job
from voicetech.journal.place import journal_path, sounds_folder
from voicetech.journal.sounds import save_sound
from voicetech.journal.store import Journal, open_journal
from voicetech.procedure import Procedure
from voicetech.talking import heard_for

SESSIONS = Path(__file__).parents[1] / "sessions"
TURN_S = 7.0


class Clock:
    """A clock that goes on by a turn each time it is looked at."""

    def __init__(self) -> None:
        self.now_s = 1_000_000.0

    def __call__(self) -> float:
        self.now_s += TURN_S
        return self.now_s


def session_lines(name: str) -> list[str]:
    """Return what was typed in one of the recorded sessions, the minutes that pass in between left out."""
    written = (SESSIONS / f"{name}.txt").read_text(encoding="utf-8").splitlines()
    return [line[2:] for line in written if line.startswith("> ")]


def typed_job(journal: Journal, job: str, lines: Sequence[str], procedure: Procedure | None = None) -> Job:
    """Work a job by keyboard."""
    clock = Clock()
    begun, _ = open_job(procedure or shipped(), journal, job, Channel.CHAT, clock)
    for line in lines:
        begun.typed(line)
    return begun


def spoken_job(home: Path, job: str, turns: int) -> Job:
    """Work the first turns of the recorded job by voice, keeping the sounds."""
    ear = open_ear()
    folder = shipped_folder("demo_audio")
    with open_journal(journal_path(home)) as journal:
        begun, _ = open_job(shipped(), journal, job, Channel.VOICE, Clock())
        for turn in demo_turns(folder / "script.yaml")[:turns]:
            utterance = whole_utterance(folder / f"{turn.clip}.flac")
            heard = heard_for(begun, ear, utterance)
            begun.heard(heard, Channel.VOICE, save_sound(sounds_folder(home), utterance.samples))
    return begun
