"""Many jobs gone through at once: on this computer's cores, or on a cluster's workers. The results are the same."""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Final, Protocol

from voicetech import __version__
from voicetech.replay.ear import Ear
from voicetech.replay.material import Material
from voicetech.replay.replayed import Replayed
from voicetech.replay.work import replay

AHEAD: Final = 3
"""How many jobs each worker may be ahead of the one that is waited for: their sounds are held in memory meanwhile."""
TRIES: Final = 3
"""How often a job is given to another worker of a cluster after its own was lost."""

Gather = Callable[[], Material]
"""Reads one job's material, when its turn comes."""


class ClusterError(Exception):
    """The jobs cannot be gone through on that cluster; the message says why and what to do."""


def one_by_one(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None) -> Iterator[Replayed]:
    """Yield what each job comes to, in this process."""
    for gather in gathered:
        yield replay(gather(), ear, procedure)


def on_all_cores(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None) -> Iterator[Replayed]:
    """Yield what each job comes to, in their order, from a process for each core."""
    cores = os.cpu_count() or 1
    # A fresh process each: one that is forked holds the parent's threads' locks for ever.
    with ProcessPoolExecutor(cores, mp_context=get_context("spawn")) as pool:
        yield from _in_order(gathered, lambda material: pool.submit(replay, material, ear, procedure), cores * AHEAD)


def on_cluster(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None, address: str) -> Iterator[Replayed]:
    """Yield what each job comes to, in their order, from the workers of a Dask cluster.

    A job whose worker is lost is given to another one. Raises ClusterError where there is no cluster at this address,
    it has no workers, or they have another voicetech than this one.
    """
    try:
        from distributed import Client
    except ImportError:
        raise ClusterError("Working on a cluster needs one package more: pip install 'voicetech[cluster]'") from None
    try:
        client = Client(address, timeout="5s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(
            f"There is no cluster at {address} ({error}). Name its scheduler, as in tcp://office:8786"
        ) from None
    with client:
        _check_workers(client.run(_version), address)

        def submit(material: Material) -> "Awaited":
            # Two jobs of the same events are two: without `pure` the second would be given the first one's result.
            future: Awaited = client.submit(replay, material, ear, procedure, pure=False, retries=TRIES)
            return future

        yield from _in_order(gathered, submit, len(client.nthreads()) * AHEAD)


class Awaited(Protocol):
    """A job that is being gone through somewhere."""

    def result(self) -> Replayed:
        """Return what it came to, when it is done."""


def _in_order(gathered: Iterable[Gather], submit: Callable[[Material], Awaited], most: int) -> Iterator[Replayed]:
    waiting: deque[Awaited] = deque()
    for gather in gathered:
        waiting.append(submit(gather()))
        if len(waiting) >= most:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


def _version() -> str:
    return __version__


def _check_workers(versions: dict[str, str], address: str) -> None:
    if not versions:
        raise ClusterError(f"The cluster at {address} has no workers. Start some: dask worker {address}")
    others = {worker: version for worker, version in versions.items() if version != __version__}
    if others:
        told = ", ".join(f"{worker} has {version}" for worker, version in others.items())
        raise ClusterError(f"The workers need voicetech {__version__}, and {told}. Install it there.")
