"""A job by voice: what was heard goes to the job, its sound is kept, and the reply is spoken.

While the program speaks it goes on listening, for danger words and a wish for silence. Nothing here knows what words
mean: the job does.
"""

import re
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final, assert_never

from voicetech.dialogue.given import Weighed
from voicetech.dialogue.reply import LineKind, Reply
from voicetech.events import Channel, DangerStopped, VoiceChanged
from voicetech.heard import Alternative, Heard
from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.frames import RATE_HZ, Utterance
from voicetech.hearing.listening import LOOK_BACK_S, Quiet, Sound, Unfinished
from voicetech.hearing.recogniser import Recogniser
from voicetech.job import Job
from voicetech.journal.errors import JournalError
from voicetech.journal.sounds import save_sound
from voicetech.language.automaton import after_word
from voicetech.language.grammar import compile_words, spoken_grammar
from voicetech.language.meaning import Asking, Command, CommandSaid, DangerSaid, Question
from voicetech.speaking.background import BackgroundVoice
from voicetech.speaking.speaker import Speaker, Step
from voicetech.weigh import FOR_US_AT_LEAST

TICK_S: Final = 20.0
"""Between two looks at the time while nobody speaks: a proof of dead that runs out is said within this."""
LONG_S: Final = 3.0
"""Speech that goes on for longer is looked into for danger words before it ends. Judgement, no source."""
SPEAKING_END_S: Final = 0.3
"""Silence that ends an utterance while the program speaks: a cry is short, and its own prompt must not join it."""
_END_S: Final = {
    Asking.YES_NO: 0.5,
    Asking.CHOICE: 0.5,
    Asking.COMMAND: 0.5,
    Asking.INSPECTION: 0.5,
    Asking.SERIAL: 1.2,
    Asking.NOTE: 1.2,
}
"""Silence that ends an answer, by what was asked; judgement, no source. People pause inside notes and groups of
letters, and a "yes" is over when it is over."""
READING_END_S: Final = 0.7
"""A reading pauses too ("two hundred ... eight"), and cut in two it is another reading."""
_PIECE: Final = int(LOOK_BACK_S * RATE_HZ)
_DOUBT: Final = 0.5
"""What is left of a probability where part of the sound is missing: too little to be taken, enough for danger."""
_ALIKE: Final = 4
"""Letters that make two words of one family: spark, sparks, sparking."""


def heard_for(job: Job, recogniser: Recogniser, utterance: Utterance) -> Heard:
    """Return what an utterance says to the job's open question.

    Notes and reasons are written down freely, everything else is heard within the grammar. Where the grammar does
    not fit, danger and a note in free words still count. Sound that is not whole is never sure.
    """
    if job.wants_free_words:
        return recogniser.write_down(utterance)
    heard = recogniser.hear(utterance, job.grammar())
    free = _freely(heard)
    if heard.for_us < FOR_US_AT_LEAST and free is not None:
        meaning = job.weighed(free, Channel.VOICE).meaning
        if isinstance(meaning, DangerSaid) or _is_note(meaning):
            return free
    return heard if utterance.whole else _doubted(heard)


def heard_addressed(job: Job, recogniser: Recogniser, utterance: Utterance, word: str) -> Heard:
    """Return what is said after the address word; nothing for the program where the word does not come first."""
    if job.wants_free_words:
        heard = recogniser.write_down(utterance)
    else:
        heard = recogniser.hear(utterance, after_word(word, job.grammar()))
    said = re.compile(rf"\W*{re.escape(word)}\b[\W]*", re.IGNORECASE)
    addressed = tuple(
        Alternative(a.text[found.end() :], a.probability)
        for a in heard.alternatives
        if (found := said.match(a.text)) is not None
    )
    if not addressed:
        return replace(heard, alternatives=(), for_us=0.0)
    free = said.sub("", heard.free_text, count=1) if heard.free_text else heard.free_text
    answer = replace(heard, alternatives=addressed, free_text=free)
    return answer if utterance.whole else _doubted(answer)


def fit_address_word(job: Job, word: str) -> str:
    """Return the address word in lower case; ValueError, saying why, where it cannot be one."""
    plain = word.strip().lower()
    if not re.fullmatch("[a-z]{4,15}", plain):
        raise ValueError("The address word has to be one word of 4 to 15 letters, such as: wrench")
    if plain in job.lexicon.known:
        raise ValueError(f"{plain!r} is also an answer or a request. Choose a word that no answer holds.")
    return plain


