"""Jobs that a technician worked on a range with a fault come out of their record as they were."""

import random
from pathlib import Path

from tests.benchmarks.replay import PLATE, gathered, in_words, worked
from tests.dialogue.talker import shipped
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.rehearsal.appliance_at_hand import possible_faults
from voicetech.replay.spreading import one_by_one


def test_worked_and_gone_through_again(tmp_path: Path) -> None:
    circuit = shipped().circuit
    assert circuit is not None
    faults = {fault.id: fault for fault in possible_faults(circuit, PLATE)}
    with open_journal(journal_path(tmp_path)) as journal:
        for name in ("bake-open-hot", "service-neutral-open"):
            job = worked(journal, shipped(), faults[name], random.Random(1))
            assert job.closed
            assert job.session.outcome in ("repaired", "handed over")
    done = list(one_by_one(gathered(journal_path(tmp_path)), None, None))
    assert len(done) == 2
    assert all(each.exact for each in done), done
    assert "2 jobs come out exactly as they were" in in_words(done, 2.0, 1.0, 1_000_000)
