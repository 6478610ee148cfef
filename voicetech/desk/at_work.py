"""A job at work behind the page: messages of tabs go to it, and everything that changes goes to every tab.

One thread does all of this. While a tab's microphone is on the same thread listens, and takes what waits between two
blocks of sound. What tabs are shown is read from the record and never from what this program believes, so that a turn
at a terminal shows like one of the page's own.
"""

import threading
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any, Final

from pydantic import TypeAdapter

from voicetech.desk.ears import Ears
from voicetech.desk.messages import Aloud, Answer, Listen, Message, Press, Quiet, Said, Stop, TakeUp, ToPage
from voicetech.desk.orders import End, Hear, Leave, Order, Show, Take
from voicetech.desk.sound import TabMicrophone, TabVoice
from voicetech.desk.tabs import Tab, Tabs
from voicetech.dialogue.given import KeepSound
from voicetech.dialogue.reply import Reply
from voicetech.events import Channel, JobOpened
from voicetech.heard import Heard, pressed_stop
from voicetech.hearing.detector import SileroDetector
from voicetech.hearing.endpoint import UtteranceCutter
from voicetech.hearing.errors import HearingError
from voicetech.hearing.listening import listen
from voicetech.hearing.recogniser import Recogniser
from voicetech.job import JobError, job_on_record
from voicetech.journal.errors import JournalError
from voicetech.journal.store import Journal
from voicetech.language.tags import ENGLISH
from voicetech.procedure import Procedure
from voicetech.showing import View, view_of
from voicetech.showing.conversation import Conversation, LineShown
from voicetech.speaking.background import BackgroundVoice
from voicetech.speaking.speaker import SpeakingError
from voicetech.talking import Talk

LOOK_S: Final = 0.4
"""Between two looks at the record and at the time: a turn at the terminal shows within this."""
TAKEN_UP: Final = "it was taken up on the page"
_VIEWS_REMEMBERED: Final = 64
_VIEWS: Final[TypeAdapter[View]] = TypeAdapter(View)
_LINES: Final[TypeAdapter[tuple[LineShown, ...]]] = TypeAdapter(tuple[LineShown, ...])
_NEVER_OPEN: Final = object()
"""What stands open for nobody: an answer to it is late."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where jobs are kept, and how the procedure that one of them follows is found."""

    record: Path
    sounds: Path
    followed: Callable[[Journal, JobOpened], Procedure]


@dataclass(slots=True)
class _Listening:
    """The tab whose microphone is on; the recogniser is None while it is being opened."""

    tab: Tab
    wish: Listen
    microphone: TabMicrophone
    recogniser: Recogniser | None = None


