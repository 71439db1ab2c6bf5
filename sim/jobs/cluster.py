"""Jobs done by the workers of a running Dask cluster.

Each worker gets one job at a time, so a worker that dies takes nothing else with it. Results travel back as one
archive, so that workers need no common disk.
"""

from __future__ import annotations

import io
import time
import zipfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

from sim.jobs.job import ClusterError, Job, Outcome, Pool, Tried, attempt, call, outcome_of
from sim.machine.extras import what_to_install
from sim.machine.unfinished import passing_folder
from sim.store.whole_folder import write_folder


def perform(jobs: list[Job], store: Path, pool: Pool) -> Iterator[tuple[str, Outcome]]:
    """Hand the jobs out and yield each key with its Outcome as it arrives."""
    if not jobs:
        return
    with _connected(str(pool.scheduler)) as client:
        waiting, running = list(jobs), _Running(client)
        while waiting or running.count:
            while waiting and running.count < running.places:
                running.start(waiting.pop(0))
            job, packed, failure, spent = running.next()
            folder = store / job.key
            tried = Tried(failure) if failure else attempt(partial(_unpack, packed, folder))
            yield job.key, outcome_of(job, folder, tried, spent)


class _Running:
    """Jobs under way on a client's workers."""

    def __init__(self, client: Any) -> None:
        from distributed import as_completed

        self.client = client
        self.places = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
        self.jobs: dict[Any, tuple[Job, float]] = {}
        self.arriving = as_completed()

    @property
    def count(self) -> int:
        """Jobs under way."""
        return len(self.jobs)

    def start(self, job: Job) -> None:
        """Give a job to a worker; its seconds count from now on."""
        future = self.client.submit(do_packed, job, pure=False)
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


def do_packed(job: Job) -> tuple[bytes, str]:
    """Do a job on a worker: the archive of its folder, and why it failed if it did."""
    with passing_folder() as folder:
        failure = attempt(lambda: call(job, folder)).failure
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


def _connected(address: str) -> Any:
    """A client of the running cluster at an address."""
    if missing := what_to_install("distributed"):
        raise ClusterError(f"{address}: {missing}")
    from distributed import Client

    try:
        return Client(address, timeout="10s")
    except (OSError, ValueError, TypeError) as error:
        why = type(error).__name__
        raise ClusterError(f"{address}: no cluster answers there ({why}); check the address") from error
