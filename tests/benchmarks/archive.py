"""How long an archive of very many invented jobs takes to be listed, filtered, searched and counted.

    python -m tests.benchmarks.archive

`tests/benchmarks/README.md` tells what the figures mean.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from sqlalchemy import text

from tests.archive.invented import FAULTS, RARE, invented_jobs, rehearsed_job, summaries_of_rehearsals
from tests.archive.server import programs, running
from tests.benchmarks.measuring import percentile
from voicetech.archive.address import address_from, file_address
from voicetech.archive.keeping import keep
from voicetech.archive.local import archive_path, catch_up
from voicetech.archive.opening import Archive, open_archive
from voicetech.archive.pushing import push
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.summary.records import JobSummary

AT_ONCE: Final = 200
REHEARSED: Final = 60
ADDED: Final = 12
ROOT: Final = Path(__file__).parents[2]

ASKED: Final[tuple[tuple[str, tuple[str, ...]], ...]] = (
    ("list", ()),
    ("one outcome", ("--outcome", "repaired")),
    ("one fault", ("--fault", "bake-open")),
    ("complaint, part and a month", ("--complaint", "bake", "--part", "bake element", "--since", "2022-03-01",
                                     "--until", "2022-03-31")),
    ("part of a model number", ("--model", "M74")),
    ("a rare word", ("--about", RARE)),
    ("a common word", ("--about", "element")),
    ("two words", ("--about", "bake element")),
    ("two letters a word begins with", ("--about", "ba")),
    ("a word by the technician", ("--about", "looks good", "--by", "technician")),
    ("figures of one fault", ("--fault", "bake-open", "--figures")),
    ("figures of all", ("--figures",)),
)  # fmt: skip


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--jobs", type=int, default=100_000, help="invented jobs in the archive")
    parser.add_argument("--times", type=int, default=5, help="runs of each command")
    parser.add_argument("--only", choices=["sqlite", "postgresql"], help="one database only")
    given = parser.parse_args()
    _print(f"{given.jobs} invented jobs. No such job was ever done; each is as long as a rehearsed one.")
    with tempfile.TemporaryDirectory(prefix="vt-archive-") as folder, ExitStack() as stack:
        home = Path(folder)
        models = _measure_projection(home, given.jobs)
        if given.only != "postgresql":
            _measure_sqlite(home / "home", models, given.jobs, given.times)
        if given.only == "sqlite":
            return
        if programs() is None:
            _print("PostgreSQL is not measured: there is no server here (Debian: apt install postgresql).")
            return
        server = stack.enter_context(running())
        _measure_postgresql(home / "pushed", server.database(), models, given.jobs, given.times)


def _measure_projection(folder: Path, jobs: int) -> tuple[JobSummary, ...]:
    """Measure how fast summaries are made of real events; return some to make invented ones of."""
    home = folder / "rehearsed"
    home.mkdir()
    with open_journal(journal_path(home)) as journal:
        for number in range(REHEARSED):
            rehearsed_job(journal, f"rehearsed-{number:03}", FAULTS[number % len(FAULTS)], seed=number)
        with open_archive(file_address(archive_path(home))) as archive:
            took_s = _took(lambda: catch_up(journal, archive))
        events = [len(journal.stored(f"rehearsed-{number:03}")) for number in range(REHEARSED)]
    rate = REHEARSED / took_s
    _print(f"\nSummaries from events: {rate:.0f} jobs a second ({sum(events) / REHEARSED:.0f} events a job),")
    _print(f"so that {jobs} jobs are made anew in {jobs / rate / 60:.1f} min.")
    models_folder = folder / "models"
    models_folder.mkdir()
    return summaries_of_rehearsals(models_folder)


def _measure_sqlite(home: Path, models: Sequence[JobSummary], jobs: int, times: int) -> None:
    home.mkdir()
    with open_journal(journal_path(home)) as journal:
        rehearsed_job(journal, "rehearsed", FAULTS[0])
        record = journal.record_id
        with open_archive(file_address(archive_path(home))) as archive:
            catch_up(journal, archive)
            _fill(archive, record, models, jobs)
            added = _added(lambda number: rehearsed_job(journal, f"added-{number}", FAULTS[number % len(FAULTS)]))
            caught = [_took(lambda: catch_up(journal, archive)) for _ in added]
    size = sum(file.stat().st_size for file in home.glob("archive.db*"))
    _print(f"The file is {size / 1e6:.0f} MB, {size / jobs / 1000:.1f} kB a job.")
    _tell("catch up with one more job", caught)
    _tell_commands(home, (), times)


def _measure_postgresql(home: Path, address: str, models: Sequence[JobSummary], jobs: int, times: int) -> None:
    home.mkdir()
    to = address_from(address)
    with open_archive(to) as archive, open_journal(journal_path(home)) as journal:
        rehearsed_job(journal, "rehearsed", FAULTS[0])
        push(journal, archive, 0.0)
        _fill(archive, "other laptop", models, jobs)
        with archive.outside() as connection:
            connection.execute(text("VACUUM ANALYZE"))
            size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one()
        _print(f"The database is {size / 1e6:.0f} MB, {size / jobs / 1000:.1f} kB a job.")
        added = _added(lambda number: rehearsed_job(journal, f"added-{number}", FAULTS[number % len(FAULTS)]))
        pushed = [_took(lambda: push(journal, archive, 0.0)) for _ in added]
    _tell("push one more job with its events", pushed)
    _tell_commands(home, ("--archive", address), times)


def _added(add: Callable[[int], object]) -> Iterator[int]:
    for number in range(ADDED):
        add(number)
        yield number


def _fill(archive: Archive, record: str, models: Sequence[JobSummary], jobs: int) -> None:
    started_s = time.perf_counter()
    some: list[JobSummary] = []
    for number, summary in enumerate(invented_jobs(models, jobs), start=1):
        some.append(summary)
        if len(some) == AT_ONCE or number == jobs:
            with archive.writing() as connection:
                keep(connection, record, some)
            some = []
        if sys.stderr.isatty() and number % 1000 == 0:
            sys.stderr.write(f"\r{number} of {jobs}")
    if sys.stderr.isatty():
        sys.stderr.write("\r")
    took_s = time.perf_counter() - started_s
    _print(f"\n{archive.dialect}: filled with {jobs} jobs in {took_s:.0f} s ({jobs / took_s:.0f} a second)")


def _tell_commands(home: Path, where: Sequence[str], times: int) -> None:
    _print(f"\n  {'voicetech jobs, from the command to its end':56} {'median':>8} {'most':>8}")
    _tell("(voicetech --help, for the start of the program)", [_command(home, "--help") for _ in range(times)])
    for name, options in ASKED:
        _tell(f"{name}: {' '.join(options)}", [_command(home, "jobs", *options, *where) for _ in range(times)])


def _tell(name: str, took_s: Sequence[float]) -> None:
    _print(f"  {name:56} {percentile(took_s, 0.5):7.2f}s {max(took_s):7.2f}s")


def _print(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def _took(done: Callable[[], object]) -> float:
    started_s = time.perf_counter()
    done()
    return time.perf_counter() - started_s


def _command(home: Path, *arguments: str) -> float:
    environment = {**os.environ, "VOICETECH_HOME": str(home), "PYTHONPATH": str(ROOT), "COLUMNS": "120"}
    command = [sys.executable, "-m", "voicetech", *arguments]
    return _took(lambda: subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=True))


if __name__ == "__main__":
    main()
