"""The desks of all jobs that somebody has open on the page."""

import threading
from collections.abc import Callable

from voicetech.desk.at_work import Place
from voicetech.desk.desk import Desk
from voicetech.desk.ears import Ears
from voicetech.hearing.recogniser import Recogniser


class Desks:
    """One desk for each job, from when it is first shown; may be used from any thread."""

    def __init__(self, place: Place, open_ear: Callable[[], Recogniser]) -> None:
        self._place = place
        self._ears = Ears(open_ear)
        self._desks: dict[str, Desk] = {}
        self._lock = threading.Lock()

    def begun(self, job: str) -> None:
        """Give a job that was begun on the page its desk."""
        with self._lock:
            self._desks[job] = Desk(self._place, job, self._ears, taken_up=True)

    def of(self, job: str) -> Desk:
        """Return the job's desk; one that was left is set up again."""
        with self._lock:
            desk = self._desks.get(job)
            if desk is None or desk.ended:
                desk = self._desks[job] = Desk(self._place, job, self._ears, taken_up=False)
            return desk

    def end(self, why: str) -> None:
        """Tell all tabs why the program ends, and let go of every job."""
        with self._lock:
            for desk in self._desks.values():
                desk.end(why)
