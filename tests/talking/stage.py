"""A stage to talk on: a real job, an ear that reads what it hears off a list, a voice that is held back at will."""

import threading
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from tests.dialogue.talker import shipped
from voicetech.dialogue.given import KeepSound
from voicetech.dialogue.reply import Reply
from voicetech.events import Channel, Event
from voicetech.heard import Alternative, Heard
from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.listening import DecodingBudget
from voicetech.job import Job, open_job
from voicetech.journal.store import Journal, open_journal
from voicetech.language.phrases import WordAutomaton
from voicetech.speaking.speaker import AdjustableVoice
from voicetech.talking import Talk

CLEAR = "everything is safe start again"


class ListedEar:
    """Hears what a list says; the samples hold the place in the list."""

    name = "listed"

    def __init__(self) -> None:
        self.texts: list[str] = []
        self.sure = 1.0
        self.decode_s = 0.0
        self.decoded: list[Utterance] = []
        self.written_down: list[str] = []

    def sound(self, text: str, start_s: float = 0.0, length_s: float = 1.0, whole: bool = True) -> Utterance:
        """Return a sound in which this ear hears the text."""
        self.texts.append(text)
        samples = np.full(int(length_s * RATE_HZ), len(self.texts) / 1000, np.float32)
        return Utterance(samples, start_s, start_s + length_s, whole)

    def hear(self, utterance: Utterance, automaton: WordAutomaton) -> Heard:
        self.decoded.append(utterance)
        text = self._text(utterance)
        if not automaton.accepts(text.split()):
            return Heard((), self.name, 0.0, text, self.decode_s)
        return Heard((Alternative(text, self.sure),), self.name, 1.0, text, self.decode_s)

    def write_down(self, utterance: Utterance) -> Heard:
        text = self._text(utterance)
        self.written_down.append(text)
        return Heard((Alternative(text, 1.0),) if text else (), self.name, 1.0 if text else 0.0, text)

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        return frozenset()

    def warm_up(self) -> None:
        pass

    def _text(self, utterance: Utterance) -> str:
        return self.texts[round(float(utterance.samples[0]) * 1000) - 1]


class HeldVoice(AdjustableVoice):
    """Says a prompt until it is let go or hushed; without `holds` at once."""

    def __init__(self, holds: bool = False) -> None:
        super().__init__()
        self.holds = holds
        self.said: list[str] = []
        self.tones = 0
        self.hushes = 0
        self.fails: Exception | None = None
        self._go = threading.Event()
        self.started = threading.Event()

    def say(self, text: str) -> None:
        if self.fails is not None:
            raise self.fails
        self.said.append(text)
        self.started.set()
        if self.holds:
            self._go.wait(10)
            self._go.clear()

    def tone(self) -> None:
        self.tones += 1

    def hush(self) -> None:
        self.hushes += 1
        self._go.set()

    def let_go(self) -> None:
        self._go.set()

    def close(self) -> None:
        self._go.set()


class Stage:
    """A job with everything around it."""

    def __init__(
        self,
        folder: Path,
        *,
        beside: bool = False,
        holds: bool = False,
        headset: bool = False,
        keeps_sound: bool = True,
    ) -> None:
        self.journal: Journal = open_journal(folder / "jobs.db")
        self.now_s = 1_000_000.0
        agreed = KeepSound.AGREED if keeps_sound else KeepSound.OFF
        self.job: Job
        self.job, self.first = open_job(shipped(), self.journal, "one", Channel.VOICE, lambda: self.now_s, agreed)
        self.ear = ListedEar()
        self.voice = HeldVoice(holds)
        self.sounds = folder / "sounds"
        self.replies: list[Reply] = []
        self.heard: list[tuple[str, bool]] = []
        self.told: list[str] = []
        self.recording_s = 0.0
        self.cutter = UtteranceCutter()
        self.talk = self.make(self.sounds, beside=beside, headset=headset)

    def make(
        self,
        sounds: Path | None,
        *,
        beside: bool = False,
        listens: bool = False,
        address_word: str | None = None,
        push_to_talk: bool = False,
        headset: bool = False,
        budget: DecodingBudget | None = None,
    ) -> Talk:
        return Talk(
            self.job,
            self.ear,
            self.voice,
            self.replies.append,
            sounds,
            on_heard=lambda heard, taken: self.heard.append((heard.text or heard.free_text or "", taken)),
            tell=self.told.append,
            now_s=(lambda: self.recording_s) if beside else None,
            cutter=self.cutter if beside or listens else None,
            address_word=address_word,
            push_to_talk=push_to_talk,
            headset=headset,
            budget=budget,
        )

    def say(self, *texts: str) -> None:
        for text in texts:
            self.talk.take(self.ear.sound(text))

    def events(self) -> list[Event]:
        return list(self.journal.events("one"))

    def of(self, kind: type[Event]) -> list[Event]:
        return [event for event in self.events() if isinstance(event, kind)]

    def close(self) -> None:
        self.voice.let_go()
        self.talk.close()
        self.journal.close()


Stages = Callable[..., Stage]