def _is_hush(meaning: object) -> bool:
    return isinstance(meaning, CommandSaid) and meaning.command is Command.HUSH


def _is_note(meaning: object) -> bool:
    return isinstance(meaning, CommandSaid) and meaning.command is Command.NOTE and bool(meaning.argument)


def _freely(heard: Heard) -> Heard | None:
    if not heard.free_text:
        return None
    return Heard((Alternative(heard.free_text, 1.0),), heard.engine, 1.0, heard.free_text, heard.decode_s)


def _doubted(heard: Heard) -> Heard:
    return replace(heard, alternatives=tuple(Alternative(a.text, a.probability * _DOUBT) for a in heard.alternatives))


class Talk:
    """One job, one recogniser, one voice.

    `on_heard` is given what was heard and whether it was meant for the program, `on_reply` each reply before it is
    spoken, `tell` what went wrong without stopping the job. `sounds` is the folder answers are kept in, None for
    none. `now_s` is the time of the recording that goes on while the program speaks; without it the program waits
    until it has spoken. `cutter` is the one that cuts the sound, so that it can be told how long to wait.

    With an `address_word` only what begins with it is an answer; with `push_to_talk` only what is said after
    `open_for_one`. Danger needs neither.
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
    ) -> None:
        self.job = job
        self._recogniser = recogniser
        self._speaker = speaker
        self._on_reply = on_reply
        self._on_heard = on_heard
        self._tell = tell
        self._sounds = sounds
        self._beside = now_s is not None
        self.cutter = cutter
        self._voice = BackgroundVoice(speaker, now_s or (lambda: 0.0))
        # Danger beside everything else that is said at work: a number has to be heard as itself, or "five" is "fire".
        self._anything = compile_words(spoken_grammar(Question(Asking.ANY), job.lexicon))
        self._stop_pressed = threading.Event()
        self._address_word = address_word
        self._open_for_one = threading.Event()
        self._push_to_talk = push_to_talk
        self._ticked_s = 0.0
        self._cries = 0

    def begin(self, first: Reply) -> None:
        """Show and say the reply the job was opened with."""
        self._answer(first)

    def run(self, sounds: Iterable[Sound]) -> None:
        """Work the job until it is closed or the sound ends.

        Raises SpeakingError where the voice fails, and what `sounds` raises: HearingError from a microphone that
        has gone. The job is on record up to the last answer.
        """
        for sound in sounds:
            self._voice.check()
            if self._stop_pressed.is_set():
                self._stop_pressed.clear()
                self._give(Heard((Alternative("stop", 1.0),), "key"), None)
            match sound:
                case Utterance():
                    self.take(sound)
                    self._ticked_s = sound.end_s
                case Unfinished():
                    self._look(sound)
                case Quiet(at_s=at_s):
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
        if not prompt and self._is_open():
            self._give(self._heard(utterance), utterance)
            return
        danger = self._danger_in(utterance, prompt)
        if danger is not None:
            self._voice.hush()
            self._give(danger, utterance)
        elif silenced:
            # A look into the unfinished sound silenced the prompt, and the whole of it holds no danger.
            self._answer(self.job.prompt())

    def open_for_one(self) -> None:
        """Take what is said next as an answer, and silence the voice for it; may be called from any thread."""
        self._open_for_one.set()
        self._voice.hush()

    def press_stop(self) -> None:
        """Silence the voice now and stop the job with the next sound; may be called from any thread."""
        self._stop_pressed.set()
        self._voice.hush()

    def close(self) -> None:
        """Silence the voice. The speaker itself stays open."""
        self._voice.close()

    def _heard(self, utterance: Utterance) -> Heard:
        word = self._address_word
        if word is None:
            heard = heard_for(self.job, self._recogniser, utterance)
        else:
            heard = heard_addressed(self.job, self._recogniser, utterance, word)
        if word is not None and not self._taken(heard):
            return self._danger_in(utterance, "") or heard
        if len(utterance.samples) <= _PIECE or self._taken(heard):
            return heard
        return self._danger_in(utterance, "") or heard

    def _is_open(self) -> bool:
        """Return whether what was said may be an answer; with push-to-talk each press opens for one."""
        if not self._push_to_talk:
            return True
        pressed = self._open_for_one.is_set()
        self._open_for_one.clear()
        return pressed

    def _taken(self, heard: Heard) -> bool:
        return self.job.weighed(heard, Channel.VOICE).weighed is not Weighed.IGNORED

    def _give(self, heard: Heard, utterance: Utterance | None) -> None:
        taken = self._taken(heard)
        kept = self._keep(utterance) if taken and utterance is not None else None
        self._on_heard(heard, taken)
        reply = self.job.heard(heard, Channel.VOICE, kept)
        for event in self.job.caused:
            match event:
                case DangerStopped():
                    self._voice.hush()
                case VoiceChanged(how=how):
                    self._change_voice(how)
                case _:
                    pass
        self._answer(reply)

    def _change_voice(self, how: str) -> None:
        if how == "hush":
            self._voice.hush()
        else:
            self._speaker.adjust(Step(how))

    def _answer(self, reply: Reply) -> None:
        if not reply.lines:
            return
        self._on_reply(reply)
        if reply.speak:
            asks = any(line.kind in (LineKind.PROMPT, LineKind.QUESTION) for line in reply.lines)
            self._voice.say(reply.speak, tone=asks and not self.job.closed)
        if not self._beside:
            self._voice.wait()

    def _keep(self, utterance: Utterance) -> str | None:
        """Return the name of the kept sound; without room for it the job goes on, and that is told."""
        if self._sounds is None or not len(utterance.samples):
            return None
        try:
            return save_sound(self._sounds, utterance.samples)
        except JournalError as error:
            self._sounds = None
            self._tell(f"{error} The job goes on without sounds.")
            return None

    def _prompt_during(self, utterance: Utterance) -> str:
        """Return the prompts that were being said while somebody spoke in the utterance."""
        if not self._beside:
            return ""
        before_s = self.cutter.settings.pre_roll_s if self.cutter else 0.0
        return self._voice.words_during(utterance.start_s + before_s, utterance.end_s)

    def _look(self, unfinished: Unfinished) -> None:
        """Look for danger in sound that goes on: silence the voice at once, and wait no longer for its end."""
        prompt = self._prompt_during(unfinished.utterance)
        if not prompt and unfinished.open_s < LONG_S:
            return
        if self._danger_in(unfinished.utterance, prompt) is None:
            return
        self._cries += 1
        self._voice.hush()
        if self._cries > 1 and self.cutter is not None:
            ended = self.cutter.end_now()
            if ended is not None:
                self.take(ended)

    def _danger_in(self, utterance: Utterance, prompt: str) -> Heard | None:
        """Return the first present danger words that the prompt does not hold itself, or None.

        Into a prompt, a wish for silence counts too.
        """
        for piece in _pieces(utterance):
            heard = self._recogniser.hear(piece, self._anything)
            for candidate in (heard, _freely(heard)):
                if candidate is None:
                    continue
                meaning = self.job.weighed(candidate, Channel.VOICE).meaning
                if isinstance(meaning, DangerSaid) and meaning.present and not _holds(prompt, meaning.words):
                    return candidate
                if prompt and _is_hush(meaning) and not _holds(prompt, candidate.text):
                    return candidate
        return None

    def _let_time_pass(self, at_s: float) -> None:
        if at_s - self._ticked_s < TICK_S or self._voice.busy:
            return
        self._ticked_s = at_s
        self._answer(self.job.tick())

    def _wait_as_asked(self) -> None:
        """Tell the cutter how much silence ends what may be said now."""
        if self.cutter is None:
            return
        end_s = SPEAKING_END_S if self._voice.busy else _END_S.get(self.job.question.asking, READING_END_S)
        if self.cutter.settings.end_silence_s != end_s:
            self.cutter.settings = replace(self.cutter.settings, end_silence_s=end_s)


def _pieces(utterance: Utterance) -> Iterator[Utterance]:
    """Yield the utterance, or stretches of a long one that overlap by half."""
    samples = utterance.samples
    if len(samples) <= _PIECE:
        yield utterance
        return
    for at in range(0, len(samples) - _PIECE // 2, _PIECE // 2):
        start_s = utterance.start_s + at / RATE_HZ
        yield Utterance(samples[at : at + _PIECE], start_s, start_s + LOOK_BACK_S, whole=False)


def _holds(prompt: str, words: str) -> bool:
    """Return whether the prompt itself holds every one of the words, in some form."""
    said = {word[:_ALIKE] for word in re.findall(r"[a-z']+", prompt.lower())}
    return bool(said) and all(word[:_ALIKE] in said for word in words.lower().split())
