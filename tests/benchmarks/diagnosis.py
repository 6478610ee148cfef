"""How long the diagnosis takes after an answer, in rehearsals through the real dialogue.

    python -m tests.benchmarks.diagnosis

`tests/benchmarks/README.md` tells what the figures mean.
"""

import argparse
import gc
import random
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from functools import wraps
from typing import Any, Final
from unittest.mock import patch

from tests.benchmarks.measuring import percentile
from voicetech import diagnosis
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.authoring.procedure_files import load_shipped
from voicetech.dialogue.given import Given
from voicetech.dialogue.reply import reply
from voicetech.electrical.appliance import Appliance, Setup, network_of
from voicetech.electrical.network import solve
from voicetech.events import Event
from voicetech.language.understand import understand
from voicetech.procedure import Procedure
from voicetech.rehearsal.appliance_at_hand import AtHand
from voicetech.rehearsal.rehearsal import Rehearsed, Visit
from voicetech.session import Session

PROCEDURE: Final = "electric-range-no-heat"
FAULTS: Final = (
    "bake-open",
    "pole-1-open",
    "plug-2-burnt",
    "receptacle-1-weak",
    "sensor-off-curve",
    "surface-208",
    "wye-supply",
    "supply-ground-open",
    "plug-2-burnt+surface-to-sheath-middle",
    "wiring-to-frame-2+surface-208",
)
"""Some that are soon found, those that took the longest, and two at once."""
MOST_MS: Final = 50.0
ASKED: Final = ("hypotheses", "next_test", "reasons", "suspects")
"""What the dialogue asks of the diagnosis."""
SOLVED_TIMES: Final = 25
COLD: Final = "cold"
AHEAD: Final = "ahead"
CONNECTION: Final = {"connection": "cord-4"}


@dataclass(slots=True)
class Clocked:
    """Seconds the diagnosis took after each answer of a job that it had to work on, in order."""

    took_s: list[float] = field(default_factory=list)

    @property
    def first_s(self) -> float:
        """Return what the first of them took, 0 where there is none."""
        return self.took_s[0] if self.took_s else 0.0

    @property
    def later_s(self) -> Sequence[float]:
        """Return what the others took."""
        return self.took_s[1:]


@dataclass(frozen=True, slots=True)
class Row:
    """A rehearsal: what was hidden, how it was prepared, its times, and those of one solved network, in seconds."""

    fault: str
    prepared: str
    clocked: Clocked
    solved_s: float


class Stopwatch:
    """Adds up the time spent in the outermost of nested calls, in seconds."""

    def __init__(self) -> None:
        self.spent_s = 0.0
        self._depth = 0

    def around(self, asked: Callable[..., object]) -> Callable[..., object]:
        """Return the same, timed."""

        @wraps(asked)
        def timed(*args: object, **kwargs: object) -> object:
            self._depth += 1
            started_s = time.perf_counter()
            try:
                return asked(*args, **kwargs)
            finally:
                self._depth -= 1
                if self._depth == 0:
                    self.spent_s += time.perf_counter() - started_s

        return timed


@contextmanager
def timed_diagnosis() -> Iterator[Stopwatch]:
    """Give a stopwatch that runs while the dialogue waits for the diagnosis."""
    watch = Stopwatch()
    with ExitStack() as patched:
        for name in ASKED:
            patched.enter_context(patch.object(diagnosis, name, watch.around(getattr(diagnosis, name))))
        yield watch


class ClockedVisit(Visit):
    """A visit on which the diagnosis is timed; the technician's own thinking is not."""

    def __init__(self, *about: Any, watch: Stopwatch) -> None:
        super().__init__(*about)
        self.watch = watch
        self.took_s: list[float] = []
        self.last_events: tuple[Event, ...] = ()

    def follow(self, before: Session, given: Given, events: tuple[Event, ...], after: Session) -> None:
        """Take what something given brought about, and keep it to be told."""
        self.last_events = events
        super().follow(before, given, events, after)

    def say(self, line: str) -> None:
        """Answer the open question, and look at the reply."""
        self.watch.spent_s = 0.0
        super().say(line)
        reply(self.procedure, self.session, self.last_events)
        if self.watch.spent_s > 0:
            self.took_s.append(self.watch.spent_s)


