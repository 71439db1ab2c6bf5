"""Independent pieces of work, each leaving a folder: done in turn here, or by several workers.

A finished job's folder appears complete or not at all, under a name made from what the job is. So a run that was
interrupted is taken up again by doing only the jobs whose folders are missing, and a job that fails or whose worker
dies costs only itself. Where the disk takes no more, folders of the jobs that are left pass with this process.
"""

from __future__ import annotations

import atexit
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from sim.jobs.job import Job, Outcome, Perform, Pool, drop_damaged, perform_here
from sim.machine.remarks import Remark
from sim.machine.unfinished import drop_temporary, temporary_folder


def run_jobs(
    jobs: Sequence[Job],
    store: Path,
    pool: Pool | None = None,
    listener: Callable[[Outcome], None] | None = None,
    perform: Perform | None = None,
) -> list[Outcome]:
    """Do every job whose folder is not in the store yet, or is damaged there.

    Parameters
    ----------
    store : folder that receives one folder a job.
    listener : called with each Outcome as it arrives.
    perform : who does the jobs that are left; by the pool where it is not given.

    Returns
    -------
    One Outcome a job, in the order of the jobs.
    """
    pool = pool or Pool()
    for job in jobs:
        drop_damaged(store / job.key)
    found = {job.key: Outcome(job.name, store / job.key, reused=True) for job in jobs if (store / job.key).is_dir()}
    missing = list({job.key: job for job in jobs if job.key not in found}.values())
    for outcome in found.values():
        if listener:
            listener(outcome)
    for key, outcome in _performed(missing, store, pool, perform or _performer(pool)):
        found[key] = outcome
        if listener:
            listener(outcome)
    return [found[job.key] for job in jobs]


def _performed(jobs: Sequence[Job], store: Path, pool: Pool, perform: Perform) -> Iterator[tuple[str, Outcome]]:
    """Each key with its Outcome; from the first that the disk refuses on, in a folder that passes with this process."""
    left = {job.key: job for job in jobs}
    for key, outcome in perform(list(jobs), store, pool):
        spare = _spare(store) if outcome.refused else None
        if spare:
            break
        del left[key]
        yield key, outcome
    else:
        return
    yield from perform(list(left.values()), spare, replace(pool, crew=None))


def _spare(store: Path) -> Path | None:
    """A folder in the machine's temporary folder, gone with this process; None where that takes nothing either."""
    with suppress(OSError):
        spare = temporary_folder()
        atexit.register(drop_temporary, spare)
        warnings.warn(
            Remark(f"{store} takes no more: what is solved from now on is not there to be taken up again"), stacklevel=2
        )
        return spare
    return None


def _performer(pool: Pool) -> Perform:
    """Who does the jobs; what the others need is not even imported."""
    if pool.scheduler is not None:
        from sim.jobs import cluster

        return cluster.perform
    if pool.workers > 1:
        from sim.jobs import local_processes

        return local_processes.perform
    return perform_here
