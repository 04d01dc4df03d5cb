"""Feeding parcels to the workers of a dask scheduler: as many in flight as there are workers, never more."""

from __future__ import annotations

import contextlib
import logging
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import TYPE_CHECKING, Any

from sitepipe.errors import SettingsError, SomeParcelsFailedError
from sitepipe.region.work import Outcome, Task, cells_beside_others, make_ready, work

if TYPE_CHECKING:
    from distributed import Client

CONFIG = {
    # A parcel that kills its worker is not handed on to kill the next: it is tried once more by itself, at the end.
    "distributed.scheduler.allowed-failures": 0,
    # No second parcel waits on a worker, so that none is blamed for what its neighbour did.
    "distributed.scheduler.worker-saturation": 1.0,
    "distributed.scheduler.work-stealing": False,
    "distributed.worker.profile.enabled": False,
    "distributed.worker.daemon": True,
    "distributed.logging.distributed": "error",
    # A worker that grows beyond its share is ended, never paused: nothing of a parcel can be put on a disk.
    "distributed.worker.memory.target": False,
    "distributed.worker.memory.spill": False,
    "distributed.worker.memory.pause": False,
    "distributed.worker.memory.terminate": 0.95,
    "distributed.comm.timeouts.connect": "30s",
}
LOCAL = "127.0.0.1:0"
Digests = Mapping[tuple[str, int, int], str]


class Crew:
    """The workers of one scheduler.

    Parameters
    ----------
    client : Client
    """

    def __init__(self, client: Client) -> None:
        self._client = client

    @property
    def hands(self) -> int:
        """How many parcels may be in flight."""
        return sum(self._client.nthreads().values())

    def feed(self, tasks: Iterable[Task], at_once: int, told: Callable[[Task, Outcome], None]) -> list[Task]:
        """Run parcels, a bounded number of them in flight.

        Parameters
        ----------
        tasks : iterable of Task
            Taken from as workers come free.
        at_once : int
        told : callable
            Called with each outcome as it comes.

        Returns
        -------
        list of Task
            Those whose worker died.
        """
        from distributed import as_completed
        from distributed.scheduler import KilledWorker

        coming = iter(tasks)
        killed: list[Task] = []
        of: dict[str, Task] = {}
        flight = as_completed(loop=self._client.loop)
        for task in islice(coming, at_once):
            flight.add(self._sent(task, of))
        for future in flight:
            task = of.pop(future.key)
            failure = future.exception() if future.status == "error" else None
            if future.status == "finished":
                told(task, future.result())
            elif isinstance(failure, KilledWorker):
                killed.append(task)
            else:
                raise SomeParcelsFailedError(
                    f"the scheduler gave parcel {task.key!r} up ({failure or future.status}). What is done is kept; "
                    "call it again for the rest"
                )
            future.release()
            for following in islice(coming, 1):
                flight.add(self._sent(following, of))
        return killed

    def _sent(self, task: Task, of: dict[str, Task]) -> Any:
        key = f"parcel-{task.folder.name}-{os.getpid()}"
        of[key] = task
        return self._client.submit(_work_here, task, key=key, retries=0, pure=False)


def _work_here(task: Task) -> Outcome:
    """Work in a worker of dask, within the memory that it may take."""
    from distributed import get_worker

    return work(task, cells_beside_others(get_worker().memory_manager.memory_limit or _memory()))


def _memory() -> float:
    return float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))


@contextlib.contextmanager
def local_crew(workers: int, digests: Digests) -> Iterator[Crew]:
    """Yield workers of this machine, each a process of one thread with an equal part of the memory."""
    distributed = _distributed()
    import dask

    with (
        dask.config.set(CONFIG),
        distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            # Nothing is shown over HTTP; what dask opens all the same is for this machine alone.
            scheduler_kwargs={"dashboard": False, "dashboard_address": LOCAL},
            worker_dashboard_address=LOCAL,
            silence_logs=logging.CRITICAL,
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as client,
    ):
        client.register_plugin(_readiness(digests, keeps_to_a_core=True))
        yield Crew(client)


@contextlib.contextmanager
def crew_at(address: str, digests: Digests) -> Iterator[Crew]:
    """Yield the workers of a scheduler that runs already.

    Raises
    ------
    SettingsError
        If nothing answers there, it has no workers, or a worker has more threads than one.
    """
    distributed = _distributed()
    import dask

    with contextlib.ExitStack() as stack:
        stack.enter_context(dask.config.set({"distributed.logging.distributed": "error"}))
        try:
            client = stack.enter_context(distributed.Client(address, timeout=10, set_as_default=False))
            client.wait_for_workers(1, timeout=60)
        except (OSError, ValueError, TimeoutError) as error:
            raise SettingsError(
                f"no scheduler with workers answers at {address} ({str(error) or type(error).__name__}). Start them "
                "first, or leave --scheduler out"
            ) from error
        for worker, threads in client.nthreads().items():
            if threads != 1:
                raise SettingsError(f"worker {worker} has {threads} threads. Start it with --nthreads 1")
        client.register_plugin(_readiness(digests, keeps_to_a_core=False))
        yield Crew(client)


def _readiness(digests: Digests, keeps_to_a_core: bool) -> Any:
    from distributed.diagnostics.plugin import WorkerPlugin

    class Readiness(WorkerPlugin):  # type: ignore[misc]
        """Prepares each worker before its first parcel, also one that comes later."""

        name = "sitepipe-readiness"

        def setup(self, worker: Any) -> None:
            number = worker.name if isinstance(worker.name, int) else None
            make_ready(digests, number if keeps_to_a_core else None)

    return Readiness()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError as error:
        raise SettingsError("many parcels need dask, which is not installed: pip install 'sitepipe[region]'") from error
    return distributed