class AtWork:
    """One job, opened for as long as its desk stands. Raises JobError where there is none of that name."""

    def __init__(
        self,
        place: Place,
        journal: Journal,
        job: str,
        orders: SimpleQueue[Order],
        tabs: Tabs,
        voice: TabVoice,
        ears: Ears,
        clock: Callable[[], float],
        *,
        taken_up: bool,
    ) -> None:
        first = next(iter(journal.since(job, 0)), None)
        if not isinstance(first, JobOpened):
            raise JobError(f"There is no job {job} on record. Go back to the list of jobs.")
        self._place = place
        self._journal = journal
        self._orders = orders
        self._tabs = tabs
        self._voice = voice
        self._ears = ears
        self._clock = clock
        self._taken_up = taken_up
        self._job = job_on_record(place.followed(journal, first), journal, job, clock)
        self._conversation = Conversation(self._job.procedure)
        self._lines: list[LineShown] = []
        self._told_events = 0
        self._seen: dict[str, Hashable] = {}
        self._view: dict[str, Any] = {}
        self._due_s = 0.0
        self._why: str | None = None
        self._listening: _Listening | None = None
        self._talk: Talk | None = None
        self._heard = ("", "nobody")
        self._prompts = BackgroundVoice(voice, lambda: 0.0)

    def attend(self) -> str:
        """Work the job until it is left; return why. Raises JournalError where the record cannot be read."""
        self._tell_news()
        while not self._is_left():
            self._take_orders(wait_s=LOOK_S)
            self._look_about()
            listening = self._listening
            if listening is not None and listening.recogniser is not None and not self._is_left():
                self._listen(listening, listening.recogniser)
        self._prompts.close()
        return self._why or ""

    def sound(self, tab: Tab, block: bytes) -> None:
        """Take a block of sound of the tab whose microphone is on; may be called from any thread."""
        listening = self._listening
        if listening is not None and listening.tab is tab:
            listening.microphone.put(block)

    def _is_left(self) -> bool:
        return self._why is not None

    # What comes in.

    def _take_orders(self, wait_s: float = 0.0) -> None:
        """Take what waits; with `wait_s` wait so long for the first."""
        try:
            order = self._orders.get(timeout=wait_s) if wait_s else self._orders.get_nowait()
            while True:
                self._carry_out(order)
                order = self._orders.get_nowait()
        except Empty:
            return

    def _carry_out(self, order: Order) -> None:
        match order:
            case Show(tab=tab):
                self._show(tab)
            case Leave(tab=tab):
                self._leave(tab)
            case Hear():
                self._hear(order)
            case End(why=why):
                self._why = why
            case Take(tab=tab, message=message):
                try:
                    self._take(tab, message)
                except JournalError as error:
                    given_back = message.text if isinstance(message, Answer) else ""
                    _refuse(tab, f"{error} It was not taken.", given_back)

    def _take(self, tab: Tab, message: Message) -> None:
        match message:
            case Answer(text=text, open=key):
                self._answered(tab, text, self._seen.get(key, _NEVER_OPEN))
            case Stop():
                self._stopped()
            case TakeUp():
                self._take_up()
            case Listen():
                self._begin_to_listen(tab, message)
            case Quiet():
                self._be_quiet(tab)
            case Press() if self._talk is not None:
                self._talk.open_for_one()
            case Aloud(on=on):
                self._speak_in(tab if on else None)
            case Press() | Said():
                pass

    def _answered(self, tab: Tab, text: str, seen: Hashable) -> None:
        if not self._taken_up:
            _refuse(tab, "Take the job up on this page first.", text)
            return
        if self._talk is not None:
            self._talk.type_line(text, seen)
            self._talk.take_keys()
        else:
            self._replied(self._job.typed(text, Channel.PAGE, seen))
        self._tell_news()

    def _stopped(self) -> None:
        self._taken_up = True
        if self._talk is not None:
            self._talk.press_stop()
            self._talk.take_keys()
        else:
            self._replied(self._job.heard(pressed_stop(), Channel.PAGE))
        self._tell_news()

    def _take_up(self) -> None:
        if not self._here:
            self._taken_up = True
            self._replied(self._job.take_up(Channel.PAGE, TAKEN_UP))
            self._tell_news()

    def _look_about(self) -> None:
        """Show what others have gone on with, and let time pass for a job that is worked on here."""
        now_s = time.monotonic()
        if now_s < self._due_s:
            return
        self._due_s = now_s + LOOK_S
        if self._talk is not None:
            self._talk.look()
        elif self._here and not self._job.closed:
            self._replied(self._job.tick())
        self._tell_news()

    @property
    def _here(self) -> bool:
        """Return whether the job is worked on from the page now."""
        session = self._conversation.session
        return self._taken_up and session is not None and session.channel is Channel.PAGE

    # What goes out.

    def _show(self, tab: Tab) -> None:
        self._tell_news()
        self._tabs.add(tab)
        tab.send(ToPage({"kind": "lines", "afresh": True, "lines": _LINES.dump_python(tuple(self._lines))}))
        tab.send(ToPage(self._view))
        tab.send(ToPage(self._listening_for(tab)))

    def _leave(self, tab: Tab) -> None:
        self._tabs.remove(tab)
        self._be_quiet(tab)
        if self._voice.plays_in(tab.send):
            self._speak_in(None)

    def _tell_news(self) -> None:
        """Send every tab what the record has that they were not told."""
        new = self._journal.since(self._job.id, self._told_events)
        if self._view and not new:
            return
        lines = self._conversation.told(new)
        self._told_events += len(new)
        self._lines.extend(lines)
        if lines:
            self._tabs.send({"kind": "lines", "afresh": False, "lines": _LINES.dump_python(lines)})
        self._view = self._viewed()
        self._tabs.send(self._view)

    def _viewed(self) -> dict[str, Any]:
        session = self._conversation.session
        if session is None:
            raise JobError(f"The record of {self._job.id} is empty.")
        key = f"e{self._told_events}"
        self._seen[key] = session.open
        if len(self._seen) > _VIEWS_REMEMBERED:
            del self._seen[next(iter(self._seen))]
        view = view_of(self._job.procedure, session, self._clock())
        return {"kind": "view", "open": key, "here": self._here, "view": _VIEWS.dump_python(view, mode="json")}

    def _replied(self, reply: Reply) -> None:
        """Say the reply to what was typed, where a tab wants to hear it; what was being said is over."""
        if reply.lines and self._voice.audible:
            self._prompts.hush()
            if reply.speak:
                self._prompts.say(reply.speak, tone=False)

    # The microphone and the voice.

    def _begin_to_listen(self, tab: Tab, wish: Listen) -> None:
        if self._listening is not None and self._listening.tab is not tab:
            _refuse(tab, "The microphone of another tab is on. Turn it off there first.")
            tab.send(ToPage(self._listening_for(tab)))
            return
        if self._job.procedure.language != ENGLISH:
            _refuse(tab, f"This job is in {self._job.procedure.language}, and only English is heard. Type instead.")
            tab.send(ToPage(self._listening_for(tab)))
            return
        self._be_quiet(tab)
        self._take_up()
        microphone = TabMicrophone(wish.rate_hz)
        self._listening = _Listening(tab, wish, microphone)
        self._tell_listening()
        threading.Thread(target=self._open_ear, args=(microphone,), name="ear", daemon=True).start()

    def _open_ear(self, microphone: TabMicrophone) -> None:
        """Open the ear, which takes a second, while the job goes on."""
        try:
            self._orders.put(Hear(microphone, self._ears.lend(self._orders)))
        except HearingError as error:
            self._orders.put(Hear(microphone, None, str(error)))

    def _hear(self, order: Hear) -> None:
        listening = self._listening
        if listening is None:
            self._ears.give_back(self._orders)
        elif listening.microphone is not order.microphone:
            return
        elif order.recogniser is None:
            self._tabs.tell(f"{order.why_not} Go on by typing.")
            self._be_quiet(listening.tab)
        else:
            listening.recogniser = order.recogniser

    def _be_quiet(self, tab: Tab) -> None:
        if self._listening is not None and self._listening.tab is tab:
            self._listening = None
            self._ears.give_back(self._orders)
            self._tell_listening()

    def _listen(self, listening: _Listening, recogniser: Recogniser) -> None:
        """Work the job by voice until the tab's microphone is off, or the job is closed or left."""
        microphone, cutter = listening.microphone, UtteranceCutter()
        self._speak_in(listening.tab)
        talk = self._talk = Talk(
            self._job,
            recogniser,
            self._voice,
            lambda _reply: self._tell_news(),
            self._place.sounds,
            on_heard=self._was_heard,
            tell=self._tabs.tell,
            now_s=microphone.now_s,
            cutter=cutter,
            push_to_talk=listening.wish.press,
            headset=listening.wish.headset,
            channel=Channel.PAGE,
            on_hearing=lambda words: self._hears(words, "speaking"),
        )
        frames = microphone.frames(lambda: self._goes_on(listening))
        try:
            self._tell_listening()
            agreed = self._job.listen(Channel.PAGE, _keep(listening.wish))
            talk.begin(Reply((*agreed.lines, *self._job.prompt().lines)))
            talk.run(listen(frames, cutter, SileroDetector(), microphone.take_loss))
        except (HearingError, SpeakingError, JournalError) as error:
            self._tabs.tell(f"{error} Go on by typing, or turn the microphone on again.")
        finally:
            talk.close()
            self._talk = None
            self._be_quiet(listening.tab)
            self._tell_news()

    def _goes_on(self, listening: _Listening) -> bool:
        """Take what waits between two blocks of sound; return whether this microphone is still on."""
        self._take_orders()
        self._look_about()
        return not self._is_left() and self._listening is listening and not self._job.closed

    def _was_heard(self, heard: Heard, taken: bool) -> None:
        self._hears(heard.text or heard.free_text or "", "taken" if taken else "overheard")

    def _hears(self, words: str, heard: str) -> None:
        if (words, heard) != self._heard:
            self._heard = (words, heard)
            self._tell_listening()

    def _tell_listening(self) -> None:
        for tab in self._tabs:
            tab.send(ToPage(self._listening_for(tab)))

    def _listening_for(self, tab: Tab) -> dict[str, Any]:
        listening = self._listening
        if listening is None:
            return {"kind": "listening", "state": "off", "words": "", "heard": "nobody"}
        words, heard = self._heard
        mine = "starting" if self._talk is None else "on"
        state = mine if listening.tab is tab else "elsewhere"
        return {"kind": "listening", "state": state, "words": words, "heard": heard}

    def _speak_in(self, tab: Tab | None) -> None:
        """Have prompts spoken in this tab, or in none."""
        self._voice.play_in(None if tab is None else tab.send)


def _refuse(tab: Tab, why: str, answer: str = "") -> None:
    """Say why something was not done; an answer that was not taken is given back."""
    tab.send(ToPage({"kind": "error", "text": why, "answer": answer}))


def _keep(wish: Listen) -> KeepSound:
    match wish.keep:
        case True:
            return KeepSound.AGREED
        case False:
            return KeepSound.REFUSED
        case None:
            return KeepSound.OFF
