"""A few endings of the real program; `python -m tests.crash` makes hundreds of them."""

import random
from pathlib import Path

import pytest

from tests.crash.driving import Driver, Told
from tests.crash.endings import Ending, Written, endings, lose, unflushed

_EACH = 2


@pytest.mark.parametrize("ending", Ending, ids=lambda ending: ending.name.lower())
def test_nothing_acknowledged_is_lost_or_doubled(tmp_path: Path, ending: Ending) -> None:
    if ending not in endings():
        pytest.skip("strace is not installed; it is what ends a program inside a call to the system")
    told = Told()
    driver = Driver(tmp_path / "home", random.Random(ending.value), told)
    for _ in range(_EACH):
        driver.run_once(ending)
    assert told.endings == {ending.value: _EACH}
    assert told.acknowledged > 0


_TRACE = """\
12 pwrite64(5</records/jobs.db-wal>, ""..., 24, 4152) = 24
12 pwrite64(5</records/jobs.db-wal>, ""..., 4096, 4176) = 4096
12 fdatasync(5</records/jobs.db-wal>)         = 0
12 pwrite64(5</records/jobs.db-wal>, ""..., 24, 8272) = 24
12 pwrite64(6</records/jobs.db>, ""..., 4096, 0) = -1 ENOSPC (No space left on device)
12 write(1<pipe:[7]>, ""..., 20)           = 20
12 pwrite64(5</records/jobs.db-wal>, ""..., 4096, 8296) = ?
12 +++ killed by SIGKILL +++
"""


def test_what_was_not_flushed_is_told_by_the_trace() -> None:
    assert unflushed(_TRACE) == (Written(Path("/records/jobs.db-wal"), 8272, 24),)


def test_what_was_not_flushed_is_lost(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_bytes(b"kept and lost")
    chance = random.Random(3)
    lost = sum(lose([Written(file, 9, 4)], chance) for _ in range(8))
    assert lost > 0
    assert file.read_bytes() == b"kept and " + bytes(4)
