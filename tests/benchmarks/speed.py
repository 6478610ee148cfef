"""How long what a user waits for takes, as multiples of a fixed amount of work, all side by side in one run.

    python -m tests.benchmarks.speed

`tests/benchmarks/README.md` tells what the figures mean.
"""

import argparse
import cProfile
import gc
import os
import pstats
import resource
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import median
from typing import Final

import numpy as np

from tests.archive.invented import invented_jobs, rehearsed_job, summaries_of_rehearsals
from tests.benchmarks.diagnosis import clocked
from tests.demo_job import clip, turns
from voicetech.archive.address import file_address
from voicetech.archive.keeping import keep
from voicetech.archive.listing import Filters, jobs_listed
from voicetech.archive.local import archive_path
from voicetech.archive.opening import open_archive
from voicetech.authoring.advice import ADVICE
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.authoring.procedure_files import checked, load_procedure, load_shipped
from voicetech.authoring.shipped import shipped_folder
from voicetech.events import Channel
from voicetech.hearing.ears import open_ear
from voicetech.hearing.sound_file import whole_utterance
from voicetech.job import Job, open_job
from voicetech.journal.place import journal_path
from voicetech.journal.sounds import save_sound
from voicetech.journal.store import open_journal
from voicetech.language.understand import understand
from voicetech.proof.sections import walk_sections
from voicetech.replay import material_of
from voicetech.replay.work import replay
from voicetech.reports.writing import Form, job_facts, rendered
from voicetech.talking import heard_for

PROCEDURE: Final = "electric-range-no-heat"
CHECKED: Final = "electric-water-heater-no-heat"
FAULT: Final = "bake-open"
SPOKEN: Final = 24
"""Turns of the recorded job that a round hears: they have words, numbers, a spelled model and all six pairs."""
LISTED: Final = 2_000
ROUNDS: Final = 5
BARE: Final = "Python started, nothing else"
_SLOWEST: Final = 3
_LOOPS: Final = 60_000
_NUMBERS: Final = 50_000
_TIMES: Final = 10
_ROOT: Final = Path(__file__).parents[2]


@dataclass(slots=True)
class Clock:
    """Adds up processor time in sections of a longer work, and counts them."""

    spent_s: float = 0.0
    units: int = 0

    @contextmanager
    def running(self) -> Iterator[None]:
        """Count what is done within as one unit, by the processor time of this process."""
        began_s = time.process_time()
        yield
        self.spent_s += time.process_time() - began_s
        self.units += 1


@dataclass(frozen=True, slots=True)
class Part:
    """Something that a user waits for: one round of it, in units."""

    name: str
    unit: str
    once: Callable[[Clock], None]


@dataclass(slots=True)
class Times:
    """What a part took in each round, by unit, and what the fixed work took directly before it."""

    took_s: list[float] = field(default_factory=list)
    fixed_s: list[float] = field(default_factory=list)

    @property
    def unit_s(self) -> float:
        """Return the median of a unit."""
        return median(self.took_s)

    @property
    def ratio(self) -> float:
        """Return the median of a unit as a multiple of the fixed work beside it."""
        return median(took / fixed for took, fixed in zip(self.took_s, self.fixed_s, strict=True))


def fixed_work() -> float:
    """Return the processor time of an amount of work that no change to the program changes: Python and numpy."""
    began_s = time.process_time()
    counted: dict[int, int] = {}
    for number in range(_LOOPS):
        counted[number & 1023] = counted.get(number & 1023, 0) + number % 7
    # Nothing of it is spread over threads, whose waiting for each other would count as work.
    numbers = np.arange(_NUMBERS, dtype=np.float64)
    for _ in range(_TIMES):
        numbers = np.sort(np.sin(numbers) * _NUMBERS)
    return time.process_time() - began_s


