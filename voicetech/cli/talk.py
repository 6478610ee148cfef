"""`voicetech talk`: the job by voice, from a microphone or from recordings."""

import os
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.appliance import NamedProcedure, procedure_chosen, procedure_known, procedure_spoken
from voicetech.cli.by_voice import (
    AddressWord,
    Audio,
    Ear,
    Headset,
    Manners,
    Mic,
    Model,
    PushToTalk,
    Silent,
    check_choices,
    converse,
    fit_address,
    open_conversation,
    open_feed,
    tell_unheard,
)
from voicetech.cli.job_on_screen import JobOnScreen
from voicetech.cli.joining import job_for, open_record, plain_errors, stop
from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.dialogue.given import KeepSound
    from voicetech.job import Job

_HELP = (
    "Answer after the tone, in your own words: two thirty eight volts, open, yes. Any time: repeat, how, where, "
    "status, undo, pause. Stop stops everything, also while the program speaks."
)


def talk(
    mic: Mic = None,
    audio: Audio = None,
    ear: Ear = None,
    model: Model = None,
    resume: Annotated[
        str | None, typer.Option("--resume", help="Take up a job from the record: its name, or last.", metavar="JOB")
    ] = None,
    procedure: NamedProcedure = None,
    address_word: AddressWord = None,
    push_to_talk: PushToTalk = False,
    headset: Headset = False,
    silent: Silent = False,
    no_sound: Annotated[
        bool, typer.Option("--no-sound", help="Keep no sound of the answers, and do not ask whether to.")
    ] = False,
    keep_sound: Annotated[
        bool, typer.Option("--keep-sound", help="Keep it without asking: whoever is recorded has agreed.")
    ] = False,
    plain: Annotated[bool, typer.Option("--plain", help="No colour and no layout.")] = False,
) -> None:
    """Work a job by voice: prompts are spoken, answers are heard, nothing leaves this computer.

    Danger words stop the job even while the program speaks, and so does the Enter key (S and Enter with
    --push-to-talk). With --headset you need not wait for the end of a prompt. Where people nearby talk, use
    --address-word or --push-to-talk: danger needs neither. A microphone that is pulled out is taken up again when it
    is back; type your answers until then. Ctrl-C leaves; the job can be taken up again by voice or by text (a proof
    of dead is then made again).

    Examples: voicetech talk, voicetech talk --mic USB --headset, voicetech talk --audio answers/ --silent
    """
    check_choices(mic, audio, push_to_talk)
    if no_sound and keep_sound:
        raise typer.BadParameter("give --no-sound or --keep-sound, not both")
    screen = Screen(plain)
    with plain_errors():
        named = procedure if resume is not None else procedure_known(procedure)
        if named is None and resume is None and audio is not None:
            # Recordings answer the job's own questions, and nobody speaks who could be asked another.
            named = procedure_chosen(None, asks=False)
    with plain_errors(), open_record() as journal, ExitStack() as open_things:
        from voicetech.dialogue.given import KeepSound
        from voicetech.events import Channel
        from voicetech.hearing.ears import open_ear

        recogniser = open_ear(ear, model)
        recogniser.warm_up()
        if named is None and resume is None:
            named = procedure_spoken(
                mic, recogniser, screen, Manners(silent, None, address_word, push_to_talk, headset)
            )
        feed = open_feed(mic, audio, open_things)
        keep = _keep(no_sound, keep_sound or audio is not None)
        job, first = job_for(journal, named, Channel.VOICE, resume, keep)
        screen.note(f"Job {job.id}. {_HELP}")
        if job.closed:
            screen.note(f"This job is closed. Print its report with: voicetech report {job.id}")
            return
        tell_unheard(job, recogniser, screen)
        with _left_well(job, screen):
            sounds = None if keep is KeepSound.OFF else _sounds(screen)
            manners = Manners(silent, sounds, fit_address(job, address_word), push_to_talk, headset)
            shown = JobOnScreen(job, screen, spoken=True)
            conversation = open_conversation(job, recogniser, feed, screen, open_things, manners, shown.reply)
            if feed.microphone is not None:
                feed.microphone.start_afresh()
            conversation.begin(first)
            converse(conversation, feed, screen, manners)


def _keep(no_sound: bool, agreed: bool) -> "KeepSound":
    from voicetech.dialogue.given import KeepSound

    if no_sound:
        return KeepSound.OFF
    return KeepSound.AGREED if agreed else KeepSound.ASK


def _sounds(screen: Screen) -> Path:
    from voicetech.journal.place import ready_home, sounds_folder

    folder = sounds_folder(ready_home(os.environ))
    screen.note(f"Sound that may be kept goes to {folder}. To keep none: --no-sound")
    return folder


@contextmanager
def _left_well(job: "Job", screen: Screen) -> Iterator[None]:
    """Say how to go on, whatever ends the conversation."""
    from voicetech.hearing.errors import HearingError
    from voicetech.journal.errors import JournalError
    from voicetech.speaking.speaker import SpeakingError

    how = f"voicetech chat --resume {job.id}"
    try:
        yield
    except (HearingError, SpeakingError, JournalError) as error:
        stop(f"{error}\nThe job is on record up to the last answer. Go on in text: {how}")
    except KeyboardInterrupt:
        screen.note("")
    if job.closed:
        screen.note(f"Print the report with: voicetech report {job.id}")
    else:
        screen.note(f"Left at this step. Go on with: voicetech talk --resume {job.id}, or in text: {how}")
