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
from voicetech.hearing.ears import MODEL_HELP

if TYPE_CHECKING:
    from voicetech.heard import Heard
    from voicetech.hearing.frames import Samples, Utterance
    from voicetech.hearing.microphone import LastingMicrophone
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
    model: Annotated[Path | None, typer.Option("--model", help=MODEL_HELP, metavar="FOLDER")] = None,
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
    headset: Annotated[
        bool,
        typer.Option("--headset", help="The microphone does not hear the program: an answer may cut its prompt short."),
    ] = False,
    silent: Annotated[bool, typer.Option("--silent", help="Show the prompts and do not speak them.")] = False,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Do not keep the sound of the answers.")] = False,
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
    if mic is not None and audio is not None:
        raise typer.BadParameter("give --mic or --audio, not both")
    if push_to_talk and audio is None and not sys.stdin.isatty():
        raise typer.BadParameter("--push-to-talk needs a terminal to press Enter in; use --address-word instead")
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
            sounds = _sounds(screen, no_sound)
            manners = _Manners(silent, sounds, _address(job, address_word), push_to_talk, headset)
            conversation = _conversation(job, recogniser, feed, screen, open_things, manners)
            if feed.microphone is not None:
                feed.microphone.start_afresh()
            conversation.begin(first)
            _work(conversation, feed, screen, manners)


@dataclass(frozen=True, slots=True)
class _Manners:
    """How the program speaks and listens: silently or not, keeping sounds or not, to whom and when."""

    silent: bool
    sounds: Path | None
    address_word: str | None
    push_to_talk: bool
    headset: bool


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
    """Where the sound comes from: recordings of one answer each, one long recording, or a microphone.

    Opened before the job is, and the microphone goes on while the program speaks.
    """

    clips: "tuple[tuple[str, Utterance], ...]" = ()
    recording: "Iterator[Samples] | None" = None
    microphone: "LastingMicrophone | None" = None


def _feed(mic: str | None, audio: Path | None, open_things: ExitStack) -> _Feed:
    from voicetech.hearing.errors import SoundFileError
    from voicetech.hearing.microphone import LastingMicrophone, open_microphone
    from voicetech.hearing.sound_file import frames_of, whole_utterance

    if audio is None:
        microphone = LastingMicrophone(lambda: open_microphone(mic))
        open_things.callback(microphone.close)
        return _Feed(microphone=microphone)
    if not audio.is_dir():
        return _Feed(recording=frames_of(audio))
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
        now_s=None if feed.microphone is None else feed.microphone.now_s,
        cutter=None if feed.clips else UtteranceCutter(),
        address_word=manners.address_word,
        push_to_talk=manners.push_to_talk and feed.microphone is not None,
        headset=manners.headset,
    )
    open_things.callback(conversation.close)
    return conversation


def _work(conversation: "Talk", feed: _Feed, screen: Screen, manners: _Manners) -> None:
    from voicetech.hearing.detector import SileroDetector
    from voicetech.hearing.listening import listen

    for name, utterance in feed.clips:
        if conversation.job.closed:
            return
        screen.note(name)
        conversation.take(utterance)
    cutter = conversation.cutter
    if cutter is None:
        return
    if feed.recording is not None:
        conversation.run(listen(feed.recording, cutter, SileroDetector()))
    if feed.microphone is not None:
        keys = _Keys(conversation, manners.push_to_talk, sys.stdin.isatty())
        if keys.there:
            screen.note(keys.help)
            threading.Thread(target=keys.watch, daemon=True).start()
        frames = feed.microphone.frames(keys.microphone_gone, keys.microphone_back)
        conversation.run(listen(frames, cutter, SileroDetector(), feed.microphone.take_loss))


class _Keys:
    """What the keyboard does beside the voice; `there` says whether anybody can type.

    Enter stops the job, or opens for one answer where that is asked for. While the microphone is gone, typed lines
    are answers.
    """

    def __init__(self, conversation: "Talk", push_to_talk: bool, there: bool) -> None:
        self.there = there
        self._conversation = conversation
        self._push_to_talk = push_to_talk
        self._typing = threading.Event()

    @property
    def help(self) -> str:
        """Return what the keys do."""
        return "Enter, then answer. S and Enter stops everything." if self._push_to_talk else "Enter stops everything."

    def microphone_gone(self) -> None:
        """Say that nothing is heard, and take typed lines for answers."""
        self._typing.set()
        meanwhile = "or type your answers here" if self.there else "or go on in text with: voicetech chat"
        self._conversation.remark(f"I cannot hear you: the microphone is gone. Plug it in again, {meanwhile}.")

    def microphone_back(self) -> None:
        """Say that the voice is heard again."""
        self._typing.clear()
        self._conversation.remark("The microphone is back. I can hear you.")

    def watch(self) -> None:
        """Follow the keys until the job or the input ends."""
        for line in _typed_lines(lambda: self._conversation.job.closed):
            self._pressed(line.strip())

    def _pressed(self, line: str) -> None:
        stops = line.lower() == "s" if self._push_to_talk else not (self._typing.is_set() and line)
        if stops:
            self._conversation.press_stop()
        elif self._typing.is_set() and line:
            self._conversation.type_line(line)
        elif self._push_to_talk:
            self._conversation.open_for_one()


def _typed_lines(over: Callable[[], bool]) -> Iterator[str]:
    """Yield the lines typed until it is over or the input ends; never waits in a read, which would keep the program
    from ending.
    """
    typed = ""
    while not over():
        more = _typed_now()
        if more is None:
            return
        *lines, typed = (typed + more.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
        yield from lines


def _typed_now() -> str | None:
    """Return what was typed within a moment, None where the input has ended."""
    if sys.platform == "win32":
        import msvcrt
        import time

        time.sleep(_KEY_S)
        typed = ""
        while msvcrt.kbhit():
            typed += msvcrt.getwche()
        return typed
    import select

    ready, _, _ = select.select([sys.stdin], [], [], _KEY_S)
    if not ready:
        return ""
    return os.read(sys.stdin.fileno(), 1024).decode(errors="replace") or None


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
