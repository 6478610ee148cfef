"""A job by voice: what was heard goes to the job, its sound is kept, and the reply is spoken.

While the program speaks it goes on listening, for danger words and a wish for silence; with a headset, which does not
hear the program, for everything.
"""

import threading
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Final, assert_never

from voicetech.dialogue.given import Weighed
from voicetech.dialogue.reply import LineKind, Reply
from voicetech.events import Channel, DangerStopped, VoiceChanged
from voicetech.heard import Heard, pressed_stop, typed
from voicetech.hearing.endpoint import EndpointSettings, UtteranceCutter
from voicetech.hearing.frames import Utterance
from voicetech.hearing.listening import LOOK_BACK_S, DecodingBudget, Paused, Quiet, Sound, Unfinished
from voicetech.hearing.own_voice import OwnVoice
from voicetech.hearing.recogniser import Recogniser
from voicetech.hearing.second_ear import first_ear
from voicetech.job import Job
from voicetech.journal.errors import JournalError
from voicetech.journal.sounds import save_sound
from voicetech.language.ending import is_over
from voicetech.language.meaning import Command, CommandSaid, CorrectionSaid, DangerSaid, Question
from voicetech.speaking.background import BackgroundVoice
from voicetech.speaking.speaker import Speaker, Step
from voicetech.talking.answers import AddressedEar, heard_for
from voicetech.talking.danger_watch import DangerWatch
from voicetech.turn import Turn

TICK_S: Final = 20.0
"""Between two looks at the time while nobody speaks: a proof of dead that runs out is said within this."""
LONG_S: Final = 3.0
"""Speech that goes on for longer is looked into for danger words before it ends. Judgement, no source."""
SPEAKING_END_S: Final = EndpointSettings().pause_s
"""Silence that ends an utterance begun while the program speaks: a cry is short, and the prompt's own last word, which
the microphone hears too, must not join the answer that follows it."""
REACTION_S: Final = 0.2
"""Nobody answers a question sooner than this after it began: what was begun before belongs to something else. Common
practice, no source."""
SAY_ON_AFTER_S: Final = 1.5
"""A prompt that was silenced in vain is said again when nobody has spoken for this long: time to repeat a cry that the
prompt had covered. Judgement, no source."""
PRESS_OPEN_S: Final = 10.0
"""One press opens for an answer that begins within this. Judgement, no source."""
_ANSWER_END_S: Final = EndpointSettings().end_silence_s


@dataclass(frozen=True, slots=True)
class _Looked:
    """What was heard up to a pause, and the question it was heard for."""

    speech_end_s: float | None
    question: Question
    heard: Heard


