"""`voicetech talk`: the job by voice, from a microphone or from recordings."""

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.joining import DEFAULT_PROCEDURE, job_for, open_record, plain_errors, stop
from voicetech.cli.screen import Screen

if TYPE_CHECKING:
    from voicetech.heard import Heard
    from voicetech.hearing.frames import Samples, Utterance
    from voicetech.hearing.recogniser import Recogniser
    from voicetech.job import Job
    from voicetech.talking import Talk

SOUND_FILES = frozenset({".wav", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".aif", ".aiff", ".au", ".w64"})
_KEY_S = 0.1
_HELP = (
    "Answer after the tone, in your own words: two thirty eight volts, open, yes. Any time: repeat, how, where, "
    "status, undo, pause. Stop stops everything, also while the program speaks."
)


def talk(
    mic: Annotated[
        str | None, typer.Option("--mic", help="The microphone: its number or part of its name.", metavar="DEVICE")
    ] = None,
    audio: Annotated[
        Path | None,
        typer.Option(
            "--audio",
            help="Instead of a microphone: a recording, cut where nobody speaks, or a folder of recordings, each of "
            "which answers one prompt, in the order of their names.",
            metavar="FILE_OR_FOLDER",
        ),
    ] = None,
    ear: Annotated[
        str | None, typer.Option("--ear", help="The recogniser: constrained (the default) or vosk.", metavar="NAME")
    ] = None,
    model: Annotated[
        Path | None, typer.Option("--model", help="The folder of the recogniser's model.", metavar="FOLDER")
    ] = None,
    resume: Annotated[
        str | None, typer.Option("--resume", help="Take up a job from the record: its name, or last.", metavar="JOB")
    ] = None,
    procedure: Annotated[
        str, typer.Option("--procedure", help="A shipped procedure by name, or a file.", metavar="NAME")
    ] = DEFAULT_PROCEDURE,
    address_word: Annotated[
        str | None,
        typer.Option("--address-word", help="Answer only to what begins with this word.", metavar="WORD"),
    ] = None,
    push_to_talk: Annotated[
        bool, typer.Option("--push-to-talk", help="Enter, or a pedal that sends it, opens for one answer.")
    ] = False,
    silent: Annotated[bool, typer.Option("--silent", help="Show the prompts and do not speak them.")] = False,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Do not keep the sound of the answers.")] = False,
    plain: Annotated[bool, typer.Option("--plain", help="No colour and no layout.")] = False,
) -> None:
    """Work a job by voice: prompts are spoken, answers are heard, nothing leaves this computer.

    Danger words stop the job even while the program speaks, and so does the Enter key (S and Enter with
    --push-to-talk). Where people nearby talk, use --address-word or --push-to-talk: danger needs neither. Ctrl-C
    leaves; the job can be taken up again by voice or by text (a proof of dead is then made again).

    Examples: voicetech talk, voicetech talk --mic headset, voicetech talk --audio answers/ --silent
    """
    if mic is not None and audio is not None:
        raise typer.BadParameter("give --mic or --audio, not both")
    screen = Screen(plain)
    with plain_errors(), open_record() as journal, ExitStack() as open_things:
        from voicetech.events import Channel
        from voicetech.hearing.ears import open_ear

        recogniser = open_ear(ear, model)
        recogniser.warm_up()
        feed = _feed(mic, audio, open_things)
        job, first = job_for(journal, procedure, Channel.VOICE, resume)
        screen.note(f"Job {job.id}. {_HELP}")
        if job.closed:
            screen.note(f"This job is closed. Print its report with: voicetech report {job.id}")
            return
        _tell_unheard(job, recogniser, screen)
        with _left_well(job, screen):
            manners = _Manners(silent, _sounds(screen, no_sound), _address(job, address_word), push_to_talk)
            conversation = _conversation(job, recogniser, feed, screen, open_things, manners)
            feed.start_afresh()
            conversation.begin(first)
            _work(conversation, feed, screen, push_to_talk)


@dataclass(frozen=True, slots=True)
class _Manners:
    """How the program speaks and listens: silently or not, keeping sounds or not, to whom and when."""

    silent: bool
    sounds: Path | None
    address_word: str | None
    push_to_talk: bool


def _address(job: "Job", word: str | None) -> str | None:
    from voicetech.talking import fit_address_word

    if word is None:
        return None
    try:
        return fit_address_word(job, word)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from None


@dataclass(frozen=True, slots=True)
class _Feed:
    """Where the sound comes from: recordings of one answer each, or frames; opened before the job is.

    The rest belongs to a microphone, which goes on while the program speaks, and while it is getting ready.
    """

    clips: "tuple[tuple[str, Utterance], ...]" = ()
    frames: "Iterator[Samples] | None" = None
    now_s: Callable[[], float] | None = None
    lost: Callable[[], bool] = lambda: False
    start_afresh: Callable[[], None] = lambda: None


