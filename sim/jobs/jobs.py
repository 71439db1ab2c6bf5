"""Independent pieces of work, each leaving a folder: done in turn here, or by several workers.

A finished job's folder appears complete or not at all, under a name made from what the job is. So a run that was
interrupted is taken up again by doing only the jobs whose folders are missing, and a job that fails or whose worker
dies costs only itself.
"""

from __future__ import annotations

import hashlib
import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.machine.gate import was_interrupted
from sim.store.ours import is_whole, write_list
from sim.store.run_folder import write_folder

if TYPE_CHECKING:
    from sim.jobs.hands import StandingCrew


class ClusterError(Exception):
    """No cluster answers at the address given; the message names it."""


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of work: `function(*arguments, folder=...)` writes its results into an empty folder.

    `function` lives at the top of a module, so that a worker can import it; `identity` is a text that differs
    whenever the work differs.
    """

    name: str
    function: Callable[..., None]
    arguments: tuple[Any, ...]
    identity: str

    @property
    def key(self) -> str:
        """Name of its folder."""
        return hashlib.sha256(f"{self.function.__qualname__}\n{self.identity}".encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a job: its folder, or why it failed; `reused` when an earlier run had done it."""

    name: str
    folder: Path | None
    failure: str = ""
    reused: bool = False
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Pool:
    """Who does the work: this process (one worker), several local processes, or a running cluster at an address.

    Local processes of a crew stay there for the next jobs of the same store.
    """

    workers: int = 1
    scheduler: str | None = None
    crew: StandingCrew | None = None

    @property
    def is_local(self) -> bool:
        """Whether everything is done in this process."""
        return self.workers <= 1 and self.scheduler is None


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
        from sim.jobs import hands

        return hands.perform
    return perform_here


def perform_here(jobs: list[Job], store: Path, pool: Pool | None = None) -> Iterator[tuple[str, Outcome]]:
    """Do the jobs in this process, one after the other; yield each key with its Outcome."""
    for job in jobs:
        began, folder = time.perf_counter(), store / job.key
        failure = attempt(partial(write_folder, folder, partial(call, job), owned=()))
        spent = time.perf_counter() - began
        yield job.key, Outcome(job.name, None if failure else folder, failure, seconds=spent)


def call(job: Job, folder: Path) -> None:
    """Do a job into an empty folder, which then lists its files."""
    job.function(*job.arguments, folder=folder)
    write_list(folder)


def drop_damaged(folder: Path) -> None:
    """Forget a finished job whose files are not as they were written: it is done anew."""
    if folder.is_dir() and not is_whole(folder):
        shutil.rmtree(folder, ignore_errors=True)


def attempt(work: Callable[[], object]) -> str:
    """Do some work; the reason why it failed, empty when it did not.

    A failure that Ctrl-C made, as it does where it strikes a compiled call, is an interruption and no failure.
    """
    try:
        work()
    except Exception as error:
        if was_interrupted(error):
            raise KeyboardInterrupt from error
        return f"{type(error).__name__}: {str(error).strip() or 'no reason given'}"
    return ""