def clocked(procedure: Procedure, circuit: Appliance, fault: str, seed: int) -> Clocked:
    """Return how long the diagnosis took after each answer of one visit."""
    lexicon = load_lexicon()
    at_hand = AtHand(procedure, circuit, tuple(circuit.fault(name) for name in fault.split("+")), CONNECTION)
    with timed_diagnosis() as watch:
        visit = ClockedVisit(
            lambda line, asked: understand(line, asked, lexicon),
            at_hand,
            random.Random(seed),
            Rehearsed(),
            watch=watch,
        )
        visit.work()
    return Clocked(visit.took_s)


def solved_s(circuit: Appliance) -> float:
    """Return the seconds it takes to solve the network of the whole appliance once (the median of some)."""
    network = network_of(circuit, {}, (), Setup(live=True))
    took_s = []
    for _ in range(SOLVED_TIMES):
        started_s = time.perf_counter()
        solve(network)
        took_s.append(time.perf_counter() - started_s)
    return percentile(took_s, 0.5)


def rows(procedure: Procedure, circuit: Appliance, faults: Sequence[str], seed: int) -> Iterator[Row]:
    """Give each rehearsal twice: with nothing worked out before it, and after working ahead."""
    for fault in faults:
        for prepared in (COLD, AHEAD):
            fresh = replace(circuit, memory={})
            new = replace(procedure, circuit=fresh)
            if prepared == AHEAD:
                diagnosis.work_ahead(new)
            yield Row(fault, prepared, clocked(new, fresh, fault, seed), solved_s(fresh))


def told(row: Row) -> str:
    """Return a rehearsal as a line of the table."""
    later_s = row.clocked.later_s
    figures = [row.clocked.first_s, percentile(later_s, 0.5), percentile(later_s, 0.95), max(later_s, default=0.0)]
    times = " ".join(f"{each * 1e3:7.1f} {each / row.solved_s:6.0f}x" for each in figures)
    return f"{row.fault:32} {row.prepared:6} {len(row.clocked.took_s):5} {times}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Play the rehearsals and print the table; always 0, because a machine may be busy."""
    options = argparse.ArgumentParser(prog="python -m tests.benchmarks.diagnosis", description=__doc__)
    options.add_argument(
        "--fault", nargs="+", default=FAULTS, metavar="NAME", help="rehearse these, joined by + at once"
    )
    options.add_argument("--all", action="store_true", help="rehearse every fault")
    options.add_argument("--seed", type=int, default=0, help="repeats the same chance")
    given = options.parse_args(arguments)
    procedure = load_shipped(PROCEDURE)
    circuit = procedure.circuit
    assert circuit is not None
    for name in (part for fault in given.fault for part in fault.split("+")):
        if name not in {fault.id for fault in circuit.faults}:
            options.error(f"there is no fault {name!r}; voicetech rehearse --names lists them")
    # As a job at the keyboard or the microphone does once all is loaded.
    gc.collect()
    gc.freeze()
    # Faults that are not of a four-wire cord have no rehearsal here.
    everyone = [fault.id for fault in circuit.faults if fault.can_be(CONNECTION)]
    faults = everyone if given.all else given.fault
    write = sys.stdout.write
    write(f"{'':46} {'first turn':>15} {'median':>15} {'95th':>15} {'most':>15}\n")
    write(f"{'fault':32} {'':6} {'turns':>5} " + f"{'ms':>7} {'solved':>7} " * 4 + "\n")
    found: list[Row] = []
    for row in rows(procedure, circuit, faults, given.seed):
        found.append(row)
        write(told(row) + "\n")
        sys.stdout.flush()
    for prepared in (COLD, AHEAD):
        write(verdict([row for row in found if row.prepared == prepared], prepared) + "\n")
    solved_ms = percentile([row.solved_s for row in found], 0.5) * 1e3
    write(f"One solved network of the whole appliance takes {solved_ms:.2f} ms here.\n")
    return 0


def verdict(found: Sequence[Row], prepared: str) -> str:
    """Return whether every turn kept within the limit, in words."""
    every = [(took_s * 1e3, took_s / row.solved_s) for row in found for took_s in row.clocked.took_s]
    slow = sum(ms > MOST_MS for ms, _ in every)
    most_ms, most = max((ms for ms, _ in every), default=0.0), max((part for _, part in every), default=0.0)
    kept = f"all {len(every)} turns within" if not slow else f"{slow} of {len(every)} turns above"
    return f"{prepared}: {kept} {MOST_MS:.0f} ms; the most is {most_ms:.1f} ms, {most:.0f} solved networks."


if __name__ == "__main__":
    sys.exit(main())
