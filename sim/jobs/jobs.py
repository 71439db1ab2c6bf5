"""Independent pieces of work, each leaving a folder: done in turn here, or by several workers.

A finished job's folder appears complete or not at all, under a name made from what the job is. So a run that was
interrupted is taken up again by doing only the jobs whose folders are missing, and a job that fails or whose worker
dies costs only itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from sim.jobs.job import Job, Outcome, Pool, drop_damaged, perform_here


def run_jobs(
    jobs: Sequence[Job],
    store: Path,
    pool: Pool | None = None,
    listener: Callable[[Outcome], None] | None = None,
) -> list[Outcome]:
    """Do every job whose folder is not in the store yet, or is damaged there.

    Parameters
    ----------
    store : folder that receives one folder a job.
    listener : called with each Outcome as it arrives.

    Returns
    -------
    One Outcome a job, in the order of the jobs.
    """
    pool = pool or Pool()
    for job in jobs:
        drop_damaged(store / job.key)
    found = {job.key: Outcome(job.name, store / job.key, reused=True) for job in jobs if (store / job.key).is_dir()}
    missing = list({job.key: job for job in jobs if job.key not in found}.values())
    perform = _performer(pool)
    for outcome in found.values():
        if listener:
            listener(outcome)
    for key, outcome in perform(missing, store, pool):
        found[key] = outcome
        if listener:
            listener(outcome)
    return [found[job.key] for job in jobs]


def _performer(pool: Pool) -> Callable[[list[Job], Path, Pool], Iterator[tuple[str, Outcome]]]:
    """Who does the jobs; what the others need is not even imported."""
    if pool.scheduler is not None:
        from sim.jobs import cluster

        return cluster.perform
    if pool.workers > 1:
        from sim.jobs import local_processes

        return local_processes.perform
    return perform_here
