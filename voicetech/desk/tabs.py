"""The tabs of the browser that show one job."""

from collections.abc import Iterator
from typing import Any, Protocol

from voicetech.desk.messages import ToPage


class Tab(Protocol):
    """One tab."""

    def send(self, message: ToPage) -> None:
        """Send it a message; may be called from any thread, and never waits."""


class Tabs:
    """All of them; may be told something from any thread."""

    def __init__(self) -> None:
        self._tabs: tuple[Tab, ...] = ()

    def __contains__(self, tab: object) -> bool:
        return tab in self._tabs

    def __iter__(self) -> Iterator[Tab]:
        return iter(self._tabs)

    def add(self, tab: Tab) -> None:
        """Send this tab too what follows."""
        self._tabs = (*self._tabs, tab)

    def remove(self, tab: Tab) -> None:
        """Send this tab nothing more."""
        self._tabs = tuple(each for each in self._tabs if each is not tab)

    def send(self, told: dict[str, Any]) -> None:
        """Send every tab a message."""
        message = ToPage(told)
        for tab in self._tabs:
            tab.send(message)

    def tell(self, words: str) -> None:
        """Tell every tab something about the program itself."""
        self.send({"kind": "told", "text": words})