class Parts:
    """Everything that is measured, made ready once."""

    def __init__(self, folder: Path) -> None:
        """Make a record with a job, an archive with many, and an ear, in this folder."""
        self._folder = folder
        self._procedure = load_shipped(PROCEDURE)
        self._lexicon = load_lexicon()
        self._ear = open_ear(None)
        self._ear.warm_up()
        self._turns = turns()
        self._numbers = iter(range(1_000_000))
        self._utterances = [whole_utterance(clip(turn)) for turn in self._turns[:SPOKEN]]
        self._home = folder / "home"
        self._home.mkdir()
        self._record = journal_path(self._home)
        with open_journal(self._record) as journal:
            rehearsed_job(journal, "rehearsed", FAULT)
            self._material = material_of(journal, "rehearsed", "record")
            self._events = len(journal.events("rehearsed"))
        models = folder / "models"
        models.mkdir()
        with open_archive(file_address(archive_path(folder))) as archive, archive.writing() as connection:
            keep(connection, "record", list(invented_jobs(summaries_of_rehearsals(models), LISTED)))

    def all(self) -> tuple[Part, ...]:
        """Return them in the order of a round."""
        return (
            Part("a spoken turn, sound to reply", "turn", self._spoken),
            Part("of it hearing (decoding)", "turn", self._heard),
            Part("a typed turn", "turn", self._typed),
            Part("parsing of an answer", "answer", self._parsed),
            Part("diagnosis after an answer", "answer", self._diagnosed),
            Part("replay", "event", self._replayed),
            Part("a procedure loaded", "procedure", self._loaded),
            Part("a procedure checked", "procedure", self._checked),
            Part("its sections proved", "section", self._proved),
            Part(f"a list of {LISTED} jobs opened", "list", self._listed),
            Part("a report as a page", "report", self._page),
            Part("a report as a PDF", "report", self._pdf),
            Part(BARE, "start", lambda clock: self._started(clock, "-c", "pass")),
            Part("voicetech --help", "start", lambda clock: self._started(clock, "-m", "voicetech", "--help")),
            Part("voicetech jobs", "start", lambda clock: self._started(clock, "-m", "voicetech", "jobs")),
            Part("voicetech chat, to the first answer", "start", self._chat),
        )

    @property
    def sound_s(self) -> float:
        """Return the seconds of sound in an utterance."""
        return sum(len(each.samples) / 16_000 for each in self._utterances) / len(self._utterances)

    @contextmanager
    def _job(self) -> Iterator[Job]:
        home = self._folder / f"job-{next(self._numbers)}"
        home.mkdir()
        with open_journal(journal_path(home)) as journal:
            yield open_job(self._procedure, journal, "one", Channel.VOICE, lambda: 1_000_000.0)[0]

    def _spoken(self, clock: Clock) -> None:
        sounds = self._folder / "sounds"
        with self._job() as job:
            for utterance in self._utterances:
                with clock.running():
                    heard = heard_for(job, self._ear, utterance)
                    job.heard(heard, Channel.VOICE, save_sound(sounds, utterance.samples))

    def _heard(self, clock: Clock) -> None:
        with self._job() as job:
            for utterance in self._utterances:
                with clock.running():
                    heard = heard_for(job, self._ear, utterance)
                job.heard(heard, Channel.VOICE)

    def _typed(self, clock: Clock) -> None:
        with self._job() as job:
            for turn in self._turns:
                with clock.running():
                    job.typed(turn.say)

    def _parsed(self, clock: Clock) -> None:
        with self._job() as job:
            for turn in self._turns:
                asked = job.question
                with clock.running():
                    understand(turn.say, asked, self._lexicon)
                job.typed(turn.say)

    def _diagnosed(self, clock: Clock) -> None:
        circuit = self._procedure.circuit
        assert circuit is not None
        fresh = replace(circuit, memory={})
        told = clocked(replace(self._procedure, circuit=fresh), fresh, FAULT, 0)
        clock.spent_s, clock.units = sum(told.took_s), len(told.took_s)

    def _replayed(self, clock: Clock) -> None:
        with clock.running():
            assert replay(self._material).exact
        clock.units = self._events

    def _loaded(self, clock: Clock) -> None:
        with clock.running():
            load_procedure(shipped_folder("dialogs") / f"{PROCEDURE}.yaml")

    def _checked(self, clock: Clock) -> None:
        with clock.running():
            checked(shipped_folder("dialogs") / f"{CHECKED}.yaml", ADVICE)

    def _proved(self, clock: Clock) -> None:
        procedure = load_shipped(CHECKED)
        with clock.running():
            walk_sections(procedure)
        clock.units = len(procedure.sections)

    def _listed(self, clock: Clock) -> None:
        with clock.running(), open_archive(file_address(archive_path(self._folder))) as archive:
            jobs_listed(archive, Filters(), 50)

    def _page(self, clock: Clock) -> None:
        self._written(clock, Form.PAGE)

    def _pdf(self, clock: Clock) -> None:
        self._written(clock, Form.PDF)

    def _written(self, clock: Clock, form: Form) -> None:
        with open_journal(self._record) as journal, clock.running():
            rendered(job_facts(journal, self._procedure, "rehearsed"), form)

    def _chat(self, clock: Clock) -> None:
        self._started(clock, "-m", "voicetech", "chat", "--procedure", PROCEDURE, typed="no\n")

    def _started(self, clock: Clock, *arguments: str, typed: str = "") -> None:
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        # As installed: the first round, which is not counted, leaves the bytecode.
        bytecode = {"PYTHONPYCACHEPREFIX": str(self._folder / "bytecode"), "PYTHONPATH": str(_ROOT)}
        environment = {**kept, **bytecode, "VOICETECH_HOME": str(self._home)}
        before_s = _children_s()
        subprocess.run(
            [sys.executable, *arguments], env=environment, input=typed, text=True, capture_output=True, check=True
        )
        clock.spent_s += _children_s() - before_s
        clock.units += 1


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def measured(parts: Sequence[Part], rounds: int) -> dict[str, Times]:
    """Return what every part took, the parts in turn in every round, after a round that is not counted."""
    times = {part.name: Times() for part in parts}
    for number in range(rounds + 1):
        for part in parts:
            gc.collect()
            clock = Clock()
            fixed_s = fixed_work()
            part.once(clock)
            if number:
                times[part.name].took_s.append(clock.spent_s / clock.units)
                times[part.name].fixed_s.append((fixed_s + fixed_work()) / 2)
            if sys.stderr.isatty():
                sys.stderr.write(f"\r{number} of {rounds}: {part.name:40}")
    return times


