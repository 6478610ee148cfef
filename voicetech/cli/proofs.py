"""Procedures proved, each in a process of its own where there are several; how far each has come is told meanwhile."""

import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import wait
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicetech.cores import workers

if TYPE_CHECKING:
    from concurrent.futures import Future
    from multiprocessing.queues import SimpleQueue

    from voicetech.proof.proving import Proof

_LOOK_S: Final = 0.2
"""How often it is looked how far the processes have come."""


@dataclass(frozen=True, slots=True)
class Come:
    """How far the proof of a procedure has come."""

    procedure: str
    states: int = 0
    left: int = 0
    moves: int = 0
    over: bool = False


@dataclass(frozen=True, slots=True)
class Proved:
    """What came of a procedure's proof; None where it has mistakes that come first, and then how many."""

    path: Path
    proof: "Proof | None"
    findings: int
    took_s: float


Tell = Callable[[Come], None]


def proved(path: Path, tell: Tell) -> Proved:
    """Return what came of proving the procedure in this process."""
    from voicetech.authoring.findings import ProcedureFindings
    from voicetech.authoring.procedure_files import load_procedure
    from voicetech.proof import proving

    name = path.stem
    began_s = time.monotonic()
    tell(Come(name))
    try:
        procedure = load_procedure(path)
    except ProcedureFindings as error:
        return Proved(path, None, len(error.findings), time.monotonic() - began_s)
    else:
        found = proving.prove(procedure, lambda states, left, moves: tell(Come(name, states, left, moves)))
        return Proved(path, found, 0, time.monotonic() - began_s)
    finally:
        tell(Come(name, over=True))


def all_proved(paths: Sequence[Path], cores: int, tell: Tell) -> Generator[Proved]:
    """Yield what came of each proof, in their order, from so many processes; from this one where that is one."""
    if min(len(paths), cores) == 1:
        yield from (proved(path, tell) for path in paths)
        return
    come: SimpleQueue[Come] = get_context("spawn").SimpleQueue()
    with workers(min(len(paths), cores), _tell_through, come) as working:
        for each in [working.submit(_proved_apart, path) for path in paths]:
            yield _awaited(each, come, tell)


def _awaited(result: "Future[Proved]", come: "SimpleQueue[Come]", tell: Tell) -> Proved:
    while not wait((result,), timeout=_LOOK_S).done:
        while not come.empty():
            tell(come.get())
    return result.result()


_telling: list[Tell] = []
"""In a process that proves for another one: how it tells that one how far it has come."""


def _tell_through(come: "SimpleQueue[Come]") -> None:
    _telling.append(come.put)


def _proved_apart(path: Path) -> Proved:
    return proved(path, _telling[-1])
