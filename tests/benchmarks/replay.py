"""Jobs of a careful technician on ranges with a hidden fault, recorded and gone through again.

`python -m tests.benchmarks.replay [--faults N] [--seed N]` prints how many come out of their record exactly as they
were, and what going through them costs as a share of what working them cost.
"""

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from tests.replay.jobs import Clock
from voicetech.authoring.lexicon_files import load_lexicon
from voicetech.authoring.procedure_files import load_shipped
from voicetech.electrical.appliance import Fault
from voicetech.events import Channel
from voicetech.job import Job, open_job
from voicetech.journal.place import journal_path
from voicetech.journal.store import Journal, open_journal, open_to_read
from voicetech.procedure import Phase, Procedure
from voicetech.rehearsal.appliance_at_hand import AtHand, possible_faults
from voicetech.rehearsal.technician import answer
from voicetech.replay import Material, Replayed, material_of
from voicetech.replay.spreading import on_all_cores
from voicetech.session import Session
from voicetech.turn import Turn

PLATE = {"connection": "cord-4"}
MOST_ANSWERS = 400


def worked(journal: Journal, procedure: Procedure, fault: Fault, chance: random.Random) -> Job:
    """Return a job that a technician worked to its end on a range with this fault, all of it on record."""
    circuit = procedure.circuit
    if circuit is None:
        raise ValueError("the procedure has no circuit to put a fault in")
    at_hand = AtHand(procedure, circuit, (fault,), PLATE)
    job, _ = open_job(procedure, journal, fault.id, Channel.CHAT, Clock())
    for _ in range(MOST_ANSWERS):
        if job.closed:
            break
        if _repairs(procedure, job.session):
            at_hand = at_hand.without(job.session.proved)
        over = job.session.turn is Turn.HANDED_OVER
        job.typed("close the job" if over else answer(procedure, job.session, at_hand, chance))
    return job


def _repairs(procedure: Procedure, session: Session) -> bool:
    at = session.at
    return at is not None and procedure.section(at.section).phase is Phase.REPAIR


def gathered(record: Path) -> Iterator[partial[Material]]:
    """Yield what reads the material of each job in a record."""
    with open_to_read(record) as journal:
        names = [line.job for line in journal.jobs()]
    yield from (partial(_material, record, name) for name in names)


def _material(record: Path, job: str) -> Material:
    with open_to_read(record) as journal:
        return material_of(journal, job, record.name)


def main() -> int:
    """Run the benchmark; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.replay", description=__doc__)
    parser.add_argument("--faults", type=int, default=1000, help="how many of the range's faults, all by default")
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    procedure = load_shipped("electric-range-no-heat")
    load_lexicon()
    chance = random.Random(arguments.seed)
    assert procedure.circuit is not None
    with tempfile.TemporaryDirectory() as folder:
        record = journal_path(Path(folder))
        faults = possible_faults(procedure.circuit, PLATE)[: arguments.faults]
        began_s = time.perf_counter()
        with open_journal(record) as journal:
            for fault in faults:
                worked(journal, procedure, fault, chance)
        worked_s = time.perf_counter() - began_s
        began_s = time.perf_counter()
        done = list(on_all_cores(gathered(record), None, None))
        replayed_s = time.perf_counter() - began_s
        size = record.stat().st_size
    sys.stdout.write(in_words(done, worked_s, replayed_s, size))
    return 0 if all(each.exact for each in done) else 1


def in_words(done: list[Replayed], worked_s: float, replayed_s: float, size_bytes: int) -> str:
    """Return what was found."""
    turns = sum(each.turns for each in done)
    exact = sum(each.exact for each in done)
    lines = [
        f"{len(done)} jobs, {turns} turns, {sum(each.events for each in done)} events, {size_bytes / 1e6:.1f} MB: "
        f"{exact} jobs come out exactly as they were.",
        f"Worked in {worked_s:.1f} s on one core (their flushes included), gone through again in {replayed_s:.1f} s on "
        f"all: {turns / replayed_s:.0f} turns a second, {replayed_s / worked_s:.2f} x the time of working them.",
    ]
    lines += [f"  {each.job}: {each.damaged[:1]} {each.differences[:1]}" for each in done if not each.exact]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main())
