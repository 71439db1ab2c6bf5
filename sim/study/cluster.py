"""Jobs done by worker processes through Dask, on this machine or on a running cluster.

Each worker gets one job at a time, so a worker that dies takes nothing else with it, and as many threads as its
share of the processors. Results travel back as one archive, so that workers need no common disk.
"""

from __future__ import annotations

import io
import os
import tempfile
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from sim.results.store import write_folder
from sim.study.jobs import ClusterError, Job, Outcome, Pool, attempt, call

RETRIES = 1
"""How often a job is tried again on another worker after its worker died."""


def perform(jobs: list[Job], store: Path, pool: Pool) -> Iterator[tuple[str, Outcome]]:
    """Hand the jobs out and yield each key with its Outcome as it arrives."""
    if not jobs:
        return
    with _client(pool, len(jobs)) as client:
        threads = _threads(pool)
        waiting, running = list(jobs), _Running(client, threads)
        while waiting or running.count:
            while waiting and running.count < running.places:
                running.start(waiting.pop(0))
            job, packed, failure, spent = running.next()
            folder = store / job.key
            if not failure:
                failure = attempt(partial(_unpack, packed, folder))
            yield job.key, Outcome(job.name, None if failure else folder, failure, seconds=spent)


class _Running:
    """Jobs under way on a client's workers."""

    def __init__(self, client: Any, threads: int) -> None:
        from distributed import as_completed

        self.client, self.threads = client, threads
        self.places = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
        self.jobs: dict[Any, tuple[Job, float]] = {}
        self.arriving = as_completed()

    @property
    def count(self) -> int:
        return len(self.jobs)

    def start(self, job: Job) -> None:
        future = self.client.submit(do_packed, job, self.threads, pure=False)
        self.jobs[future] = (job, time.perf_counter())
        self.arriving.add(future)

    def next(self) -> tuple[Job, bytes, str, float]:
        """The next job that ended: itself, its archive or the reason it failed, and its seconds."""
        future = next(self.arriving)
        job, began = self.jobs.pop(future)
        spent = time.perf_counter() - began
        error = future.exception()
        if error is not None:
            return job, b"", f"its worker died ({type(error).__name__})", spent
        packed, failure = future.result()
        return job, packed, failure, spent


def do_packed(job: Job, threads: int) -> tuple[bytes, str]:
    """Do a job on a worker: the archive of its folder, and why it failed if it did."""
    import numba

    numba.set_num_threads(min(threads, numba.get_num_threads()))
    with tempfile.TemporaryDirectory(prefix="joistbay-") as place:
        folder = Path(place)
        failure = attempt(lambda: call(job, folder))
        return (b"" if failure else _pack(folder)), failure


def _pack(folder: Path) -> bytes:
    """Every file of a folder in one archive, and its empty folders."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for path in sorted(folder.rglob("*")):
            archive.write(path, path.relative_to(folder))
    return buffer.getvalue()


def _unpack(packed: bytes, folder: Path) -> None:
    def fill(part: Path) -> None:
        with zipfile.ZipFile(io.BytesIO(packed)) as archive:
            archive.extractall(part)

    write_folder(folder, fill, owned=())


def _threads(pool: Pool) -> int:
    """Threads for each local worker, so that all together do not exceed the processors."""
    return max(1, (os.cpu_count() or 1) // max(1, pool.workers))


def _connected(address: str) -> Any:
    """A client of the running cluster at an address."""
    from distributed import Client

    try:
        return Client(address, timeout="10s")
    except (OSError, ValueError, TypeError) as error:
        why = type(error).__name__
        raise ClusterError(f"{address}: no cluster answers there ({why}); check the address") from error


@contextmanager
def _client(pool: Pool, jobs: int) -> Iterator[Any]:
    """A client of the running cluster, or of local workers made for the occasion."""
    import dask
    from distributed import Client, LocalCluster

    if pool.scheduler is not None:
        with _connected(pool.scheduler) as client:
            yield client
        return
    settings = {"distributed.scheduler.allowed-failures": RETRIES, "logging.distributed": "critical"}
    options: dict[str, Any] = {
        "threads_per_worker": 1,
        "env": {"NUMBA_NUM_THREADS": str(_threads(pool))},
        "dashboard_address": None,
        "silence_logs": 50,
    }
    workers = min(pool.workers, jobs)
    with (
        dask.config.set(settings),
        LocalCluster(n_workers=workers, **options) as cluster,
        Client(cluster) as client,
    ):
        yield client
