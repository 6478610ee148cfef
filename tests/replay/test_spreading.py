"""The same results on one core, on all of them, and on a cluster that loses a worker."""

import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pytest

from tests.cli.program import ROOT
from tests.replay.jobs import session_lines, typed_job
from voicetech.journal.place import journal_path
from voicetech.journal.store import open_journal
from voicetech.replay import Material, Replayed, material_of
from voicetech.replay.spreading import ClusterError, on_all_cores, on_cluster, one_by_one

JOBS = 6
_LONGEST_S = 60.0


@pytest.fixture(scope="module")
def materials(tmp_path_factory: pytest.TempPathFactory) -> list[Material]:
    home = tmp_path_factory.mktemp("home")
    lines = session_lines("danger-and-the-way-back")
    with open_journal(journal_path(home)) as journal:
        for number in range(JOBS):
            typed_job(journal, f"job-{number}", lines[: 5 + 4 * number])
        return [material_of(journal, f"job-{number}", "here") for number in range(JOBS)]


def test_all_cores_find_what_one_finds(materials: list[Material]) -> None:
    gathered = [partial(lambda m: m, material) for material in materials]
    expected = list(one_by_one(gathered, None, None))
    assert [done.job for done in expected] == [f"job-{number}" for number in range(JOBS)]
    assert all(done.exact for done in expected)
    assert list(on_all_cores(gathered, None, None)) == expected


@dataclass(slots=True)
class Cluster:
    """A scheduler and its workers, each a process of its own."""

    folder: Path
    processes: list["subprocess.Popen[bytes]"] = field(default_factory=list)

    def start(self, *arguments: str) -> "subprocess.Popen[bytes]":
        started = subprocess.Popen(
            [sys.executable, "-m", "dask", *arguments],
            cwd=self.folder,
            env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(ROOT), "HOME": str(self.folder)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.processes.append(started)
        return started

    def worker(self, address: str) -> "subprocess.Popen[bytes]":
        return self.start("worker", address, "--no-nanny", "--nthreads", "1", "--no-dashboard")


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    made = Cluster(tmp_path)
    yield made
    for process in made.processes:
        process.kill()
        process.wait()


def _scheduler(cluster: Cluster) -> str:
    import json

    file = cluster.folder / "scheduler.json"
    cluster.start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file))
    until_s = time.monotonic() + _LONGEST_S
    while not file.exists() or not file.read_text(encoding="utf-8").strip():
        assert time.monotonic() < until_s, "the scheduler did not start"
        time.sleep(0.1)
    return str(json.loads(file.read_text(encoding="utf-8"))["address"])


def test_a_cluster_finds_the_same_though_a_worker_is_lost(cluster: Cluster, materials: list[Material]) -> None:
    address = _scheduler(cluster)
    lost = cluster.worker(address)
    cluster.worker(address)
    _wait_for_workers(address, 2)
    gathered = [partial(lambda m: m, material) for material in materials]
    expected = list(one_by_one(gathered, None, None))
    found: list[Replayed] = []
    for done in on_cluster(gathered, None, None, address):
        if not found:
            lost.kill()
        found.append(done)
    assert found == expected


def test_no_cluster_and_no_workers_are_told(cluster: Cluster, materials: list[Material]) -> None:
    with pytest.raises(ClusterError, match="no cluster at"):
        list(on_cluster([lambda: materials[0]], None, None, "tcp://127.0.0.1:1"))
    address = _scheduler(cluster)
    with pytest.raises(ClusterError, match="has no workers"):
        list(on_cluster([lambda: materials[0]], None, None, address))


def _wait_for_workers(address: str, count: int) -> None:
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        client.wait_for_workers(count, timeout=_LONGEST_S)
