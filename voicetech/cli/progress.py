"""How far a long piece of work has come, on standard error, so that a list may be piped."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import TracebackType
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

_WORTH_SHOWING = 50
"""Pieces from which on a bar is shown (judgement, no source)."""


class Bar:
    """A bar that comes up by itself where there is much to do, on a terminal only."""

    def __init__(self, words: str) -> None:
        self._words = words
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __call__(self, done: int, of: int) -> None:
        """Show that so many are done, of so many."""
        if self._bar is None:
            if of < _WORTH_SHOWING or not sys.stderr.isatty():
                return
            self._open(of)
        if self._bar is not None and self._task is not None:
            self._bar.update(self._task, completed=done, total=of)

    def _open(self, of: int) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (TextColumn(self._words), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        self._bar = Progress(*columns, console=Console(stderr=True), transient=True)
        self._bar.start()
        self._task = self._bar.add_task(self._words, total=of)

    def close(self) -> None:
        """Take the bar away; safe to call twice."""
        if self._bar is not None:
            self._bar.stop()
            self._bar = None


@contextmanager
def counted(words: str) -> Iterator[Bar]:
    """Give a bar that is taken away at the end."""
    with Bar(words) as bar:
        yield bar


@contextmanager
def at_work(words: str) -> Iterator[None]:
    """Show on a terminal that something takes its time."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(words):
        yield
