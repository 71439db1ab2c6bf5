"""A piece of work that leaves a folder, what became of it, and who does it; done here, one after the other."""

from __future__ import annotations

import errno
import hashlib
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from sim.machine.gate import was_interrupted
from sim.store.own_folders import is_whole, write_list
from sim.store.whole_folder import write_folder

if TYPE_CHECKING:
    from sim.jobs.crew import StandingCrew


REFUSALS = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EROFS})
"""Errors by which a disk says that it takes no more."""


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
    """What became of a job: its folder, or why it failed.

    `reused` when an earlier run had done it, `refused` when the disk of the store took no more.
    """

    name: str
    folder: Path | None
    failure: str = ""
    reused: bool = False
    seconds: float = 0.0
    refused: bool = False


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


Perform = Callable[[list[Job], Path, Pool], Iterator[tuple[str, Outcome]]]
"""Does jobs into folders of a store, and yields each key with its Outcome as it arrives."""


class Tried(NamedTuple):
    """How some work went: why it failed, empty when it did not, and whether a disk took no more."""

    failure: str = ""
    refused: bool = False


def perform_here(jobs: list[Job], store: Path, pool: Pool | None = None) -> Iterator[tuple[str, Outcome]]:
    """Do the jobs in this process, one after the other; yield each key with its Outcome."""
    for job in jobs:
        began, folder = time.perf_counter(), store / job.key
        tried = attempt(partial(write_folder, folder, partial(call, job), owned=()))
        yield job.key, outcome_of(job, folder, tried, time.perf_counter() - began)


def outcome_of(job: Job, folder: Path, tried: Tried, seconds: float = 0.0) -> Outcome:
    """What became of a job that was to leave a folder, after some seconds."""
    return Outcome(job.name, None if tried.failure else folder, tried.failure, False, seconds, tried.refused)


def call(job: Job, folder: Path) -> None:
    """Do a job into an empty folder, which then lists its files."""
    job.function(*job.arguments, folder=folder)
    write_list(folder)


def drop_damaged(folder: Path) -> None:
    """Forget a finished job whose files are not as they were written: it is done anew."""
    if folder.is_dir() and not is_whole(folder):
        shutil.rmtree(folder, ignore_errors=True)


def attempt(work: Callable[[], object]) -> Tried:
    """Do some work, and tell how it went.

    A failure that Ctrl-C made, as it does where it strikes a compiled call, is an interruption and no failure.
    """
    try:
        work()
    except Exception as error:
        if was_interrupted(error):
            raise KeyboardInterrupt from error
        return Tried(f"{type(error).__name__}: {str(error).strip() or 'no reason given'}", _is_refusal(error))
    return Tried()


def _is_refusal(error: BaseException | None) -> bool:
    """Whether an error, or one that it was raised from, is a disk's."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in REFUSALS:
            return True
        error = error.__cause__
    return False
