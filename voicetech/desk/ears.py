"""The one ear that all jobs of the page share: it takes a second to open, and hears one job at a time."""

import threading
from collections.abc import Callable

from voicetech.hearing.errors import HearingError
from voicetech.hearing.recogniser import Recogniser


class Ears:
    """Lends the ear to one job after the other; opened when it is first asked for."""

    def __init__(self, open_one: Callable[[], Recogniser]) -> None:
        self._open_one = open_one
        self._recogniser: Recogniser | None = None
        self._lent_to: object | None = None
        self._lock = threading.Lock()

    def lend(self, borrower: object) -> Recogniser:
        """Return the ear, opened. Raises HearingError where it cannot be, or while another job has it."""
        with self._lock:
            if self._lent_to is not None and self._lent_to is not borrower:
                raise HearingError("The microphone is on at another job. Turn it off there first.")
            if self._recogniser is None:
                opened = self._open_one()
                opened.warm_up()
                self._recogniser = opened
            self._lent_to = borrower
            return self._recogniser

    def give_back(self, borrower: object) -> None:
        """Let another job have the ear."""
        with self._lock:
            if self._lent_to is borrower:
                self._lent_to = None