class Talk:
    """One job, one recogniser, one voice.

    `on_heard` is given what was heard and whether it was meant for the program, `on_reply` each reply before it is
    spoken, `tell` what went wrong without stopping the job. `sounds` is the folder answers are kept in once that is
    agreed, None for none. `now_s` is the time of the recording that goes on while the program speaks; without it the
    program waits until it has spoken. `cutter` is the one that cuts the sound, so that it can be told how long to wait.

    With an `address_word` only what begins with it is an answer; with `push_to_talk` only what is said after
    `open_for_one`. Danger needs neither. With a `headset` the microphone does not hear the program, and an answer
    given while it speaks silences it and is taken. `on_hearing` is given the words of an answer that goes on, as far as
    they are understood.
    """

    def __init__(
        self,
        job: Job,
        recogniser: Recogniser,
        speaker: Speaker,
        on_reply: Callable[[Reply], None],
        sounds: Path | None = None,
        *,
        on_heard: Callable[[Heard, bool], None] = lambda _heard, _taken: None,
        tell: Callable[[str], None] = lambda _words: None,
        now_s: Callable[[], float] | None = None,
        cutter: UtteranceCutter | None = None,
        address_word: str | None = None,
        push_to_talk: bool = False,
        headset: bool = False,
        budget: DecodingBudget | None = None,
        channel: Channel = Channel.VOICE,
        on_hearing: Callable[[str], None] | None = None,
    ) -> None:
        self.job = job
        self._channel = channel
        self._on_hearing = on_hearing
        self.cutter = cutter
        self._recogniser = recogniser
        self._addressed = None if address_word is None else AddressedEar(job, recogniser, address_word)
        self._watch = DangerWatch(job, first_ear(recogniser), streams=cutter is not None, budget=budget)
        self._speaker = speaker
        self._voice = BackgroundVoice(speaker, now_s or (lambda: 0.0))
        self._on_reply = on_reply
        self._on_heard = on_heard
        self._tell = tell
        self._sounds = sounds
        self._now_s = now_s
        self._headset = headset
        self._push_to_talk = push_to_talk
        self._pressed_s: float | None = None
        self._stop_pressed = threading.Event()
        self._typed: SimpleQueue[tuple[str, Hashable | None]] = SimpleQueue()
        self._own_voice = OwnVoice()
        self._ticked_s = 0.0
        self._asked_s = -REACTION_S
        self._say_on_s: float | None = None
        self._cries = 0
        self._cried = ""
        self._misheard = ""
        self._looked: _Looked | None = None

    def begin(self, first: Reply) -> None:
        """Show and say the reply the job was opened with."""
        self._answer(first)

    def run(self, sounds: Iterable[Sound]) -> None:
        """Work the job until it is closed or the sound ends.

        Raises SpeakingError where the voice fails, and what `sounds` raises: HearingError from a microphone that
        has gone for good. The job is on record up to the last answer.
        """
        for sound in sounds:
            self._voice.check()
            self.take_keys()
            match sound:
                case Utterance():
                    self.take(sound)
                    self._ticked_s = sound.end_s
                case Paused():
                    self._pause(sound.utterance)
                case Unfinished():
                    self._look(sound)
                case Quiet(at_s=at_s):
                    self._say_on(at_s)
                    self._let_time_pass(at_s)
                case _:
                    assert_never(sound)
            self._wait_as_asked()
            if self.job.closed:
                break
        self._voice.wait()

    def take(self, utterance: Utterance) -> None:
        """Take one utterance: answer it, or only look for danger in it where it was said into a prompt."""
        prompt = self._prompt_during(utterance)
        silenced, self._cries = self._cries > 0, 0
        if not prompt and self._is_open(utterance):
            heard = self._known(utterance) or self._heard(utterance)
            if self._is_late(heard, utterance):
                heard = replace(heard, for_us=0.0)
            taken = self._give(heard, utterance)
        else:
            danger = self._watch.find(utterance, prompt)
            taken = danger is not None
            if danger is not None:
                self._voice.hush()
                self._give(danger, utterance)
            elif prompt and not self._must_be_said_out:
                self._own_voice.learn(utterance.samples)
        if silenced and not taken:
            # A look into the unfinished sound silenced the prompt, and the whole of it was not for the program. It was
            # perhaps the prompt itself: said again, it must not be silenced again for the same words.
            self._misheard = self._cried
            self._say_on_s = utterance.end_s + SAY_ON_AFTER_S

    def open_for_one(self) -> None:
        """Take what is said next as an answer, and silence the voice for it; may be called from any thread."""
        self._pressed_s = self._time_s()
        self._voice.hush()

    def press_stop(self) -> None:
        """Silence the voice now and stop the job with the next sound; may be called from any thread."""
        self._stop_pressed.set()
        self._voice.hush()

    def type_line(self, line: str, seen: Hashable | None = None) -> None:
        """Take a typed line with the next sound, as an answer that is always sure; may be called from any thread.

        `seen` is what was open for whoever typed it, where that may have changed meanwhile.
        """
        self._typed.put((line, seen))

    def look(self) -> None:
        """Show and say what stands open where somebody else has gone on with the job."""
        before = self.job.session.open
        if self.job.look() and self.job.session.open != before:
            self._asked_s = self._time_s()
            self._answer(self.job.prompt())

    def remark(self, words: str) -> None:
        """Show and say something about the program itself; it is on record like all that is said."""
        self._answer(self.job.remark(words))

    def close(self) -> None:
        """Silence the voice. The speaker itself stays open."""
        self._voice.close()

    def take_keys(self) -> None:
        """Take what was typed and whether stop was pressed; `run` does so with each sound."""
        if self._stop_pressed.is_set():
            self._stop_pressed.clear()
            self._give(pressed_stop(), None)
        while True:
            try:
                line, seen = self._typed.get_nowait()
            except Empty:
                return
            self._give(typed(line), None, seen)

    def _heard(self, utterance: Utterance) -> Heard:
        if self._addressed is not None:
            heard = self._addressed.hear(utterance)
            long = True
        else:
            heard = heard_for(self.job, self._recogniser, utterance)
            long = utterance.length_s > LOOK_BACK_S
        if long and not self._taken(heard):
            return self._watch.find(utterance) or heard
        return heard

    def _known(self, utterance: Utterance) -> Heard | None:
        """Return what the look at the last pause heard, where nothing was said since and the question is the same."""
        looked, self._looked = self._looked, None
        if looked is None or looked.speech_end_s != utterance.speech_end_s or looked.question != self.job.question:
            return None
        return looked.heard

    def _is_open(self, utterance: Utterance) -> bool:
        """Return whether what was said may be an answer; with push-to-talk each press opens for one."""
        if not self._push_to_talk:
            return True
        return self._pressed_s is not None and _spoken_from_s(utterance) <= self._pressed_s + PRESS_OPEN_S

    def _is_late(self, heard: Heard, utterance: Utterance) -> bool:
        """Return whether this was begun before its question was, and goes on with something else that was said."""
        if utterance.speech_start_s is None or utterance.speech_start_s >= self._asked_s + REACTION_S:
            return False
        meaning = self.job.weighed(heard, Channel.VOICE).meaning
        return not isinstance(meaning, (CommandSaid, CorrectionSaid, DangerSaid))

    def _taken(self, heard: Heard) -> bool:
        words = self.job.weighed(heard, Channel.VOICE)
        if self.job.session.turn is Turn.ON_CALL:
            resumes = isinstance(words.meaning, CommandSaid) and words.meaning.command is Command.RESUME
            return resumes or isinstance(words.meaning, DangerSaid)
        return words.weighed is not Weighed.IGNORED

    def _give(self, heard: Heard, utterance: Utterance | None, seen: Hashable | None = None) -> bool:
        """Give the job what was heard, answer, and return whether it was meant for the program."""
        taken = self._taken(heard)
        if taken:
            self._pressed_s = None
        interrupts = taken and self._headset and self._voice.busy
        if interrupts:
            self._voice.hush()
        kept = self._keep(utterance) if taken and utterance is not None else None
        self._on_heard(heard, taken)
        reply = self.job.heard(heard, self._channel, kept, seen)
        hushed = False
        for event in self.job.caused:
            match event:
                case DangerStopped():
                    self._voice.hush()
                case VoiceChanged(how=how):
                    hushed = how == "hush"
                    self._change_voice(how)
                case _:
                    pass
        if reply.lines:
            self._misheard = ""
        if reply.lines and utterance is not None:
            self._asked_s = self._time_s()
        self._answer(reply)
        if interrupts and not hushed and not asks(reply) and self.job.session.turn in _WAITING_FOR_AN_ANSWER:
            self._answer(self.job.prompt())
        return taken

    def _change_voice(self, how: str) -> None:
        if how == "hush":
            self._voice.hush()
        else:
            self._speaker.adjust(Step(how))

    def _answer(self, reply: Reply) -> None:
        if not reply.lines:
            return
        self._say_on_s = None
        self._on_reply(reply)
        if reply.speak:
            self._voice.say(reply.speak, tone=asks(reply) and not self.job.closed)
        if self._now_s is None:
            self._voice.wait()

    def _keep(self, utterance: Utterance) -> str | None:
        """Return the name of the kept sound; without room for it the job goes on, and that is told."""
        if self._sounds is None or not self.job.session.sound_kept or not len(utterance.samples):
            return None
        try:
            return save_sound(self._sounds, utterance.samples)
        except JournalError as error:
            self._sounds = None
            self._tell(f"{error} The job goes on without sounds.")
            return None

    def _time_s(self) -> float:
        """Return the time of the recording by now."""
        if self._now_s is not None:
            return self._now_s()
        return self.cutter.at_s if self.cutter is not None else 0.0

    def _prompt_during(self, utterance: Utterance) -> str:
        """Return the prompts that the microphone could hear while somebody spoke in the utterance."""
        if self._now_s is None or self._headset:
            return ""
        return self._voice.words_during(_spoken_from_s(utterance), utterance.end_s)

    def _pause(self, utterance: Utterance) -> None:
        """Look at what was said when somebody stops for a moment, and end it there where nothing could follow."""
        if self.cutter is None:
            return
        prompt = self._prompt_during(utterance)
        if prompt or not self._is_open(utterance):
            if prompt and not self._watch.budget.allows(utterance.end_s):
                return
            danger = self._watch.find(utterance, prompt)
            if danger is not None:
                self._alarm(danger)
            return
        if self.job.wants_free_words:
            return
        heard = self._heard(utterance)
        self._show_heard(heard)
        self._looked = _Looked(utterance.speech_end_s, self.job.question, heard)
        if self._is_over(heard):
            ended = self.cutter.end_here()
            if ended is not None:
                self.take(ended)

    def _is_over(self, heard: Heard) -> bool:
        if self.job.weighed(heard, Channel.VOICE).weighed not in (Weighed.ACCEPTED, Weighed.ASK):
            return False
        return is_over(heard, self.job.question, self.job.grammar(), self.job.lexicon)

    def _alarm(self, danger: Heard) -> None:
        ended = None if self.cutter is None else self.cutter.end_here()
        self._cries = 0
        self._voice.hush()
        self._give(danger, ended)

    def _look(self, unfinished: Unfinished) -> None:
        """Look into sound that goes on: silence the voice at once, and wait no longer than for a second cry."""
        window = unfinished.utterance
        prompt = self._prompt_during(window)
        speaking = bool(prompt) or (self._headset and (self._voice.busy or self._cries > 0))
        if prompt and self._is_raised_over_it(window):
            self._cried = ""
            self._cry()
            return
        if speaking and not self._watch.budget.allows(window.end_s):
            return
        if not speaking:
            self._show_unfinished(window)
        if not speaking and unfinished.open_s < LONG_S:
            return
        if speaking and self._headset and self._is_open(window):
            self._look_for_an_answer(window)
            return
        cry = self._watch.look(unfinished, f"{prompt} {self._misheard}" if prompt else "")
        if cry is not None:
            self._cried = cry.text
            self._cry()

    def _show_unfinished(self, window: Utterance) -> None:
        if self._on_hearing is not None and self._is_open(window):
            self._show_heard(heard_for(self.job, first_ear(self._recogniser), window))

    def _show_heard(self, heard: Heard) -> None:
        if self._on_hearing is not None:
            self._on_hearing(heard.text)

    @property
    def _must_be_said_out(self) -> bool:
        """Return whether what is being said tells people how to get out of danger: shouting does not silence that."""
        return self.job.session.turn is Turn.STOPPED

    def _is_raised_over_it(self, window: Utterance) -> bool:
        if self._cries or self._must_be_said_out:
            return False
        return self._own_voice.is_spoken_over(window.samples)

    def _look_for_an_answer(self, window: Utterance) -> None:
        """Silence the voice where somebody with a headset seems to answer; the end of it decides."""
        ear = self._addressed
        heard = heard_for(self.job, first_ear(self._recogniser), window) if ear is None else ear.hear(window)
        self._watch.budget.spend(heard.decode_s)
        if isinstance(self.job.weighed(heard, Channel.VOICE).meaning, DangerSaid):
            self._cry()
        elif self._taken(heard):
            self._cries += 1
            self._voice.hush()

    def _cry(self) -> None:
        self._cries += 1
        self._voice.hush()
        if self._cries > 1 and self.cutter is not None:
            ended = self.cutter.end_now()
            if ended is not None:
                self.take(ended)

    def _say_on(self, at_s: float) -> None:
        if self._say_on_s is not None and at_s >= self._say_on_s and not self._voice.busy:
            self._answer(self.job.prompt())

    def _let_time_pass(self, at_s: float) -> None:
        if at_s - self._ticked_s < TICK_S or self._voice.busy:
            return
        self._ticked_s = at_s
        self.look()
        self._answer(self.job.tick())

    def _wait_as_asked(self) -> None:
        """Tell the cutter how much silence ends what may be said now."""
        if self.cutter is None:
            return
        end_s = SPEAKING_END_S if self._is_into_a_prompt(self.cutter) else _ANSWER_END_S
        if self.cutter.settings.end_silence_s != end_s:
            self.cutter.settings = replace(self.cutter.settings, end_silence_s=end_s)

    def _is_into_a_prompt(self, cutter: UtteranceCutter) -> bool:
        """Return whether what is said now, or was begun and goes on, is said into a prompt."""
        if self._headset:
            return False
        return self._voice.busy or (cutter.speaking and bool(self._prompt_during(cutter.said())))


_WAITING_FOR_AN_ANSWER: Final = frozenset(
    {Turn.ASKING, Turn.CONFIRMING, Turn.CHOOSING, Turn.PROBES_ON, Turn.REASON, Turn.SAFETY_QUESTION}
)


def _spoken_from_s(utterance: Utterance) -> float:
    return utterance.start_s if utterance.speech_start_s is None else utterance.speech_start_s


def asks(reply: Reply) -> bool:
    """Return whether the reply ends in a prompt or a question."""
    return any(line.kind in (LineKind.PROMPT, LineKind.QUESTION) for line in reply.lines)
