"""A tab of the browser that keeps what it is sent, and a desk for it to sit at."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.dialogue.talker import shipped
from voicetech.desk.at_work import Place
from voicetech.desk.desk import Desk
from voicetech.desk.ears import Ears
from voicetech.desk.messages import Answer, Message, Said, ToPage
from voicetech.events import Channel, Event
from voicetech.hearing.errors import HearingError
from voicetech.hearing.recogniser import Recogniser
from voicetech.job import open_job
from voicetech.journal.store import open_journal

PATIENCE_S = 20.0


class KeptTab:
    """Keeps every message; a sound is played at once, unless `holds`."""

    def __init__(self, holds: bool = False) -> None:
        self.messages: list[ToPage] = []
        self.desk: Desk | None = None
        self._holds = holds
        self._news = threading.Condition()

    def send(self, message: ToPage) -> None:
        with self._news:
            self.messages.append(message)
            self._news.notify_all()
        if message.told["kind"] == "say" and self.desk is not None and not self._holds:
            self.desk.take(self, Said(kind="said", nr=message.told["nr"]))

    def until(self, holds: Callable[[], bool], what: str = "it") -> None:
        """Wait until this holds of what was sent."""
        with self._news:
            assert self._news.wait_for(holds, PATIENCE_S), (
                f"{what} did not come; {[m.told for m in self.messages[-3:]]}"
            )

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [message.told for message in tuple(self.messages) if message.told["kind"] == kind]

    @property
    def shown(self) -> dict[str, Any]:
        """Return the last view message, waiting for the first."""
        self.until(lambda: bool(self.of("view")), "a view")
        return self.of("view")[-1]

    @property
    def view(self) -> dict[str, Any]:
        view: dict[str, Any] = self.shown["view"]
        return view

    @property
    def lines(self) -> list[dict[str, Any]]:
        lines: list[dict[str, Any]] = []
        for told in self.of("lines"):
            lines = ([] if told["afresh"] else lines) + list(told["lines"])
        return lines

    def answer(self, *texts: str) -> dict[str, Any]:
        """Answer what is shown, each time what is shown by then, and return the view after the last."""
        for text in texts:
            self.send_message(Answer(kind="answer", text=text, open=self.shown["open"]))
        return self.view

    def send_message(self, message: Message) -> None:
        """Send a message and wait for a new view, an error or the end."""
        assert self.desk is not None
        before = len(self.messages)
        self.desk.take(self, message)
        self.until(
            lambda: any(m.told["kind"] in ("view", "error", "ended") for m in self.messages[before:]),
            f"an answer to {message}",
        )


class Room:
    """A record with one job, begun on the page or elsewhere, and its desk."""

    def __init__(
        self, home: Path, channel: Channel = Channel.PAGE, ear: Callable[[], Recogniser] | None = None
    ) -> None:
        self.record = home / "jobs.db"
        self.now_s = 1_000_000.0
        with open_journal(self.record) as journal:
            open_job(shipped(), journal, "one", channel, lambda: self.now_s)
        place = Place(self.record, home / "sounds", lambda _journal, _opened: shipped())
        self.desk = Desk(place, "one", Ears(ear or no_ear), taken_up=channel is Channel.PAGE, clock=lambda: self.now_s)

    def tab(self, holds: bool = False) -> KeptTab:
        tab = KeptTab(holds)
        tab.desk = self.desk
        self.desk.show(tab)
        tab.until(lambda: bool(tab.of("listening")), "the job")
        return tab

    @property
    def events(self) -> tuple[Event, ...]:
        with open_journal(self.record) as journal:
            return journal.events("one")


def no_ear() -> Recogniser:
    raise HearingError("There is no ear in this test.")
