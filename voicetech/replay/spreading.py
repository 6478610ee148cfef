"""Many jobs gone through at once: on this computer's cores, or on a cluster's workers. The results are the same."""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from typing import Final, Protocol

from voicetech import __version__
from voicetech.cores import cores, workers
from voicetech.replay.ear import Ear
from voicetech.replay.material import Material
from voicetech.replay.replayed import Replayed
from voicetech.replay.work import replay

AHEAD: Final = 3
"""How many jobs each worker may be ahead of the one that is waited for: their sounds are held in memory meanwhile."""
TRIES: Final = 3
"""How often a job is given to another worker of a cluster after its own was lost."""

_WAIT_S: Final = 5.0
"""How long a cluster is waited for (judgement, no source)."""

Gather = Callable[[], Material]
"""Reads one job's material, when its turn comes."""


class ClusterError(Exception):
    """The jobs cannot be gone through on that cluster; the message says why and what to do."""


def one_by_one(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None) -> Generator[Replayed]:
    """Yield what each job comes to, in this process."""
    for gather in gathered:
        yield replay(gather(), ear, procedure)


def on_all_cores(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None) -> Generator[Replayed]:
    """Yield what each job comes to, in their order, from a process for each core.

    The processes end at once where the caller goes no further, and leave Ctrl-C to it.
    """
    with workers(cores()) as working:

        def submit(material: Material) -> "Awaited":
            return working.submit(replay, material, ear, procedure)

        yield from _in_order(gathered, submit, cores() * AHEAD)


def on_cluster(gathered: Iterable[Gather], ear: Ear | None, procedure: str | None, address: str) -> Generator[Replayed]:
    """Yield what each job comes to, in their order, from the workers of a Dask cluster.

    A job whose worker is lost is given to another one. Raises ClusterError where there is no cluster at this address,
    it has no workers, or they have another voicetech than this one.
    """
    try:
        from distributed import Client
    except ImportError:
        raise ClusterError("Working on a cluster needs one package more: pip install 'voicetech[cluster]'") from None
    _check_address(address)
    try:
        client = Client(address, timeout=_WAIT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise ClusterError(_no_cluster(address, str(error))) from None
    with client:
        _check_workers(client.run(_version), address)

        def submit(material: Material) -> "Awaited":
            # Two jobs of the same events are two: without `pure` the second would be given the first one's result.
            future: Awaited = client.submit(replay, material, ear, procedure, pure=False, retries=TRIES)
            return future

        yield from _in_order(gathered, submit, len(client.nthreads()) * AHEAD)


def _check_address(address: str) -> None:
    """Raise ClusterError where nothing answers there: a client that was never connected cannot be ended quietly."""
    import asyncio

    from distributed import rpc

    async def asked() -> None:
        async with rpc(address) as scheduler:
            await asyncio.wait_for(scheduler.identity(), _WAIT_S)

    try:
        asyncio.run(asked())
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(_no_cluster(address, str(error) or "no answer")) from None
    except Exception:  # noqa: BLE001  whatever is there instead of a scheduler may answer anything
        raise ClusterError(_no_cluster(address, "what answers there is no scheduler")) from None


def _no_cluster(address: str, why: str) -> str:
    return f"There is no cluster at {address} ({why}). Name its scheduler, as in tcp://office:8786"


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
