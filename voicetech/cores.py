"""Work on all of this computer's cores, in processes of which Ctrl-C and the end of the caller's work leave none."""

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import active_children, get_context, parent_process
from typing import ParamSpec, TypeVar

_Given = ParamSpec("_Given")
_Result = TypeVar("_Result")


class Workers:
    """Processes that take work, each one thing at a time."""

    def __init__(self, pool: ProcessPoolExecutor) -> None:
        self._pool = pool

    def submit(self, do: Callable[_Given, _Result], *given: _Given.args, **named: _Given.kwargs) -> "Future[_Result]":
        """Give something to do to the process that is free next; return where its result will be."""
        with _ctrl_c_later():
            return self._pool.submit(do, *given, **named)


@contextmanager
def workers(count: int, first: Callable[..., None] | None = None, *given: object) -> Iterator[Workers]:
    """Give so many processes, each of which does `first` with what is given to it before anything else.

    They end at once where the caller goes no further, and leave Ctrl-C to it.
    """
    # A fresh process each: one that is forked holds the parent's threads' locks for ever.
    pool = ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_begin, initargs=(first, given))
    try:
        yield Workers(pool)
    except BaseException:
        given_out = getattr(pool, "_call_queue", None)
        pool.shutdown(wait=False, cancel_futures=True)
        for worker in active_children():
            worker.terminate()
        _read_no_more(given_out)
        raise
    finally:
        pool.shutdown()


def _read_no_more(queue: object) -> None:
    """Let what is still being written to processes that are gone fail, as later Pythons do themselves.

    In Python 3.11.2 the thread that writes waits for room for ever, because this process could read it too, and the end
    of the program waits for that thread.
    """
    reader = getattr(queue, "_reader", None)
    if reader is not None:
        reader.close()


def cores() -> int:
    """Return how many cores this computer has."""
    return os.cpu_count() or 1


def _begin(first: Callable[..., None] | None, given: tuple[object, ...]) -> None:
    # Ctrl-C goes by in a process that works for another one, which is told too and says so once.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_the_caller, name="end with the caller", daemon=True).start()
    if first is not None:
        first(*given)


def _end_with_the_caller() -> None:
    """Wait for the process that this one works for; where it was ended from outside it could not say so."""
    caller = parent_process()
    if caller is not None:
        caller.join()
        os._exit(1)


@contextmanager
def _ctrl_c_later() -> Iterator[None]:
    """Hold Ctrl-C back while a process is begun: it would break it off before it can leave Ctrl-C to others.

    The process that is begun inherits that it is blocked. In this one another thread may be told of it, so that it is
    kept by a handler too, and comes when the process is begun.
    """
    if threading.current_thread() is not threading.main_thread() or not hasattr(signal, "pthread_sigmask"):
        yield
        return
    struck: list[int] = []
    usual = signal.signal(signal.SIGINT, lambda number, _frame: struck.append(number))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        signal.signal(signal.SIGINT, signal.SIG_DFL if usual is None else usual)
        if struck:
            signal.raise_signal(signal.SIGINT)