def where_time_goes(part: Part) -> Iterator[tuple[str, float]]:
    """Give the packages in which a round of a part spends its own time, and the share of each."""
    profile = cProfile.Profile()
    profile.runcall(part.once, Clock())
    spent: dict[str, float] = defaultdict(float)
    for (file, _, name), (_, _, own_s, _, _) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        spent[_package(file, name)] += own_s
    total_s = sum(spent.values())
    yield from ((name, own_s / total_s) for name, own_s in sorted(spent.items(), key=lambda item: -item[1]))


def _package(file: str, name: str) -> str:
    parts = Path(file).parts
    for place in ("site-packages", "voicetech"):
        if place in parts:
            at = parts.index(place)
            inside = parts[at + 1 : at + 2] if place == "site-packages" else parts[at : at + 2]
            return ".".join(inside).removesuffix(".py")
    return "built into Python" if file == "~" else "the standard library"


def told(part: Part, times: Times, sound_s: float, bare_s: float | None) -> str:
    """Return a part as a line of the table; `bare_s` is what Python takes to start."""
    of_sound = f"{times.unit_s / sound_s:.3f} of the sound's length" if "decoding" in part.name else ""
    of_bare = f"{times.unit_s / bare_s:.1f} of Python" if bare_s and part.unit == "start" else ""
    a_second = f"{1 / times.unit_s:,.0f} a second" if part.unit in ("event", "answer") else ""
    beside = of_sound or of_bare or a_second
    return f"{part.name:36} {times.unit_s * 1e3:10.2f} {times.ratio:9.3f}  a {part.unit:10} {beside}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print; always 0, because a machine may be busy."""
    options = argparse.ArgumentParser(prog="python -m tests.benchmarks.speed", description=__doc__)
    options.add_argument("--rounds", type=int, default=ROUNDS, help="rounds that are counted")
    options.add_argument("--only", nargs="+", metavar="WORD", help="parts whose names have one of these words")
    options.add_argument("--where", action="store_true", help="where the time of each part goes, not of the slowest")
    given = options.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        made = Parts(Path(folder))
        parts = [part for part in made.all() if not given.only or any(word in part.name for word in given.only)]
        times = measured(parts, given.rounds)
        bare_s = times[BARE].unit_s if BARE in times else None
        write = sys.stdout.write
        write(f"{'':36} {'ms':>10} {'of fixed':>9}\n")
        for part in parts:
            write(told(part, times[part.name], made.sound_s, bare_s).rstrip() + "\n")
        fixed_s = median(each for one in times.values() for each in one.fixed_s)
        write(f"The fixed work takes {fixed_s * 1e3:.1f} ms here; all times are processor time.\n")
        inside = [part for part in parts if part.unit != "start"]
        slowest = sorted(inside, key=lambda part: -times[part.name].unit_s)[: None if given.where else _SLOWEST]
        for part in slowest:
            write(f"\nwhere the time goes: {part.name}\n")
            for name, share in list(where_time_goes(part))[:8]:
                write(f"  {share:5.0%}  {name}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