def _feed(mic: str | None, audio: Path | None, open_things: ExitStack) -> _Feed:
    from voicetech.hearing.errors import SoundFileError
    from voicetech.hearing.frames import cut_frames
    from voicetech.hearing.microphone import open_microphone
    from voicetech.hearing.sound_file import read_sound, whole_utterance

    if audio is None:
        microphone = open_things.enter_context(open_microphone(mic))
        return _Feed(
            frames=microphone.frames(),
            now_s=microphone.now_s,
            lost=microphone.waiting.take_overflow,
            start_afresh=microphone.start_afresh,
        )
    if not audio.is_dir():
        return _Feed(frames=cut_frames([read_sound(audio)]))
    paths = sorted(path for path in audio.iterdir() if path.suffix.lower() in SOUND_FILES)
    if not paths:
        raise SoundFileError(f"{audio} holds no sound files; put one WAV or FLAC file for each answer in it")
    return _Feed(tuple((path.name, whole_utterance(path)) for path in paths))


def _conversation(
    job: "Job",
    recogniser: "Recogniser",
    feed: _Feed,
    screen: Screen,
    open_things: ExitStack,
    manners: _Manners,
) -> "Talk":
    from voicetech.hearing.endpoint import UtteranceCutter
    from voicetech.speaking.opening import open_speaker
    from voicetech.talking import Talk

    def heard(heard: "Heard", taken: bool) -> None:
        words = heard.text or heard.free_text or "(no words)"
        screen.said("technician" if taken else "overheard", words)

    speaker = open_speaker("silent" if manners.silent else "aloud", screen.note)
    open_things.callback(speaker.close)
    conversation = Talk(
        job,
        recogniser,
        speaker,
        screen.reply,
        manners.sounds,
        on_heard=heard,
        tell=screen.note,
        now_s=feed.now_s,
        cutter=None if feed.clips else UtteranceCutter(),
        address_word=manners.address_word,
        push_to_talk=manners.push_to_talk and feed.now_s is not None,
    )
    open_things.callback(conversation.close)
    return conversation


def _work(conversation: "Talk", feed: _Feed, screen: Screen, push_to_talk: bool) -> None:
    for name, utterance in feed.clips:
        if conversation.job.closed:
            return
        screen.note(name)
        conversation.take(utterance)
    if feed.frames is None or conversation.cutter is None:
        return
    from voicetech.hearing.detector import SileroDetector
    from voicetech.hearing.listening import listen

    if feed.now_s is not None and sys.stdin.isatty():
        screen.note("Enter, then answer. S and Enter stops everything." if push_to_talk else "Enter stops everything.")
        threading.Thread(target=_watch_keys, args=(conversation, push_to_talk), daemon=True).start()
    conversation.run(listen(feed.frames, conversation.cutter, SileroDetector(), feed.lost))


def _watch_keys(conversation: "Talk", push_to_talk: bool) -> None:
    """Stop the job at each Enter, or open for one answer where that is asked for, until the job or the input ends.

    Never waits in a read, which would keep the program from ending.
    """
    if sys.platform == "win32":
        import msvcrt
        import time

        while not conversation.job.closed:
            if msvcrt.kbhit():
                _pressed(conversation, push_to_talk, msvcrt.getwch())
            time.sleep(_KEY_S)
        return
    import select

    while not conversation.job.closed:
        ready, _, _ = select.select([sys.stdin], [], [], _KEY_S)
        if not ready:
            continue
        typed = os.read(sys.stdin.fileno(), 1024)
        if not typed:
            return
        _pressed(conversation, push_to_talk, typed.decode(errors="replace"))


def _pressed(conversation: "Talk", push_to_talk: bool, keys: str) -> None:
    if push_to_talk and "s" not in keys.lower():
        conversation.open_for_one()
    elif push_to_talk or "\r" in keys or "\n" in keys:
        conversation.press_stop()


def _sounds(screen: Screen, no_sound: bool) -> Path | None:
    from voicetech.journal.place import ready_home, sounds_folder

    if no_sound:
        screen.note("The sound of your answers is not kept.")
        return None
    folder = sounds_folder(ready_home(os.environ))
    screen.note(f"The sound of your answers is kept on this computer, in {folder}. To keep none: --no-sound")
    return folder


def _tell_unheard(job: "Job", recogniser: "Recogniser", screen: Screen) -> None:
    unheard = sorted(recogniser.unknown_words(job.grammar().words()))
    if unheard:
        screen.note(f"The ear {recogniser.name} cannot hear these words; type them in chat: {', '.join(unheard)}")


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
