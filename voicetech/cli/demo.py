"""`voicetech demo`: a whole job from recordings, through the real recogniser, to the report."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from voicetech.cli.ending import BY_CTRL_C
from voicetech.cli.joining import (
    new_job,
    open_record,
    plain_errors,
    procedure_named,
    stop,
)
from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.hearing.recogniser import Recogniser
    from voicetech.job import Job
    from voicetech.journal.store import Journal
    from voicetech.speaking.speaker import Speaker

_PROCEDURE: Final = "electric-range-no-heat"
"""What the recordings are for."""


class DemoError(Exception):
    """The demo cannot be run; the message says what is wrong with its script."""


@dataclass(frozen=True, slots=True)
class DemoTurn:
    """One answer of the recorded scenario: where it belongs, its clip, the words in it, whether it is played aloud."""

    at: str
    clip: str
    say: str
    aloud: bool


def demo(
    text: Annotated[bool, typer.Option("--text", help="Type the answers instead of hearing the recordings.")] = False,
    silent: Annotated[bool, typer.Option("--silent", help="Show both sides and speak neither.")] = False,
    plain: Annotated[bool, typer.Option("--plain", help="No colour and no layout.")] = False,
) -> None:
    """Run a whole recorded job: an invented range whose oven does not bake.

    The recordings go through the real recogniser; nothing is scripted but what the technician says. Where a sound
    device is there, the turns that matter are spoken, both sides. Ends with the path of the job's report.

    Examples: voicetech demo, or only to read it: voicetech demo --silent
    """
    screen = Screen(plain)
    with plain_errors(), open_record() as journal:
        _run(journal, screen, text, silent)


def _run(journal: "Journal", screen: Screen, text: bool, silent: bool) -> None:
    import os

    from voicetech.authoring.shipped import shipped_folder
    from voicetech.dialogue.given import KeepSound
    from voicetech.events import Channel
    from voicetech.journal.place import ready_home, reports_folder, sounds_folder
    from voicetech.reports.writing import write_job_report
    from voicetech.speaking.opening import open_speaker

    folder = shipped_folder("demo_audio")
    try:
        turns = demo_turns(folder / "script.yaml")
    except DemoError as error:
        stop(str(error))
    recogniser = None if text else _recogniser()
    speaker = open_speaker("silent" if silent else "aloud", screen.note)
    screen.note("An invented job: no real people, no real appliance. Ctrl-C ends it.")
    channel = Channel.CHAT if text else Channel.VOICE
    # The recordings come with the program, so nobody has to be asked whether they may be kept.
    keep = KeepSound.OFF if text else KeepSound.AGREED
    try:
        job, first = new_job(journal, procedure_named(_PROCEDURE), channel, "demo-", keep)
        screen.reply(first)
        for turn in turns:
            _play(job, turn, folder, recogniser, speaker, screen, sounds_folder(ready_home(os.environ)))
        path = write_job_report(journal, job.procedure, job.id, reports_folder(ready_home(os.environ)))
    except KeyboardInterrupt:
        stop("The demo was ended. What it recorded so far is in: voicetech jobs", code=BY_CTRL_C)
    finally:
        speaker.close()
    screen.note(f"Job {job.id}: {job.session.outcome or 'not finished'}. The report is at:")
    screen.item("", str(path))


def _play(
    job: "Job",
    turn: DemoTurn,
    folder: Path,
    recogniser: "Recogniser | None",
    speaker: "Speaker",
    screen: Screen,
    sounds: Path,
) -> None:
    at = job.session.at
    here = f"{at.section}/{at.step}" if at else "the end"
    if here != turn.at:
        stop(f"The demo lost its way: it stands at {here}, and the recording {turn.clip} answers {turn.at}.")
    if recogniser is None:
        screen.said("technician", turn.say)
        answer = job.typed(turn.say)
    else:
        from voicetech.events import Channel
        from voicetech.hearing.sound_file import whole_utterance
        from voicetech.journal.sounds import save_sound
        from voicetech.talking import heard_for

        utterance = whole_utterance(folder / f"{turn.clip}.flac")
        heard = heard_for(job, recogniser, utterance)
        if turn.aloud:
            _play_clip(speaker, folder / f"{turn.clip}.flac")
        screen.said("technician", f"{heard.text or '(nothing understood)'}")
        answer = job.heard(heard, Channel.VOICE, save_sound(sounds, utterance.samples))
    screen.reply(answer)
    if turn.aloud:
        speaker.say(answer.speak)


def _play_clip(speaker: "Speaker", path: Path) -> None:
    from voicetech.speaking.pyttsx3_speaker import Pyttsx3Speaker

    if isinstance(speaker, Pyttsx3Speaker):
        speaker.play_file(path)


def _recogniser() -> "Recogniser":
    from voicetech.hearing.ears import open_ear

    return open_ear(None)


def demo_turns(path: Path) -> tuple[DemoTurn, ...]:
    """Return the turns of the recorded scenario in order; FileNotFoundError where the recordings are missing.

    Raises DemoError where their script is damaged.
    """
    from voicetech.authoring.plain_yaml import PlainYamlError, read_plain

    try:
        raw: Any = read_plain(path)
        return tuple(
            DemoTurn(str(turn["at"]), str(turn["clip"]), str(turn["say"]), bool(turn.get("aloud", False)))
            for turn in raw["turns"]
        )
    except (PlainYamlError, TypeError, KeyError, AttributeError) as error:
        why = str(error) if isinstance(error, PlainYamlError) else f"{path}: is not the script of the demo"
        raise DemoError(f"{why}. Install voicetech again.") from None
