"""Working by voice, for every command that does: the options, where the sound comes from, the voice, and the keys."""

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicetech.cli.screen import Screen
from voicetech.hearing.ears import MODEL_HELP

if TYPE_CHECKING:
    from voicetech.dialogue.reply import Reply
    from voicetech.heard import Heard
    from voicetech.hearing.frames import Samples, Utterance
    from voicetech.hearing.microphone import LastingMicrophone
    from voicetech.hearing.recogniser import Recogniser
    from voicetech.job import Job
    from voicetech.talking import Talk

SOUND_FILES = frozenset({".wav", ".flac", ".ogg", ".oga", ".opus", ".mp3", ".aif", ".aiff", ".au", ".w64"})
BY_KEYBOARD = "voicetech chat"
_KEY_S = 0.1

Mic = Annotated[
    str | None, typer.Option("--mic", help="The microphone: its number or part of its name.", metavar="DEVICE")
]
Audio = Annotated[
    Path | None,
    typer.Option(
        "--audio",
        help="Instead of a microphone: a recording, cut where nobody speaks, or a folder of recordings, each of "
        "which answers one prompt, in the order of their names.",
        metavar="FILE_OR_FOLDER",
    ),
]
Ear = Annotated[
    str | None, typer.Option("--ear", help="The recogniser: constrained (the default) or vosk.", metavar="NAME")
]
Model = Annotated[Path | None, typer.Option("--model", help=MODEL_HELP, metavar="FOLDER")]
AddressWord = Annotated[
    str | None, typer.Option("--address-word", help="Answer only to what begins with this word.", metavar="WORD")
]
PushToTalk = Annotated[
    bool, typer.Option("--push-to-talk", help="Enter, or a pedal that sends it, opens for one answer.")
]
Headset = Annotated[
    bool,
    typer.Option("--headset", help="The microphone does not hear the program: an answer may cut its prompt short."),
]
Silent = Annotated[bool, typer.Option("--silent", help="Show the prompts and do not speak them.")]


@dataclass(frozen=True, slots=True)
class Manners:
    """How the program speaks and listens: silently or not, keeping sounds or not, to whom and when.

    `asides` are lines that are taken as typed, where any other line stops the job; `by_keyboard` is the command that
    does the same in text.
    """

    silent: bool = False
    sounds: Path | None = None
    address_word: str | None = None
    push_to_talk: bool = False
    headset: bool = False
    asides: frozenset[str] = frozenset()
    by_keyboard: str = BY_KEYBOARD


def check_choices(mic: str | None, audio: Path | None, push_to_talk: bool) -> None:
    """Refuse options that do not go together."""
    if mic is not None and audio is not None:
        raise typer.BadParameter("give --mic or --audio, not both")
    if push_to_talk and audio is not None:
        raise typer.BadParameter("--push-to-talk is for a microphone; recordings need no key: leave it out")
    if push_to_talk and not sys.stdin.isatty():
        raise typer.BadParameter("--push-to-talk needs a terminal to press Enter in; use --address-word instead")


def fit_address(job: "Job", word: str | None) -> str | None:
    """Return the address word as it is listened for, or refuse it."""
    from voicetech.talking import fit_address_word

    if word is None:
        return None
    try:
        return fit_address_word(job, word)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from None


@dataclass(frozen=True, slots=True)
class Feed:
    """Where the sound comes from: recordings of one answer each, one long recording, or a microphone.

    Opened before the job is, and the microphone goes on while the program speaks.
    """

    clips: "tuple[tuple[str, Utterance], ...]" = ()
    recording: "Iterator[Samples] | None" = None
    microphone: "LastingMicrophone | None" = None


def open_feed(mic: str | None, audio: Path | None, open_things: ExitStack) -> Feed:
    """Return where the sound comes from, opened; HearingError says what is missing."""
    from voicetech.hearing.errors import SoundFileError
    from voicetech.hearing.microphone import LastingMicrophone, open_microphone
    from voicetech.hearing.sound_file import frames_of, whole_utterance

    if audio is None:
        microphone = LastingMicrophone(lambda: open_microphone(mic))
        open_things.callback(microphone.close)
        return Feed(microphone=microphone)
    if not audio.is_dir():
        return Feed(recording=frames_of(audio))
    paths = sorted(path for path in audio.iterdir() if path.suffix.lower() in SOUND_FILES)
    if not paths:
        raise SoundFileError(f"{audio} holds no sound files; put one WAV or FLAC file for each answer in it")
    return Feed(tuple((path.name, whole_utterance(path)) for path in paths))


def open_conversation(
    job: "Job",
    recogniser: "Recogniser",
    feed: Feed,
    screen: Screen,
    open_things: ExitStack,
    manners: Manners,
    on_reply: "Callable[[Reply], None] | None" = None,
) -> "Talk":
    """Return the job by voice, its voice opened; replies go to the screen unless `on_reply` takes them."""
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
        on_reply or screen.reply,
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


def converse(conversation: "Talk", feed: Feed, screen: Screen, manners: Manners) -> None:
    """Work the job until it is closed or the sound ends."""
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
        keys = Keys(conversation, manners.push_to_talk, sys.stdin.isatty(), manners.asides, manners.by_keyboard)
        if keys.there:
            screen.note(keys.help)
            threading.Thread(target=keys.watch, daemon=True).start()
        frames = feed.microphone.frames(keys.microphone_gone, keys.microphone_back)
        conversation.run(listen(frames, cutter, SileroDetector(), feed.microphone.take_loss))


class Keys:
    """What the keyboard does beside the voice; `there` says whether anybody can type.

    Enter stops the job, or opens for one answer where that is asked for. While the microphone is gone, typed lines
    are answers; `asides` are taken at any time.
    """

    def __init__(
        self,
        conversation: "Talk",
        push_to_talk: bool,
        there: bool,
        asides: frozenset[str] = frozenset(),
        by_keyboard: str = BY_KEYBOARD,
    ) -> None:
        self.there = there
        self._by_keyboard = by_keyboard
        self._asides = asides
        self._conversation = conversation
        self._push_to_talk = push_to_talk
        self._typing = threading.Event()

    @property
    def help(self) -> str:
        """Return what the keys do."""
        typed = "".join(f" Type {aside} and Enter at any time." for aside in sorted(self._asides))
        if self._push_to_talk:
            return f"Enter, then answer. S and Enter stops everything.{typed}"
        return f"Enter stops everything.{typed}"

    def microphone_gone(self) -> None:
        """Say that nothing is heard, and take typed lines for answers."""
        self._typing.set()
        meanwhile = "or type your answers here" if self.there else f"or go on in text with: {self._by_keyboard}"
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
        if line.lower() in self._asides:
            self._conversation.type_line(line)
            return
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


def tell_unheard(job: "Job", recogniser: "Recogniser", screen: Screen) -> None:
    """Say which words of the open question have to be typed; figures are said as words."""
    unheard = sorted(word for word in recogniser.unknown_words(job.grammar().words()) if not word.isdigit())
    if unheard:
        screen.note(f"The ear {recogniser.name} cannot hear these words; type them in chat: {', '.join(unheard)}")
