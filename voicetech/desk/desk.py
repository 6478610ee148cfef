"""One job behind the page, as everything outside its thread sees it."""

import threading
import time
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import Final

from voicetech.desk.at_work import AtWork, Place
from voicetech.desk.ears import Ears
from voicetech.desk.messages import Message, Said, Stop, ToPage
from voicetech.desk.orders import End, Leave, Order, Show, Take
from voicetech.desk.sound import TabVoice
from voicetech.desk.tabs import Tab, Tabs
from voicetech.job import JobError
from voicetech.journal.errors import JournalError
from voicetech.journal.store import open_journal

_LEAVING_S: Final = 2.0


class Desk:
    """One job. `taken_up` says that it was begun here; another is only looked at until somebody takes it up.

    May be used from any thread. The job itself and the record's connection belong to the desk's own.
    """

    def __init__(
        self, place: Place, job: str, ears: Ears, *, taken_up: bool, clock: Callable[[], float] = time.time
    ) -> None:
        self._place = place
        self._job = job
        self._ears = ears
        self._clock = clock
        self._taken_up = taken_up
        self._orders: SimpleQueue[Order] = SimpleQueue()
        self._tabs = Tabs()
        self._voice = TabVoice(self._tabs.tell)
        self._at_work: AtWork | None = None
        self._ended = threading.Event()
        self._why = ""
        threading.Thread(target=self._work, name=f"job {job}", daemon=True).start()

    @property
    def ended(self) -> bool:
        """Return whether the job was left here; its tabs were told why."""
        return self._ended.is_set()

    def show(self, tab: Tab) -> None:
        """Send the tab what stands open and the conversation so far, and all that follows."""
        self._orders.put(Show(tab))
        if self.ended:
            self._turn_away()

    def leave(self, tab: Tab) -> None:
        """Send the tab nothing more; its microphone is off."""
        self._orders.put(Leave(tab))

    def take(self, tab: Tab, message: Message) -> None:
        """Take a message of a tab."""
        if isinstance(message, Said):
            self._voice.played(message.nr, message.failed)
            return
        if isinstance(message, Stop):
            # Whatever the thread is at, a prompt must not be in the way of what is said next.
            self._voice.hush()
        self._orders.put(Take(tab, message))

    def sound(self, tab: Tab, block: bytes) -> None:
        """Take a block of sound of the tab whose microphone is on."""
        if self._at_work is not None:
            self._at_work.sound(tab, block)

    def end(self, why: str) -> None:
        """Tell every tab why the job is left here, and let go of it; nothing on record changes."""
        self._orders.put(End(why))
        self._ended.wait(_LEAVING_S)

    def _work(self) -> None:
        self._why = self._worked()
        self._ears.give_back(self._orders)
        self._voice.close()
        self._ended.set()
        self._tabs.send({"kind": "ended", "text": self._why})
        self._turn_away()

    def _turn_away(self) -> None:
        """Tell tabs that come too late why the job is left; both threads do, so that none is missed between them."""
        while True:
            try:
                order = self._orders.get_nowait()
            except Empty:
                return
            if isinstance(order, Show):
                order.tab.send(ToPage({"kind": "ended", "text": self._why}))

    def _worked(self) -> str:
        """Work the job until it is left; return why, in plain words."""
        try:
            with open_journal(self._place.record) as journal:
                self._at_work = AtWork(
                    self._place,
                    journal,
                    self._job,
                    self._orders,
                    self._tabs,
                    self._voice,
                    self._ears,
                    self._clock,
                    taken_up=self._taken_up,
                )
                return self._at_work.attend()
        except (JobError, JournalError) as error:
            return str(error)
        except Exception as error:  # noqa: BLE001 - in this thread nobody would see it
            return (
                f"The program failed at this job ({type(error).__name__}: {error}). It is on record up to the last "
                "answer. Reload the page to go on."
            )
